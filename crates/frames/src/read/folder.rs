//! A folder as a recording: its files in natural order, one frame each, all of one kind, size and type.

use std::{
    fs,
    path::{Path, PathBuf},
    sync::atomic::{AtomicUsize, Ordering},
};

use ndarray::Array3;
use rayon::prelude::*;

use super::{
    FileKind, Kind, ReadOptions, dispatch, file_kind, input::Input, kind, raw, recording::Recording, text,
    text::Integers,
};
use crate::{FramesError, Note, Progress, Samples, StackShape, note::count};

/// How many notes of single files are passed on.
const MOST_NOTES: usize = 3;
/// How many different ones are told apart at all.
const MOST_DIFFERENT: usize = 100;

pub(super) fn read(folder: &Path, options: &ReadOptions, progress: &dyn Progress) -> Result<Recording, FramesError> {
    let quiet = Quiet(progress);
    let Listing { frames, kind, mut notes } = list(folder, options, &quiet)?;
    let read_one = |path: &Path, integers: Integers| -> Result<Recording, FramesError> {
        let input = Input::disk(path, options, &quiet)?;
        match file_kind(&input)? {
            FileKind::Raw(sidecar) => raw::read(&input, &sidecar),
            FileKind::Known(Kind::Text) => text::read_as(&input, integers),
            FileKind::Known(kind) => dispatch(&input, kind),
        }
    };
    let read_all = |integers| {
        let first = read_one(&frames[0], integers).map_err(Stop::Error)?;
        let read_one = |path: &Path| read_one(path, integers);
        let (samples, notes) = Work { folder, paths: &frames, read_one: &read_one, options, progress }.read(&first)?;
        Ok((first, samples, notes))
    };
    // Text frames whose values happen to be positive, or whole, look like another type than the others.
    let ways = [Integers::Counts, Integers::WideCounts, Integers::Kelvin];
    let ways = if kind == Some(Kind::Text) { &ways[..] } else { &ways[..1] };
    let mut read = read_all(ways[0]);
    for &way in &ways[1..] {
        if matches!(read, Err(Stop::Mixed(_))) {
            read = read_all(way);
        }
    }
    let (first, samples, file_notes) = match read {
        Ok(read) => read,
        Err(Stop::Mixed(error) | Stop::Error(error)) => return Err(error),
    };
    notes.extend(gathered(file_notes));
    Ok(Recording {
        file: folder.to_owned(),
        description: format!("folder of {}: {}", count(frames.len(), "file"), first.description),
        samples,
        scale: first.scale,
        names: frames.iter().map(|path| name_of(path)).collect(),
        time_s: None,
        notes,
    })
}

/// The files that are frames.
struct Listing {
    frames: Vec<PathBuf>,
    /// `None` for raw frames.
    kind: Option<Kind>,
    notes: Vec<Note>,
}

