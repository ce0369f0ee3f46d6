//! What a lesson shows, read from the case's files.

use std::{
    collections::BTreeMap,
    path::{Path, PathBuf},
    sync::Arc,
};

use joulemark_frames::{Progress, Take};
use joulemark_locate::{align::Alignment, board::Board, repair::clipped_pixels};

use super::Options;
use crate::{
    case::{
        Case, CaseFolder, TakeEntry,
        load::{self},
        told::Told,
    },
    layer::ranges::Ranges,
    lesson::render::{Sources, TakeSeen},
    photo::{self, Loaded},
};

/// A take that was read.
#[derive(Debug)]
pub struct Kept {
    /// As the case has it.
    pub entry: TakeEntry,
    found: Found,
    ranges: Ranges,
    clipped: Vec<bool>,
    simulated: bool,
}

/// What was found in a take.
#[derive(Debug)]
enum Found {
    /// Everything.
    Told(Arc<Told>),
    /// Nothing: frames alone, perhaps lined up.
    Frames { take: Box<Take>, alignment: Option<Box<Alignment>>, why: String },
}

impl Kept {
    /// For the renderer of steps.
    pub fn seen(&self) -> TakeSeen<'_> {
        let (take, located, alignment, face) = match &self.found {
            Found::Told(told) => {
                let loaded = &told.loaded;
                (&loaded.take, Some(&told.located), Some(&loaded.alignment), loaded.face.as_str())
            }
            Found::Frames { take, alignment, .. } => (&**take, None, alignment.as_deref(), self.entry.face.as_str()),
        };
        let (ranges, clipped, simulated) = (&self.ranges, self.clipped.as_slice(), self.simulated);
        TakeSeen { take, located, alignment, face, ranges, clipped, simulated }
    }

    /// The answer, or why there is none.
    pub fn told(&self) -> Result<Arc<Told>, String> {
        match &self.found {
            Found::Told(told) => Ok(Arc::clone(told)),
            Found::Frames { why, .. } => Err(why.clone()),
        }
    }
}

/// Everything that a lesson shows.
#[derive(Debug)]
pub struct Material {
    /// Where the case is.
    pub folder: PathBuf,
    /// The case.
    pub case: Case,
    /// Its board.
    pub board: Board,
    /// Its takes, by name, those that could be read.
    pub takes: BTreeMap<String, Kept>,
    /// Photos of faces, by face, those that could be read.
    pub photos: BTreeMap<String, Loaded>,
}

impl Material {
    /// Reads the board, its photos and the takes of these names; what cannot be read is said.
    pub(super) fn read(
        folder: &CaseFolder,
        names: &[String],
        options: &Options,
        progress: &dyn Progress,
    ) -> anyhow::Result<(Self, Vec<String>)> {
        let mut warnings = Vec::new();
        let board = folder.drawing()?;
        let beside = folder.resolve(&folder.case.board);
        let beside = beside.parent().unwrap_or(Path::new("."));
        let mut photos = BTreeMap::new();
        for face in &board.faces {
            let Some(placed) = &face.photo else { continue };
            match photo::load(&beside.join(&placed.file)) {
                Ok(loaded) => {
                    photos.insert(face.name.clone(), loaded);
                }
                Err(error) => warnings.push(format!("the photo of face '{}' is left out: {error}", face.name)),
            }
        }
        let mut takes = BTreeMap::new();
        for name in names {
            // A step may name a take that is gone: the step says so in its place.
            let Some(entry) = folder.case.takes.iter().find(|t| t.name == *name) else { continue };
            match take(folder, entry, options, progress) {
                Ok((kept, why)) => {
                    warnings.extend(why.map(|why| format!("take '{name}' could not be located: {why}")));
                    takes.insert(name.clone(), kept);
                }
                Err(error) if progress.cancelled() => return Err(error),
                Err(error) => warnings.push(format!("take '{name}' could not be read: {error}")),
            }
        }
        let (case, folder) = (folder.case.clone(), folder.folder.clone());
        Ok((Self { folder, case, board, takes, photos }, warnings))
    }

    /// For the renderer of steps.
    pub fn with<T>(&self, ask: impl FnOnce(&Sources<'_>) -> T) -> T {
        let take = |name: &str| self.takes.get(name).map(Kept::seen);
        let photo = |face: &str| self.photos.get(face);
        ask(&Sources { board: &self.board, rail: &self.case.rail, take: &take, photo: &photo })
    }
}

/// A take, and why nothing could be located in it.
fn take(
    folder: &CaseFolder,
    entry: &TakeEntry,
    options: &Options,
    progress: &dyn Progress,
) -> anyhow::Result<(Kept, Option<String>)> {
    let mut source = folder.source(entry);
    source.mask_nan = options.mask_nan;
    source.memory_mib = options.memory_mib;
    let (found, why) = match Told::of(&source, progress) {
        Ok(told) => (Found::Told(Arc::new(told)), None),
        Err(error) if progress.cancelled() => return Err(error),
        Err(error) => {
            let take = Box::new(load::load_take(&source, progress)?);
            let alignment = load::load_alignment(&source).ok().map(Box::new);
            let why = error.to_string();
            (Found::Frames { take, alignment, why: why.clone() }, Some(why))
        }
    };
    let (ranges, clipped) = match &found {
        Found::Told(told) => {
            let take = &told.loaded.take;
            (Ranges::measure(take, Some(&told.located)), clipped_pixels(&take.stack))
        }
        Found::Frames { take, .. } => (Ranges::measure(take, None), clipped_pixels(&take.stack)),
    };
    Ok((Kept { entry: entry.clone(), found, ranges, clipped, simulated: source.simulated }, why))
}
