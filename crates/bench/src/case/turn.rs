//! Two programs on one case: one saves at a time, and nobody saves over what somebody else has saved since.
//!
//! A case remembers what its file held when it was read or written last. Saving takes the folder's lock, compares, and refuses when the
//! file holds something else by now. The lock goes with the process, however that ends.

use std::{
    fs::{self, File, TryLockError},
    io,
    path::{Path, PathBuf},
    sync::{Arc, Mutex, PoisonError},
    thread,
    time::{Duration, Instant},
};

use super::{BadInput, CASE_FILE};

/// Locked while a case is saved; holds nothing.
pub(super) const LOCK_FILE: &str = ".joulemark-lock";
/// Saving waits this long for another program that saves: recordings may be copied meanwhile.
const PATIENCE: Duration = Duration::from_secs(10);
const PAUSE: Duration = Duration::from_millis(20);

/// What a case's file held when it was last read or written. Clones share it, as the states of one case that is worked on do: after undo
/// it is still the same file. It is no part of the case, so that all of them are equal.
#[derive(Clone, Debug, Default)]
pub struct Origin(Arc<Mutex<Option<OnDisk>>>);

#[derive(Debug)]
struct OnDisk {
    file: PathBuf,
    bytes: Vec<u8>,
}

impl PartialEq for Origin {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl Origin {
    /// A case that was read from a file just now.
    pub fn read(file: &Path, bytes: &[u8]) -> Self {
        let origin = Self::default();
        origin.is_now(file, bytes);
        origin
    }

    /// The file holds this now.
    fn is_now(&self, file: &Path, bytes: &[u8]) {
        let now = OnDisk { file: real(file), bytes: bytes.to_owned() };
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(now);
    }

    /// Refuses to save over what somebody else wrote.
    fn check(&self, file: &Path) -> anyhow::Result<()> {
        let holds = match fs::read(file) {
            Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
            Err(e) => return Err(BadInput::unreadable(file, &e)),
            Ok(holds) => holds,
        };
        let known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        match known.as_ref().filter(|known| known.file == real(file)) {
            Some(known) if known.bytes == holds => Ok(()),
            Some(_) => Err(BadInput::at(
                file,
                "",
                "was changed by somebody else since it was opened here, and is left as it is",
                "open it again and repeat your change, or save yours into another folder",
            )),
            None => Err(BadInput::at(file, "", "there is another case in this folder already", "give another folder")),
        }
    }
}

/// The right to save a case, until it is dropped.
pub struct Turn {
    folder: PathBuf,
    /// Unlocked when it is closed.
    _lock: File,
}

impl Turn {
    /// Takes the turn, and makes sure that nobody saved since the case was read.
    ///
    /// # Errors
    /// When somebody did, or somebody is saving for longer than this waits.
    pub fn begin(folder: &Path, origin: &Origin) -> anyhow::Result<Self> {
        let file = folder.join(CASE_FILE);
        let lock_file = folder.join(LOCK_FILE);
        let lock = File::options().write(true).create(true).truncate(false).open(&lock_file);
        let lock = lock.map_err(|e| BadInput::unwritable(&file, &e))?;
        if wait_for(&lock, PATIENCE) == Waited::InVain {
            return Err(BadInput::at(&file, "", "somebody else is saving this case", "wait a moment and save again"));
        }
        let turn = Self { folder: folder.to_owned(), _lock: lock };
        origin.check(&file)?;
        Ok(turn)
    }

    /// Replaces the case's file and ends the turn.
    ///
    /// # Errors
    /// When the file changed after all (an editor does not know of turns), or cannot be written; it is whole then.
    pub fn finish(self, origin: &Origin, bytes: &[u8]) -> anyhow::Result<()> {
        let file = self.folder.join(CASE_FILE);
        origin.check(&file)?;
        super::atomic::write(&file, bytes).map_err(|e| BadInput::unwritable(&file, &e))?;
        origin.is_now(&file, bytes);
        Ok(())
    }
}

/// How waiting for a lock ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Waited {
    Locked,
    /// Somebody else keeps it.
    InVain,
    /// This file system has no locks. The comparison still finds nearly all of what they would.
    NoLocks,
}

/// Locks a file, waiting for others.
pub(crate) fn wait_for(file: &File, patience: Duration) -> Waited {
    let until = Instant::now() + patience;
    loop {
        match file.try_lock() {
            Ok(()) => return Waited::Locked,
            Err(TryLockError::WouldBlock) if Instant::now() < until => thread::sleep(PAUSE),
            Err(TryLockError::WouldBlock) => return Waited::InVain,
            Err(TryLockError::Error(_)) => return Waited::NoLocks,
        }
    }
}

fn real(file: &Path) -> PathBuf {
    // The folder is there; the file may not be yet.
    let folder = match file.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let folder = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
    folder.join(file.file_name().unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::{
        super::{Case, CaseFolder},
        *,
    };

    fn named(folder: &Path, name: &str) -> CaseFolder {
        CaseFolder { folder: folder.to_owned(), case: Case { name: name.into(), ..Case::default() } }
    }

    #[test]
    fn nobody_saves_over_what_somebody_else_saved() {
        let folder = tempfile::tempdir().unwrap();
        named(folder.path(), "begun").save().unwrap();
        let mut mine = CaseFolder::open(folder.path()).unwrap();
        let mut theirs = CaseFolder::open(folder.path()).unwrap();
        theirs.case.notes = "theirs".into();
        theirs.save().unwrap();
        theirs.case.notes += ", and more";
        theirs.save().unwrap();
        mine.case.notes = "mine".into();
        let message = mine.save().unwrap_err().to_string();
        assert!(
            message.contains("case.ron: was changed by somebody else") && message.lines().count() == 1,
            "{message}"
        );
        assert_eq!(CaseFolder::open(folder.path()).unwrap().case.notes, "theirs, and more");
        // Undone states of the same case are the same case.
        let before_undo = theirs.case.clone();
        theirs.case.notes = "third".into();
        theirs.save().unwrap();
        CaseFolder { folder: folder.path().to_owned(), case: before_undo }.save().unwrap();
    }

    #[test]
    fn a_new_case_does_not_take_the_place_of_another() {
        let folder = tempfile::tempdir().unwrap();
        named(folder.path(), "first").save().unwrap();
        let message = named(folder.path(), "second").save().unwrap_err().to_string();
        assert!(message.contains("there is another case in this folder"), "{message}");
        // A case moves to another folder, and is then at home there.
        let elsewhere = folder.path().join("elsewhere");
        fs::create_dir(&elsewhere).unwrap();
        let mut moved = CaseFolder { folder: elsewhere, ..CaseFolder::open(folder.path()).unwrap() };
        moved.save().unwrap();
        moved.save().unwrap();
        // One that was removed meanwhile is written again: that loses nothing.
        fs::remove_file(moved.file()).unwrap();
        moved.save().unwrap();
    }

    #[test]
    fn a_turn_keeps_others_waiting_until_it_ends() {
        let folder = tempfile::tempdir().unwrap();
        let mut case = named(folder.path(), "a");
        let turn = Turn::begin(folder.path(), &case.case.origin).unwrap();
        let lock = File::options().write(true).open(folder.path().join(LOCK_FILE)).unwrap();
        assert_eq!(wait_for(&lock, Duration::ZERO), Waited::InVain);
        drop(turn);
        assert_eq!(wait_for(&lock, Duration::ZERO), Waited::Locked);
        drop(lock);
        case.save().unwrap();
    }
}