fn list(folder: &Path, options: &ReadOptions, progress: &dyn Progress) -> Result<Listing, FramesError> {
    let io = |source| FramesError::Io { file: folder.to_owned(), source };
    let malformed = |place: &str, problem: String, remedy: &str| FramesError::Malformed {
        file: folder.to_owned(),
        place: place.to_owned(),
        problem,
        remedy: remedy.to_owned(),
    };
    let mut paths = Vec::new();
    for entry in fs::read_dir(folder).map_err(io)? {
        let path = entry.map_err(io)?.path();
        if path.is_file() && !name_of(&path).starts_with('.') {
            paths.push(path);
        }
    }
    paths.sort_by(|a, b| natord::compare(&name_of(a), &name_of(b)));
    let (mut found, mut skipped) = (Vec::new(), Vec::new());
    for path in paths {
        if progress.cancelled() {
            return Err(FramesError::Cancelled);
        }
        match sort_of(&path, options, progress)? {
            Some(kind) => found.push((path, kind)),
            None => skipped.push(name_of(&path)),
        }
    }
    // Text beside pictures is a log or a remark, not a frame.
    if found.iter().any(|(_, kind)| *kind != Some(Kind::Text)) {
        found.retain(|(path, kind)| {
            let keep = *kind != Some(Kind::Text);
            if !keep {
                skipped.push(name_of(path));
            }
            keep
        });
    }
    let Some((first, kind)) = found.first().cloned() else {
        return Err(malformed("folder", "no frame files inside".to_owned(), "choose the folder that holds the frames"));
    };
    if let Some((other, _)) = found.iter().find(|(_, k)| *k != kind) {
        let words = |kind: Option<Kind>| kind.map_or("raw", Kind::words);
        let other_kind = found.iter().find(|(_, k)| *k != kind).and_then(|(_, k)| *k);
        return Err(malformed(
            &name_of(other),
            format!("mixed kinds: {}, but {} is {}", words(other_kind), name_of(&first), words(kind)),
            "keep one kind of frame files in the folder",
        ));
    }
    let mut notes = Vec::new();
    if !skipped.is_empty() {
        skipped.sort_by(|a, b| natord::compare(a, b));
        notes.push(Note::new(
            format!(
                "not read: {} in the folder that hold no frames, the first is {}",
                count(skipped.len(), "file"),
                skipped[0]
            ),
            "",
        ));
    }
    Ok(Listing { frames: found.into_iter().map(|(path, _)| path).collect(), kind, notes })
}

/// The kind of a file in the folder: `Some(None)` for raw frames, `None` for files that are no frames.
fn sort_of(path: &Path, options: &ReadOptions, progress: &dyn Progress) -> Result<Option<Option<Kind>>, FramesError> {
    let input = Input::disk(path, options, progress)?;
    let extension = path.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
    if extension == "ron" {
        return Ok(None);
    }
    match file_kind(&input) {
        Ok(FileKind::Raw(_)) => Ok(Some(None)),
        Ok(FileKind::Known(Kind::Text)) => {
            let head = String::from_utf8_lossy(&input.head(kind::HEAD_BYTES)?).to_ascii_lowercase();
            let first_line = head.lines().next().unwrap_or_default();
            let is_log = first_line.contains("time_s") && first_line.contains("injecting");
            let is_table = matches!(extension.as_str(), "csv" | "tsv" | "txt" | "dat");
            Ok((is_table && !is_log).then_some(Some(Kind::Text)))
        }
        Ok(FileKind::Known(kind)) => Ok(Some(Some(kind))),
        Err(FramesError::Unsupported { .. }) => Ok(None),
        Err(error) => Err(error),
    }
}

/// Why reading stopped.
enum Stop {
    /// A file whose samples have another type than the first one's.
    Mixed(FramesError),
    Error(FramesError),
}

struct Work<'a> {
    folder: &'a Path,
    paths: &'a [PathBuf],
    read_one: &'a (dyn Fn(&Path) -> Result<Recording, FramesError> + Sync),
    options: &'a ReadOptions,
    progress: &'a dyn Progress,
}

type FileNotes = Vec<(usize, Vec<Note>)>;

