//! Where the pictures of steps come from in the window: the session's takes, and photos that were read for them.

use std::{
    collections::HashMap,
    path::{Path, PathBuf},
};

use crate::{
    lesson::render::{Sources, TakeSeen},
    photo::Loaded,
    window::session::Session,
};

/// Photos by their files; `None` where one could not be read.
#[derive(Debug, Default)]
pub struct Photos(HashMap<PathBuf, Option<Loaded>>);

impl Photos {
    /// Takes a photo in.
    pub fn put(&mut self, path: PathBuf, photo: Option<Loaded>) {
        self.0.insert(path, photo);
    }

    /// Whether reading this one was tried.
    pub fn tried(&self, path: &Path) -> bool {
        self.0.contains_key(path)
    }

    /// Forgets what could not be read.
    pub fn forget_missing(&mut self) {
        self.0.retain(|_, photo| photo.is_some());
    }

    /// How many were tried.
    pub fn count(&self) -> usize {
        self.0.len()
    }
}

/// The photo's file of a face.
pub fn photo_file(session: &Session, face: &str) -> Option<PathBuf> {
    let photo = session.board.face(face)?.photo.as_ref()?;
    Some(session.beside_drawing(&photo.file))
}

/// A take that was read, for the renderer.
pub fn seen<'a>(session: &'a Session, name: &str) -> Option<TakeSeen<'a>> {
    let view = session.views.get(name)?;
    Some(TakeSeen {
        take: &view.take,
        located: view.located.as_deref(),
        alignment: view.alignment.as_ref(),
        face: &view.inputs.face,
        ranges: &view.ranges,
        clipped: &view.clipped,
        simulated: session.document.case.practice.is_some(),
    })
}

/// Lends what there is to whoever draws.
pub fn with<R>(session: &Session, photos: &Photos, draw: impl FnOnce(&Sources<'_>) -> R) -> R {
    let take = |name: &str| seen(session, name);
    let photo = |face: &str| photos.0.get(&photo_file(session, face)?)?.as_ref();
    let rail = &session.document.case.rail;
    draw(&Sources { board: &session.board, rail, take: &take, photo: &photo })
}
