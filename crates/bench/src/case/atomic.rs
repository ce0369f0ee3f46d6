//! Writing beside and renaming, so that a crash or a full disk leaves the old file whole.

use std::{
    fs::{self, File},
    io::{self, Write},
    path::Path,
};

/// Replaces `file` by `bytes`: written to a temporary file beside it, flushed to the disk, then renamed.
///
/// # Errors
/// Whatever the system says; the old file is untouched then.
pub fn write(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let folder = match file.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".joulemark-").suffix(".part");
    let permissions = permissions_for(file);
    if let Some(permissions) = permissions {
        builder.permissions(permissions);
    }
    let mut beside = builder.tempfile_in(folder)?;
    beside.write_all(bytes)?;
    beside.as_file().sync_all()?;
    beside.persist(file).map_err(|e| e.error)?;
    // The rename itself reaches the disk with the folder. Not every system lets a folder be opened for that.
    if let Ok(opened) = File::open(folder) {
        let _ = opened.sync_all();
    }
    Ok(())
}

/// Those of the file that is replaced; otherwise what any newly created file gets (temporary files alone would be
/// private to the user, and a shared case folder unreadable to colleagues).
fn permissions_for(file: &Path) -> Option<fs::Permissions> {
    if let Ok(meta) = fs::metadata(file) {
        return Some(meta.permissions());
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        Some(fs::Permissions::from_mode(0o666))
    }
    #[cfg(not(unix))]
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn replaces_whole_and_leaves_nothing_beside() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("case.ron");
        write(&file, b"long old content").unwrap();
        write(&file, b"new").unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"new");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_missing_folder_is_an_error() {
        let folder = tempfile::tempdir().unwrap();
        assert!(write(&folder.path().join("absent").join("x"), b"").is_err());
    }
}
