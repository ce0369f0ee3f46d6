//! What is on the shelf, by words of the name and of the rails.

use std::{fs, time::SystemTime};

use super::Shelf;
use crate::case::BadInput;

/// A drawing on the shelf, in its newest version.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The drawing's folder on the shelf.
    pub id: String,
    /// Newest version.
    pub version: u32,
    /// The drawing's name.
    pub name: String,
    /// Names of its faces.
    pub faces: Vec<String>,
    /// How many parts it has.
    pub parts: usize,
    /// Names of its rails.
    pub rails: Vec<String>,
    /// When that version was put there, by the file.
    pub saved: Option<SystemTime>,
}

impl Shelf {
    /// All drawings by name, and one line for each that cannot be read.
    ///
    /// # Errors
    /// A folder that cannot be read. A folder that is not there yet is an empty shelf.
    pub fn list(&self) -> anyhow::Result<(Vec<Entry>, Vec<String>)> {
        let (mut entries, mut damaged) = (Vec::new(), Vec::new());
        let folders = match fs::read_dir(&self.folder) {
            Ok(folders) => folders,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => return Ok((entries, damaged)),
            Err(e) => return Err(BadInput::unreadable(&self.folder, &e)),
        };
        for folder in folders {
            let folder = folder.map_err(|e| BadInput::unreadable(&self.folder, &e))?;
            let Ok(id) = folder.file_name().into_string() else { continue };
            if id.starts_with('.') || !folder.path().is_dir() {
                continue;
            }
            let Some(version) = self.versions(&id)?.last().copied() else { continue };
            match self.load(&id, Some(version)) {
                Ok(board) => entries.push(Entry {
                    saved: fs::metadata(self.file(&id, version)).and_then(|m| m.modified()).ok(),
                    id,
                    version,
                    faces: board.faces.iter().map(|f| f.name.clone()).collect(),
                    parts: board.faces.iter().map(|f| f.parts.len()).sum(),
                    rails: board.rails.iter().map(|r| r.name.clone()).collect(),
                    name: board.name,
                }),
                Err(error) => damaged.push(error.to_string()),
            }
        }
        entries.sort_by(|a, b| (a.name.to_lowercase(), &a.id).cmp(&(b.name.to_lowercase(), &b.id)));
        damaged.sort();
        Ok((entries, damaged))
    }

    /// Drawings that hold every word in their name or in the name of one of their rails, whatever the case; those whose
    /// name holds them all first.
    ///
    /// # Errors
    /// As [`Shelf::list`].
    pub fn search(&self, words: &str) -> anyhow::Result<Vec<Entry>> {
        let (entries, _) = self.list()?;
        Ok(matching(&entries, words).into_iter().cloned().collect())
    }
}

/// Of a list, those that [`Shelf::search`] would find.
pub fn matching<'a>(entries: &'a [Entry], words: &str) -> Vec<&'a Entry> {
    let words: Vec<String> = words.split_whitespace().map(str::to_lowercase).collect();
    let in_name = |e: &Entry, w: &String| e.name.to_lowercase().contains(w);
    let mut found: Vec<&Entry> = entries
        .iter()
        .filter(|e| words.iter().all(|w| in_name(e, w) || e.rails.iter().any(|r| r.to_lowercase().contains(w))))
        .collect();
    found.sort_by_key(|e| !words.iter().all(|w| in_name(e, w)));
    found
}
