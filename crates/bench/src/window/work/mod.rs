//! What runs in the background: reading, locating, saving, file dialogs. Each returns an [`Outcome`].

mod dialog;
mod earlier;
mod form;
mod locating;
mod opening;
mod saving;

pub use dialog::pick;
pub use form::{look_at_files, look_at_frames, propose_onset};
pub(in crate::window) use locating::locate_take;
pub use locating::view_take;
pub use opening::{add_take, open_case, open_draft, open_practice};
pub use saving::save;

use std::{
    path::{Path, PathBuf},
    sync::Arc,
};

use joulemark_locate::{board::Board, onset::OnsetProposal};

use super::{
    command::Pick,
    compare::Compared,
    desk,
    drawing::{
        import,
        photo::{self, Loaded},
        shelf,
    },
    form::{FilesFound, FramesFound},
    screen::{Fault, PartCurve},
    session::{Session, TakeView},
};
use crate::case::{Case, TakeEntry};

/// What background work results in.
#[derive(Debug)]
pub enum Outcome {
    /// A case was opened, perhaps with a fault in its take.
    Opened(Box<Session>, Option<Fault>),
    /// A practice case was simulated into a folder that goes when the window closes.
    Simulated(Box<Session>, Option<Fault>, tempfile::TempDir),
    /// A take for the session with that number was read: its entry, the shorted rail, and what was found in it.
    TakeAdded(u64, Box<(TakeEntry, String, TakeView)>, Option<Fault>),
    /// A take of the session with that number was read or located, perhaps with a fault.
    Viewed(u64, Box<TakeView>, Option<Fault>),
    /// What the picture measures over a part.
    PartRead(PartCurve),
    /// What the form's frames are.
    Frames(String, Result<FramesFound, String>),
    /// What the form's small files are.
    Files(FilesFound),
    /// When injection seems to start.
    Proposed(Result<OnsetProposal, String>),
    /// This desktop has no file dialog: the path has to be typed.
    NoDialog(Pick),
    /// What was picked in a file dialog.
    Picked(Pick, Option<PathBuf>),
    /// The case of the session with that number was saved there, with these paths.
    Saved(u64, PathBuf, Box<Case>, Arc<Board>),
    /// A photo for a face was read.
    Photo(Box<Loaded>),
    /// A photo that a step shows was read, or could not be.
    StepPhoto(PathBuf, Option<Box<Loaded>>),
    /// Pairs of the session with that number were refined, or taken over from another take.
    LinedUp(u64, Box<super::lining::work::LinedUp>),
    /// Design files were read.
    Design(Box<import::Found>),
    /// What is on the shelf, or one line.
    Shelved(Result<shelf::Shelved, String>),
    /// A drawing of that name was taken from the shelf.
    FromShelf(Box<Board>),
    /// What a search of the shop's library found, or one line.
    Library(Result<Arc<desk::Page>, String>),
    /// Small pictures of its cases.
    LibraryPictures(desk::Pictures),
    /// Two takes of the session with that number were compared.
    Compared(u64, Box<Compared>),
    /// Work of the student's desk.
    Exercise(super::exercise::work::Done),
    /// Something was written; the words say what.
    Done(String),
    /// It did not work.
    Failed(Fault),
}

/// A fault with a title.
pub fn fault(title: &str, error: &anyhow::Error) -> Fault {
    let line = format!("{error:#}").split_whitespace().collect::<Vec<_>>().join(" ");
    Fault { title: title.to_owned(), message: line, action: None }
}

/// Reads a photo that a step shows.
pub fn load_step_photo(path: PathBuf) -> Outcome {
    let loaded = photo::load(&path).ok().map(Box::new);
    Outcome::StepPhoto(path, loaded)
}

/// Reads a photo.
pub fn load_photo(path: &Path) -> Outcome {
    match photo::load(path) {
        Ok(loaded) => Outcome::Photo(Box::new(loaded)),
        Err(error) => Outcome::Failed(fault("Could not read the photo", &error)),
    }
}
