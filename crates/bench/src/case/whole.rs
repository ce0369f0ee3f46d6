//! A new case folder that appears whole or not at all: filled beside its place, then renamed.

use std::{
    fs, io,
    path::{Path, PathBuf},
};

use super::{BadInput, turn::LOCK_FILE};

/// Lets `fill` write everything into a folder beside `folder`, which then takes its name. `folder` must be absent or empty.
///
/// # Errors
/// When it is occupied or cannot be written, and those of `fill`; nothing is left behind then.
pub fn write(folder: &Path, fill: impl FnOnce(&Path) -> anyhow::Result<()>) -> anyhow::Result<()> {
    refuse_occupied(folder)?;
    let parent = match folder.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    };
    let unwritable = |e: io::Error| BadInput::unwritable(folder, &e);
    fs::create_dir_all(&parent).map_err(unwritable)?;
    let beside = folder_beside(&parent).map_err(unwritable)?;
    fill(beside.path())?;
    // Nobody else knows of this folder yet: no turn had to be waited for.
    match fs::remove_file(beside.path().join(LOCK_FILE)) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(unwritable(e)),
        _ => {}
    }
    // An empty folder makes way; `remove_dir` refuses any other.
    if folder.exists() {
        fs::remove_dir(folder).map_err(unwritable)?;
    }
    fs::rename(beside.path(), folder).map_err(unwritable)?;
    // Nothing is left to be removed at the old name.
    let _ = beside.keep();
    Ok(())
}

/// Says at once that a place is taken, before anything takes time.
///
/// # Errors
/// When it is.
pub fn refuse_occupied(folder: &Path) -> anyhow::Result<()> {
    let remedy = "give a new or empty folder";
    match fs::read_dir(folder).map(|mut entries| entries.next().is_none()) {
        Ok(true) => Ok(()),
        Ok(false) => Err(BadInput::at(folder, "", "the folder is not empty", remedy)),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        Err(e) if e.kind() == io::ErrorKind::NotADirectory => Err(BadInput::at(folder, "", "not a folder", remedy)),
        Err(e) => Err(BadInput::unwritable(folder, &e)),
    }
}

fn folder_beside(parent: &Path) -> io::Result<tempfile::TempDir> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".joulemark-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new folder: the user's mask applies.
        builder.permissions(fs::Permissions::from_mode(0o777));
    }
    builder.tempdir_in(parent)
}
