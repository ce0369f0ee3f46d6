//! Finding the case folders of a library: any folder with a `case.ron` in it, whatever the shop calls its shelves.

use std::{
    collections::BTreeMap,
    fs, io,
    path::{Path, PathBuf},
};

use crate::case::{BadInput, CASE_FILE};

/// Case folders may stand this deep, such as `2026/march/0417`; deeper ones are not looked for, so that a link in a circle
/// ends.
const DEEPEST: usize = 4;

/// The case folders below `library`: name with `/` between folders, and the place itself, in the order of their names.
///
/// # Errors
/// When the library itself cannot be read. A folder inside that cannot be read is left out.
pub fn case_folders(library: &Path) -> anyhow::Result<BTreeMap<String, PathBuf>> {
    let mut found = BTreeMap::new();
    look(shallow(library)?, "", 1, &mut found);
    Ok(found)
}

/// Whether the library can be read at all, and what lies in it.
pub fn shallow(library: &Path) -> anyhow::Result<fs::ReadDir> {
    fs::read_dir(library).map_err(|e| {
        let problem = match e.kind() {
            io::ErrorKind::NotFound => "there is no such folder".to_owned(),
            _ => e.to_string(),
        };
        BadInput::at(library, "", problem, "give the library's folder with --library, or mount its share")
    })
}

fn look(entries: fs::ReadDir, within: &str, depth: usize, found: &mut BTreeMap<String, PathBuf>) {
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        // Hidden ones are half-written cases, or somebody else's.
        if name.starts_with('.') {
            continue;
        }
        let path = entry.path();
        let relative = if within.is_empty() { name } else { format!("{within}/{name}") };
        if path.join(CASE_FILE).is_file() {
            found.insert(relative, path);
        } else if depth < DEEPEST
            && let Ok(inside) = fs::read_dir(&path)
        {
            look(inside, &relative, depth + 1, found);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cases_are_found_on_any_shelf_and_half_written_ones_are_not() {
        let library = tempfile::tempdir().unwrap();
        let make = |name: &str| {
            let folder = library.path().join(name);
            fs::create_dir_all(&folder).unwrap();
            fs::write(folder.join(CASE_FILE), "()").unwrap();
        };
        for name in ["0417", "2026/march/0418", ".joulemark-x.part", "0417/copy", "a/b/c/d/e"] {
            make(name);
        }
        fs::write(library.path().join("notes.txt"), "").unwrap();
        let found: Vec<String> = case_folders(library.path()).unwrap().into_keys().collect();
        assert_eq!(found, ["0417", "2026/march/0418"]);
        let message = case_folders(&library.path().join("absent")).unwrap_err().to_string();
        assert!(message.contains("there is no such folder"), "{message}");
    }
}
