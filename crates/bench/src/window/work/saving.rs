//! Saving a case with everything that belongs to it.

use std::{
    fs,
    path::{Path, PathBuf},
    sync::Arc,
};

use joulemark_frames::Progress;
use joulemark_locate::board::Board;

use super::{Outcome, fault};
use crate::case::{BadInput, Case, CaseFolder, board_file, turn::Turn};

/// Saves a case into its folder; the drawing too where it was `drawn` in the window. Files from elsewhere are copied in, so that the folder holds everything.
pub fn save(
    session: u64,
    folder: PathBuf,
    mut case: Case,
    mut board: Arc<Board>,
    drawn: bool,
    progress: &dyn Progress,
) -> Outcome {
    let result = (|| {
        fs::create_dir_all(&folder).map_err(|e| BadInput::unwritable(&folder, &e))?;
        // Before anything is written: what somebody else has saved since stays as it is, the drawing too.
        let turn = Turn::begin(&folder, &case.origin)?;
        let total = 1 + case.takes.len() * 2;
        progress.report("copying the board drawing", 0, total);
        if drawn {
            for face in &mut Arc::make_mut(&mut board).faces {
                if let Some(photo) = &mut face.photo {
                    photo.file = bring_in(&folder, Path::new(&photo.file))?.to_string_lossy().into_owned();
                }
            }
            case.board = board_file::write_in(&folder, &case.board, &board)?;
        } else {
            case.board = bring_in(&folder, &case.board)?;
        }
        for (i, take) in case.takes.iter_mut().enumerate() {
            progress.report("copying recordings", 1 + 2 * i, total);
            if progress.cancelled() {
                anyhow::bail!("cancelled");
            }
            take.frames = bring_in(&folder, &take.frames)?;
            if let Some(log) = &take.log {
                take.log = Some(bring_in(&folder, log)?);
            }
        }
        let mut saved = CaseFolder { folder: folder.clone(), case };
        saved.save_in(turn)?;
        Ok(saved.case)
    })();
    match result {
        Ok(case) => Outcome::Saved(session, folder, Box::new(case), board),
        Err(error) => Outcome::Failed(fault("Could not save the case", &error)),
    }
}

/// A path relative to the folder: as it is when it already lies there, otherwise copied in under a free name.
fn bring_in(folder: &Path, path: &Path) -> anyhow::Result<PathBuf> {
    if path.is_relative() {
        return Ok(path.to_owned());
    }
    let root = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
    if let Ok(inside) = path.strip_prefix(&root) {
        return Ok(inside.to_owned());
    }
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let free = std::iter::once(name.clone())
        .chain((2..).map(|i| format!("{i}-{name}")))
        .find(|n| !folder.join(n).exists())
        .unwrap_or(name);
    let to = folder.join(&free);
    copy(path, &to).map_err(|e| {
        BadInput::at(
            path,
            "",
            format!("cannot be copied to {}: {e}", to.display()),
            "check the space and that it may be written to",
        )
    })?;
    // Raw frames have a sidecar beside them that says what they are.
    let sidecar = |p: &Path| p.with_extension("ron");
    if path.is_file() && path.extension().is_some_and(|e| e == "raw") && sidecar(path).exists() {
        copy(&sidecar(path), &sidecar(&to)).map_err(|e| BadInput::unwritable(&sidecar(&to), &e))?;
    }
    Ok(PathBuf::from(free))
}

fn copy(from: &Path, to: &Path) -> std::io::Result<()> {
    if !from.is_dir() {
        return fs::copy(from, to).map(|_| ());
    }
    fs::create_dir(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        // A folder of frames is flat; what lies deeper is not part of the take.
        if entry.file_type()?.is_file() {
            fs::copy(entry.path(), to.join(entry.file_name()))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use joulemark_frames::NoProgress;

    use super::*;
    use crate::case::TakeEntry;

    #[test]
    fn saving_brings_everything_into_the_folder() {
        let from = tempfile::tempdir().unwrap();
        let to = tempfile::tempdir().unwrap();
        let file = |name: &str| {
            let path = from.path().join(name);
            fs::write(&path, name).unwrap();
            path
        };
        let stills = from.path().join("stills");
        fs::create_dir(&stills).unwrap();
        fs::write(stills.join("0.png"), "0").unwrap();
        let take = |name: &str, frames: PathBuf| TakeEntry {
            name: name.into(),
            frames,
            log: Some(file("log.csv")),
            ..TakeEntry::default()
        };
        let case = Case {
            board: file("board.ron"),
            takes: vec![take("a", file("frames.tif")), take("b", stills)],
            ..Case::default()
        };
        let folder = to.path().join("case");
        let Outcome::Saved(7, at, saved, _) = save(7, folder.clone(), case, Arc::default(), false, &NoProgress) else {
            panic!("not saved");
        };
        assert_eq!(at, folder);
        assert_eq!(saved.board, Path::new("board.ron"));
        assert_eq!(saved.takes[1].frames, Path::new("stills"));
        assert_eq!(
            saved.takes[1].log.as_deref(),
            Some(Path::new("2-log.csv")),
            "a second file of that name is kept apart"
        );
        for name in ["case.ron", "board.ron", "frames.tif", "log.csv", "stills/0.png"] {
            assert!(folder.join(name).exists(), "{name}");
        }
        assert_eq!(CaseFolder::open(&folder).unwrap().case, *saved);
    }

    #[test]
    fn what_somebody_else_saved_stays_and_is_said() {
        let to = tempfile::tempdir().unwrap();
        let board = |name: &str| Arc::new(Board { name: name.into(), ..Board::default() });
        let save =
            |case: &Case, name: &str| save(1, to.path().to_owned(), case.clone(), board(name), true, &NoProgress);
        let Outcome::Saved(.., mine, _) = save(&Case::default(), "mine") else { panic!("not saved") };
        let mut theirs = CaseFolder::open(to.path()).unwrap();
        theirs.case.notes = "theirs".into();
        theirs.save().unwrap();
        let Outcome::Failed(fault) = save(&mine, "mine again") else { panic!("saved over") };
        assert!(fault.message.contains("changed by somebody else"), "{}", fault.message);
        let kept = CaseFolder::open(to.path()).unwrap();
        assert_eq!((kept.case.notes.as_str(), kept.drawing().unwrap().name.as_str()), ("theirs", "mine"));
    }
}