impl Work<'_> {
    fn read(&self, first: &Recording) -> Result<(Samples, FileNotes), Stop> {
        match &first.samples {
            Samples::U8(_) => {
                self.fill(first, |s| if let Samples::U8(a) = s { a.as_slice() } else { None }, Samples::U8)
            }
            Samples::U16(_) => {
                self.fill(first, |s| if let Samples::U16(a) = s { a.as_slice() } else { None }, Samples::U16)
            }
            Samples::F32(_) => {
                self.fill(first, |s| if let Samples::F32(a) = s { a.as_slice() } else { None }, Samples::F32)
            }
        }
    }

    fn fill<T: Copy + Default + Send + Sync>(
        &self,
        first: &Recording,
        slice: impl Fn(&Samples) -> Option<&[T]> + Sync,
        wrap: impl Fn(Array3<T>) -> Samples,
    ) -> Result<(Samples, FileNotes), Stop> {
        let one = first.samples.shape();
        let shape = StackShape { frames: self.paths.len(), ..one };
        let whole = Input::memory(self.folder, &[], self.options, self.progress);
        let total = whole.check(shape, size_of::<T>()).map_err(Stop::Error)?;
        let mut samples = vec![T::default(); total];
        let done = AtomicUsize::new(0);
        let notes = samples
            .par_chunks_exact_mut(one.pixels().max(1))
            .zip(self.paths)
            .enumerate()
            .map(|(index, (out, path))| {
                let frame = (self.read_one)(path).map_err(Stop::Error)?;
                let malformed = |problem: String, remedy: &str| FramesError::Malformed {
                    file: path.clone(),
                    place: "frame".to_owned(),
                    problem,
                    remedy: remedy.to_owned(),
                };
                let shape = frame.samples.shape();
                if shape.frames != 1 {
                    return Err(Stop::Error(malformed(
                        format!("holds {} frames, in a folder of single frames", shape.frames),
                        "open this file by itself",
                    )));
                }
                if shape != (StackShape { frames: 1, ..one }) {
                    return Err(Stop::Error(malformed(
                        format!(
                            "mixed sizes: {} x {} pixels, but {} has {} x {}",
                            shape.width_px,
                            shape.height_px,
                            name_of(&self.paths[0]),
                            one.width_px,
                            one.height_px
                        ),
                        "keep frames of one size in the folder",
                    )));
                }
                match slice(&frame.samples) {
                    Some(values) if frame.scale == first.scale => out.copy_from_slice(values),
                    _ => {
                        return Err(Stop::Mixed(malformed(
                            format!(
                                "mixed types: {}, but {} is {}",
                                frame.description,
                                name_of(&self.paths[0]),
                                first.description
                            ),
                            "keep frames of one type in the folder",
                        )));
                    }
                }
                whole.step(done.fetch_add(1, Ordering::Relaxed) + 1, self.paths.len()).map_err(Stop::Error)?;
                Ok((index, frame.notes))
            })
            .filter(|result| !matches!(result, Ok((_, notes)) if notes.is_empty()))
            .collect::<Result<FileNotes, Stop>>()?;
        let array = Array3::from_shape_vec((shape.frames, one.height_px, one.width_px), samples)
            .map_err(|e| Stop::Error(whole.malformed("folder", e.to_string(), "export the frames again")))?;
        Ok((wrap(array), notes))
    }
}

/// Notes that many files share become one; of the others the first few are kept.
fn gathered(notes: FileNotes) -> Vec<Note> {
    let mut different: Vec<(Note, usize, usize)> = Vec::new();
    for (file, notes) in notes {
        for note in notes {
            match different.iter().position(|(known, ..)| *known == note) {
                Some(at) => different[at].2 += 1,
                None if different.len() < MOST_DIFFERENT => different.push((note, file, 1)),
                None => {}
            }
        }
    }
    let more = different.len().saturating_sub(MOST_NOTES);
    let mut kept: Vec<Note> = different
        .into_iter()
        .take(MOST_NOTES)
        .map(|(note, file, files)| {
            let place = if files == 1 { format!("file {file}") } else { count(files, "file") };
            Note::new(format!("{place}: {}", note.what), note.remedy)
        })
        .collect();
    if more > 0 {
        kept.push(Note::new(format!("{more} or more further notes about single files"), ""));
    }
    kept
}

fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// Passes cancelling on, but not the progress of single files.
struct Quiet<'a>(&'a dyn Progress);

impl Progress for Quiet<'_> {
    fn report(&self, _stage: &str, _done: usize, _total: usize) {}

    fn cancelled(&self) -> bool {
        self.0.cancelled()
    }
}
