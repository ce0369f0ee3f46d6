//! The board shelf: drawings kept in the user's data folder, to be used again for the next device of the same kind.
//!
//! One folder per drawing, one numbered `board.json` per version; versions are never overwritten. No screen here.

mod search;
#[cfg(test)]
mod tests;

pub use search::{Entry, matching};

use std::{
    env, fs,
    io::{self, Write},
    path::{Path, PathBuf},
};

use joulemark_locate::board::Board;

use crate::{
    board_files::export,
    case::{BadInput, board_file},
};

/// Names a folder that is used instead of the user's data folder.
pub const SHELF_VARIABLE: &str = "JOULEMARK_SHELF";

/// The shelf in one folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shelf {
    folder: PathBuf,
}

/// A version of a drawing that was put on the shelf.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Saved {
    /// The drawing's folder on the shelf.
    pub id: String,
    /// Counted from 1.
    pub version: u32,
    /// False when the newest version was this very drawing already, so that nothing was written.
    pub written: bool,
}

impl Shelf {
    /// The folder that the variable names, else `boards` in the user's data folder.
    ///
    /// # Errors
    /// The system names no data folder.
    pub fn of_user() -> anyhow::Result<Self> {
        if let Some(folder) = env::var_os(SHELF_VARIABLE).filter(|f| !f.is_empty()) {
            return Ok(Self::at(folder));
        }
        let folders = directories::ProjectDirs::from("", "", "joulemark").ok_or_else(|| {
            BadInput::flag(
                "board shelf",
                "the system names no folder for data",
                format!("set {SHELF_VARIABLE} to a folder"),
            )
        })?;
        Ok(Self::at(folders.data_dir().join("boards")))
    }

    /// A shelf in a folder, which is made when something is saved.
    pub fn at(folder: impl Into<PathBuf>) -> Self {
        Self { folder: folder.into() }
    }

    /// Where it is.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Saves a drawing as the next version of the drawing with its name.
    ///
    /// # Errors
    /// A drawing that does not pass its check, or a folder that cannot be written.
    pub fn save(&self, board: &Board) -> anyhow::Result<Saved> {
        if board.name.trim().is_empty() {
            return Err(BadInput::flag("board shelf", "the drawing has no name", "name it first"));
        }
        board.check().map_err(|e| BadInput::flag("board shelf", format!("{}: {}", e.place, e.problem), e.remedy))?;
        let id = self.id_for(&board.name)?;
        let folder = self.folder.join(&id);
        fs::create_dir_all(&folder).map_err(|e| BadInput::unwritable(&folder, &e))?;
        let newest = self.versions(&id)?.last().copied();
        if let Some(version) = newest
            && self.load(&id, Some(version)).is_ok_and(|old| old == *board)
        {
            return Ok(Saved { id, version, written: false });
        }
        let text = export::board_json(board)?;
        let mut version = newest.unwrap_or(0);
        loop {
            version += 1;
            let file = folder.join(file_name(version));
            match write_new(&file, text.as_bytes()) {
                Ok(()) => return Ok(Saved { id, version, written: true }),
                // Another window saved at the same moment.
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists && version < u32::MAX - 1 => {}
                Err(e) => return Err(BadInput::unwritable(&file, &e)),
            }
        }
    }

    /// The file of a version.
    pub fn file(&self, id: &str, version: u32) -> PathBuf {
        self.folder.join(id).join(file_name(version))
    }

    /// Reads a version of a drawing, the newest by default.
    ///
    /// # Errors
    /// No such drawing or version, or a file that was damaged.
    pub fn load(&self, id: &str, version: Option<u32>) -> anyhow::Result<Board> {
        let folder = self.folder.join(id);
        // An id is a folder's name, never a path out of the shelf.
        if id.is_empty() || Path::new(id).components().count() != 1 || id.starts_with('.') || !folder.is_dir() {
            return Err(BadInput::at(
                &folder,
                "",
                "there is no such drawing on the shelf",
                "choose one that is listed",
            ));
        }
        let version = match version {
            Some(version) => version,
            None => *self
                .versions(id)?
                .last()
                .ok_or_else(|| BadInput::at(&folder, "", "the drawing has no version", "delete this empty folder"))?,
        };
        board_file::read(&folder.join(file_name(version)))
    }

    /// Versions of a drawing, oldest first.
    ///
    /// # Errors
    /// A folder that cannot be read.
    pub fn versions(&self, id: &str) -> anyhow::Result<Vec<u32>> {
        let folder = self.folder.join(id);
        let mut versions = Vec::new();
        for entry in fs::read_dir(&folder).map_err(|e| BadInput::unreadable(&folder, &e))? {
            let name = entry.map_err(|e| BadInput::unreadable(&folder, &e))?.file_name();
            versions.extend(name.to_str().and_then(version_of));
        }
        versions.sort_unstable();
        Ok(versions)
    }

    /// The folder of the drawing with that name: the known one, or a free one.
    fn id_for(&self, name: &str) -> anyhow::Result<String> {
        let base = slug(name);
        for count in 1.. {
            let id = if count == 1 { base.clone() } else { format!("{base}-{count}") };
            if !self.folder.join(&id).exists() || self.versions(&id)?.is_empty() {
                return Ok(id);
            }
            // A newest version that cannot be read is not built upon.
            if self.load(&id, None).is_ok_and(|b| b.name == name) {
                return Ok(id);
            }
        }
        Ok(base)
    }
}

/// Written beside, flushed, then given its name, unless that exists.
fn write_new(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = file.parent().unwrap_or(Path::new("."));
    let mut beside = tempfile::Builder::new().prefix(".joulemark-").suffix(".part").tempfile_in(folder)?;
    beside.write_all(bytes)?;
    beside.as_file().sync_all()?;
    beside.persist_noclobber(file).map_err(|e| e.error)?;
    // The name reaches the disk with the folder. Not every system lets a folder be opened for that.
    if let Ok(opened) = fs::File::open(folder) {
        let _ = opened.sync_all();
    }
    Ok(())
}

fn file_name(version: u32) -> String {
    format!("{version:04}.json")
}

fn version_of(name: &str) -> Option<u32> {
    let digits = name.strip_suffix(".json")?;
    let plain = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
    plain.then(|| digits.parse().ok()).flatten().filter(|v| file_name(*v) == name)
}

/// A folder's name that every system takes, from a drawing's name.
fn slug(name: &str) -> String {
    let mut slug = String::new();
    for c in name.to_lowercase().chars().take(60) {
        if c.is_alphanumeric() {
            slug.push(c);
        } else if !slug.ends_with('-') && !slug.is_empty() {
            slug.push('-');
        }
    }
    let slug = slug.trim_end_matches('-');
    let reserved = ["con", "prn", "aux", "nul"].contains(&slug)
        || ["com", "lpt"]
            .iter()
            .any(|p| slug.strip_prefix(p).is_some_and(|n| n.len() == 1 && n.bytes().all(|b| b.is_ascii_digit())));
    if slug.is_empty() || reserved { format!("board-{slug}").trim_end_matches('-').to_owned() } else { slug.to_owned() }
}
