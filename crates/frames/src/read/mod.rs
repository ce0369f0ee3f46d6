//! Opens whatever holds frames: one file or a folder, known by its content first and its name second.
//!
//! One file per kind. Every reader follows the same order: header, sizes against the file's length and the memory
//! limit, and only then memory for the frames.

mod avi;
mod ffmpeg;
mod finite;
mod folder;
mod guard;
mod input;
mod kind;
mod luma;
mod npy;
mod npy_header;
mod number;
mod picture;
mod png;
mod process;
mod raw;
mod recording;
mod riff;
mod text;
mod text_row;
mod tiff;

#[cfg(test)]
mod tests;

use std::path::Path;

use crate::{FramesError, Note, Progress};
use input::Input;

pub use kind::Kind;
pub use raw::RawLayout;
pub use recording::{Recording, Scale};

/// Limits and choices for reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReadOptions {
    /// Most bytes that the frames may take in memory.
    pub memory_limit_bytes: u64,
    /// Let float frames hold values that are not numbers; otherwise they are an error.
    pub mask_not_a_number: bool,
}

impl Default for ReadOptions {
    fn default() -> Self {
        Self { memory_limit_bytes: 8 << 30, mask_not_a_number: false }
    }
}

/// Opens a file or a folder of frames.
///
/// # Errors
/// See [`FramesError`]; each message names file, place and remedy.
pub fn open(path: &Path, options: &ReadOptions, progress: &dyn Progress) -> Result<Recording, FramesError> {
    let about = std::fs::metadata(path).map_err(|source| FramesError::Io { file: path.to_owned(), source })?;
    if about.is_dir() {
        return folder::read(path, options, progress);
    }
    let input = Input::disk(path, options, progress)?;
    match file_kind(&input)? {
        FileKind::Raw(sidecar) => raw::read(&input, &sidecar),
        FileKind::Known(kind) => dispatch(&input, kind),
    }
}

/// Reads a file that is already in memory, by its content. `name` is used for its extension and in messages. Videos
/// that need another program cannot be read this way.
///
/// # Errors
/// As [`open`].
pub fn from_bytes(
    name: &Path,
    bytes: &[u8],
    options: &ReadOptions,
    progress: &dyn Progress,
) -> Result<Recording, FramesError> {
    let input = Input::memory(name, bytes, options, progress);
    let head = &bytes[..bytes.len().min(kind::HEAD_BYTES)];
    dispatch(&input, Kind::of(name, head).ok_or_else(|| unknown(&input, head))?)
}

/// Reads bytes as the given kind, whatever they look like. For tests and fuzzing of one reader.
///
/// # Errors
/// As [`open`].
pub fn from_bytes_as(
    kind: Kind,
    bytes: &[u8],
    options: &ReadOptions,
    progress: &dyn Progress,
) -> Result<Recording, FramesError> {
    dispatch_unguarded(&Input::memory(Path::new("memory"), bytes, options, progress), kind)
}

/// Reads raw 16-bit frames in memory by the text of a sidecar.
///
/// # Errors
/// As [`open`].
pub fn raw_from_bytes(
    sidecar: &str,
    bytes: &[u8],
    options: &ReadOptions,
    progress: &dyn Progress,
) -> Result<Recording, FramesError> {
    let layout = raw::parse(Path::new("memory.ron"), sidecar)?;
    raw::read_with(&Input::memory(Path::new("memory.raw"), bytes, options, progress), &layout)
}

/// What a file on the disk is.
enum FileKind {
    Known(Kind),
    /// Raw samples with this sidecar.
    Raw(std::path::PathBuf),
}

fn file_kind(input: &Input) -> Result<FileKind, FramesError> {
    if input.len == 0 {
        return Err(input.malformed("file", "empty, 0 bytes", "copy or export it again"));
    }
    let extension = input.file.extension().and_then(|e| e.to_str()).unwrap_or_default().to_ascii_lowercase();
    let head = input.head(kind::HEAD_BYTES)?;
    // A sidecar is the user's own word about the file. It counts for names that promise nothing else: frame data can
    // begin with any bytes, a signature included.
    let kind = Kind::of(input.file, &head);
    if kind.is_none() || matches!(extension.as_str(), "raw" | "bin" | "dat") {
        if let Some(sidecar) = raw::sidecar(input.file) {
            return Ok(FileKind::Raw(sidecar));
        }
        if kind.is_none() && extension == "raw" {
            return Err(input.malformed(
                "sidecar",
                "raw frames without a sidecar",
                format!("write {}.ron beside it: (width: 640, height: 512)", input.file.display()),
            ));
        }
    }
    kind.map(FileKind::Known).ok_or_else(|| unknown(input, &head))
}

fn unknown(input: &Input, head: &[u8]) -> FramesError {
    if input.len == 0 {
        return input.malformed("file", "empty, 0 bytes", "copy or export it again");
    }
    let start: Vec<String> = head.iter().take(8).map(|b| format!("{b:02X}")).collect();
    input.unsupported(format!("not a known kind of frame file (begins with {})", start.join(" ")))
}

fn dispatch(input: &Input, kind: Kind) -> Result<Recording, FramesError> {
    guard::guard(input, || dispatch_unguarded(input, kind))
}

fn dispatch_unguarded(input: &Input, kind: Kind) -> Result<Recording, FramesError> {
    if let Some(format) = kind.picture_format() {
        return picture::read(input, format);
    }
    match kind {
        Kind::Tiff => tiff::read(input),
        Kind::Png => png::read(input),
        Kind::Npy => npy::read(input),
        Kind::Npz => npy::read_npz(input),
        Kind::Avi => avi::read(input),
        Kind::Video => ffmpeg::read(input),
        // The pictures were handled above.
        _ => text::read(input),
    }
}

fn rounded_note() -> Note {
    Note::new("64-bit values were rounded to 32 bits (near 300 K by at most 0.02 mK)", "")
}
