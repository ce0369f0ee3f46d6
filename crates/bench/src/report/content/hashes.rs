//! SHA-256 (FIPS 180-4) of the files that a report was made from, so that nobody can change them unseen.

use std::{
    fs,
    io::{self, Read},
    path::{Path, PathBuf},
};

use joulemark_frames::{FramesError, Progress};
use sha2::{Digest, Sha256};

use crate::case::{BadInput, CaseFolder, case_log::CASE_LOG};

/// Read in pieces of this size.
const PIECE_BYTES: usize = 1 << 20;

/// A file, or a folder of frames, with its digest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hashed {
    /// What it is to the case.
    pub what: String,
    /// Its path as the case has it.
    pub name: String,
    /// Its size in bytes.
    pub bytes: u64,
    /// SHA-256 in hexadecimal, or why there is none.
    pub digest: String,
    /// For a folder: how many files.
    pub files: Option<usize>,
}

/// The case file, its log, the drawing, and each take's frames and log, each file once.
///
/// # Errors
/// When the work is cancelled. A file that cannot be read is listed as such.
pub fn of_case(folder: &CaseFolder, progress: &dyn Progress) -> anyhow::Result<Vec<Hashed>> {
    let case = &folder.case;
    let mut files: Vec<(String, String, PathBuf)> = vec![("case".into(), "case.ron".into(), folder.file())];
    let log = folder.folder.join(CASE_LOG);
    if log.exists() {
        files.push(("case log".into(), CASE_LOG.into(), log));
    }
    let mut add = |what: String, path: &Path| {
        if !path.as_os_str().is_empty() && files.iter().all(|(_, name, _)| *name != path.to_string_lossy()) {
            files.push((what, path.to_string_lossy().into_owned(), folder.resolve(path)));
        }
    };
    add("board".into(), &case.board);
    for take in &case.takes {
        add(format!("frames of {}", take.name), &take.frames);
        if let Some(log) = &take.log {
            add(format!("log of {}", take.name), log);
        }
    }
    let total = files.len();
    let mut hashed = Vec::new();
    for (i, (what, name, path)) in files.into_iter().enumerate() {
        progress.report("hashing files", i, total);
        hashed.push(hash(what, name, &path, progress)?);
    }
    Ok(hashed)
}

fn hash(what: String, name: String, path: &Path, progress: &dyn Progress) -> anyhow::Result<Hashed> {
    let done =
        if path.is_dir() { of_folder(path, progress) } else { of_file(path, progress).map(|(d, b)| (d, b, None)) };
    match done {
        Ok((digest, bytes, files)) => Ok(Hashed { what, name, bytes, digest, files }),
        Err(_) if progress.cancelled() => Err(FramesError::Cancelled.into()),
        Err(error) => {
            let digest = BadInput::unreadable(path, &error).to_string();
            Ok(Hashed { what, name, bytes: 0, digest, files: None })
        }
    }
}

fn of_file(path: &Path, progress: &dyn Progress) -> io::Result<(String, u64)> {
    let mut file = fs::File::open(path)?;
    let mut hasher = Sha256::new();
    let mut piece = vec![0; PIECE_BYTES];
    let mut bytes = 0;
    loop {
        if progress.cancelled() {
            return Err(io::ErrorKind::Interrupted.into());
        }
        match file.read(&mut piece)? {
            0 => return Ok((hex(&hasher.finalize()), bytes)),
            n => {
                hasher.update(&piece[..n]);
                bytes += n as u64;
            }
        }
    }
}

/// Of the lines `DIGEST  NAME` of its files in the order of their names' bytes: what `sha256sum * | sha256sum` prints in the
/// folder where the locale sorts by bytes.
fn of_folder(path: &Path, progress: &dyn Progress) -> io::Result<(String, u64, Option<usize>)> {
    let mut names: Vec<std::ffi::OsString> = fs::read_dir(path)?
        .filter_map(|entry| entry.ok().filter(|e| e.path().is_file()).map(|e| e.file_name()))
        .filter(|name| !name.to_string_lossy().starts_with('.'))
        .collect();
    names.sort();
    let mut hasher = Sha256::new();
    let mut sum = 0;
    for name in &names {
        let (digest, bytes) = of_file(&path.join(name), progress)?;
        hasher.update(format!("{digest}  {}\n", name.to_string_lossy()));
        sum += bytes;
    }
    Ok((hex(&hasher.finalize()), sum, Some(names.len())))
}

fn hex(digest: &[u8]) -> String {
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use joulemark_frames::NoProgress;

    use super::*;
    use crate::case::{Case, TakeEntry};

    /// Published values: FIPS 180-4's example "abc" (NIST, Cryptographic Standards and Guidelines, SHA-256 example), and the
    /// digest of nothing.
    #[test]
    fn digests_are_the_published_ones_and_missing_files_are_said() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("case.ron"), "abc").unwrap();
        fs::write(folder.path().join("board.ron"), "").unwrap();
        let take = TakeEntry { name: "one".into(), frames: "gone.tif".into(), ..TakeEntry::default() };
        let case = Case { board: "board.ron".into(), takes: vec![take], ..Case::default() };
        let all = of_case(&CaseFolder { folder: folder.path().to_owned(), case }, &NoProgress).unwrap();
        assert_eq!(all[0].digest, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!((all[0].bytes, all[0].what.as_str()), (3, "case"));
        assert_eq!(all[1].digest, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
        assert!(all[2].digest.contains("gone.tif"), "{:?}", all[2]);
    }
}
