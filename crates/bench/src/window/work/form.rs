//! What the form's files turn out to be.

use std::{
    path::{Path, PathBuf},
    sync::Arc,
};

use joulemark_frames::{
    CaptureLog, Progress,
    read::{self, ReadOptions},
};
use joulemark_locate::{align::Alignment, onset};

use super::Outcome;
use crate::{
    case::{board_file, load, pairs},
    window::form::{Draft, FilesFound, FramesFound},
};

/// Looks what the form's frames are.
pub fn look_at_frames(path: String, progress: &dyn Progress) -> Outcome {
    let found = read::open(Path::new(path.trim()), &ReadOptions::default(), progress)
        .map(|recording| FramesFound {
            description: recording.description,
            scale: recording.scale,
            frames: recording.samples.shape().frames,
            timed: recording.time_s.is_some(),
        })
        .map_err(|e| e.to_string());
    Outcome::Frames(path, found)
}

/// Looks what the form's small files are.
pub fn look_at_files([log, board, pairs_file]: [String; 3]) -> Outcome {
    let line = |e: anyhow::Error| format!("{e:#}");
    let given = |path: &String| (!path.trim().is_empty()).then(|| PathBuf::from(path.trim()));
    Outcome::Files(FilesFound {
        log: given(&log).map(|f| CaptureLog::read(&f).map(|l| l.rows.len()).map_err(|e| e.to_string())),
        board: given(&board).map(|f| board_file::read(&f).map(Arc::new).map_err(line)),
        pairs: given(&pairs_file).map(|f| {
            let pairs = pairs::read(&f).map_err(line)?;
            Alignment::fit(&pairs).map_err(|e| format!("{}: {e}", f.display()))?;
            Ok(pairs)
        }),
        looked_at: [log, board, pairs_file],
    })
}

/// Proposes when injection starts in the form's frames.
pub fn propose_onset(draft: &Draft, progress: &dyn Progress) -> Outcome {
    Outcome::Proposed(match load::load_take(&draft.source(false), progress) {
        Ok(take) => {
            progress.report("looking for the onset", 0, 1);
            onset::propose(&take).ok_or_else(|| {
                "Nothing in this recording changes clearly enough to propose an onset; give the frame yourself."
                    .to_owned()
            })
        }
        Err(error) => Err(format!("{error:#}")),
    })
}
