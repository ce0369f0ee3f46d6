//! Raw 16-bit frames: no header at all, so a sidecar written by the user (`NAME.raw.ron` or `NAME.ron`) states the layout.

use std::{
    fs,
    io::{Read, Seek, SeekFrom},
    path::{Path, PathBuf},
};

use ndarray::Array3;
use serde::{Deserialize, Serialize};

use super::{
    input::Input,
    recording::{Recording, Scale},
};
use crate::{FramesError, Note, Samples, StackShape};

/// The layout of a raw file, as the sidecar states it:
/// `(width: 640, height: 512, offset_bytes: 0, row_bytes: 1280, big_endian: false, frames: 300, rows_above: 0, rows_below: 2)`.
/// Only `width` and `height` are needed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RawLayout {
    /// Columns of the picture.
    pub width: u64,
    /// Rows of the picture.
    pub height: u64,
    /// Bytes before the first frame.
    #[serde(default)]
    pub offset_bytes: u64,
    /// Bytes from one row to the next; twice the width when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub row_bytes: Option<u64>,
    /// Whether the more significant byte comes first.
    #[serde(default)]
    pub big_endian: bool,
    /// Number of frames; as many as the file holds when absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frames: Option<u64>,
    /// Rows above each picture that are no part of it (telemetry).
    #[serde(default)]
    pub rows_above: u64,
    /// Rows below each picture that are no part of it.
    #[serde(default)]
    pub rows_below: u64,
}

/// Longest sidecar that is read.
const MOST_SIDECAR_BYTES: u64 = 64 << 10;

/// The sidecar that belongs to a file, if there is one: its name with `.ron` behind, or in place of its extension.
pub(super) fn sidecar(file: &Path) -> Option<PathBuf> {
    let mut behind = file.as_os_str().to_owned();
    behind.push(".ron");
    [PathBuf::from(behind), file.with_extension("ron")].into_iter().find(|s| s != file && s.is_file())
}

pub(super) fn read(input: &Input, sidecar: &Path) -> Result<Recording, FramesError> {
    let error = |source| FramesError::Io { file: sidecar.to_owned(), source };
    let mut text = String::new();
    fs::File::open(sidecar).map_err(error)?.take(MOST_SIDECAR_BYTES).read_to_string(&mut text).map_err(error)?;
    read_with(input, &parse(sidecar, &text)?)
}

/// Reads a sidecar; `file` is only named in messages.
pub(super) fn parse(file: &Path, text: &str) -> Result<RawLayout, FramesError> {
    // So that a number stands for itself where a field may be left out: `frames: 300`, not `frames: Some(300)`.
    let options = ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
    options.from_str(text).map_err(|e| FramesError::Malformed {
        file: file.to_owned(),
        place: format!("line {}", e.span.start.line),
        problem: e.code.to_string().replace('\n', " "),
        remedy: "write for instance (width: 640, height: 512, big_endian: false)".to_owned(),
    })
}

pub(super) fn read_with(input: &Input, layout: &RawLayout) -> Result<Recording, FramesError> {
    let wrong = |problem: String| input.malformed("sidecar", problem, "correct the numbers in the sidecar");
    let picture_bytes = layout.width.saturating_mul(2);
    let row_bytes = layout.row_bytes.unwrap_or(picture_bytes);
    if row_bytes < picture_bytes {
        return Err(wrong(format!("rows of {row_bytes} bytes cannot hold {} pixels of 16 bits", layout.width)));
    }
    let rows = layout.rows_above.saturating_add(layout.height).saturating_add(layout.rows_below);
    let frame_bytes = rows.saturating_mul(row_bytes);
    let held_bytes = input.len.saturating_sub(layout.offset_bytes);
    if layout.width == 0 || layout.height == 0 {
        return Err(wrong("a picture without pixels".to_owned()));
    }
    let (frames, left_bytes) = (held_bytes / frame_bytes, held_bytes % frame_bytes);
    let frames = match layout.frames {
        Some(stated) if stated > frames || stated == 0 => {
            return Err(wrong(format!(
                "{stated} frames of {frame_bytes} bytes from byte {} do not fit a file of {} bytes, which holds {frames}",
                layout.offset_bytes, input.len
            )));
        }
        Some(stated) => stated,
        None if frames == 0 || left_bytes != 0 => {
            return Err(wrong(format!(
                "{held_bytes} bytes from byte {} are not a whole number of frames of {frame_bytes} bytes",
                layout.offset_bytes
            )));
        }
        None => frames,
    };
    let size = |v: u64| usize::try_from(v).unwrap_or(usize::MAX);
    let shape = StackShape { frames: size(frames), height_px: size(layout.height), width_px: size(layout.width) };
    let count = input.check(shape, 2)?;
    let cut = |e| input.io(e);
    let mut source = input.open()?;
    let mut samples = vec![0_u16; count];
    for (frame, picture) in samples.chunks_exact_mut(shape.pixels()).enumerate() {
        let from = layout.offset_bytes + frame as u64 * frame_bytes + layout.rows_above * row_bytes;
        source.seek(SeekFrom::Start(from)).map_err(cut)?;
        for row in picture.chunks_exact_mut(shape.width_px) {
            source.read_exact(bytemuck::cast_slice_mut(row)).map_err(cut)?;
            let padding = i64::try_from(row_bytes - picture_bytes).unwrap_or(i64::MAX);
            if padding > 0 {
                source.seek_relative(padding).map_err(cut)?;
            }
        }
        if layout.big_endian {
            picture.iter_mut().for_each(|v| *v = u16::from_be(*v));
        } else {
            picture.iter_mut().for_each(|v| *v = u16::from_le(*v));
        }
        input.step(frame + 1, shape.frames)?;
    }
    let mut notes = Vec::new();
    let used = layout.offset_bytes.saturating_add(frames.saturating_mul(frame_bytes));
    if used < input.len {
        notes.push(Note::new(
            format!("not read: {} bytes behind the last frame", input.len - used),
            "check the number of frames in the sidecar",
        ));
    }
    let order = if layout.big_endian { "big-endian" } else { "little-endian" };
    let dimensions = (shape.frames, shape.height_px, shape.width_px);
    Ok(Recording {
        file: input.file.to_owned(),
        description: format!("raw 16-bit counts, {order}"),
        samples: Samples::U16(Array3::from_shape_vec(dimensions, samples).map_err(|e| wrong(e.to_string()))?),
        scale: Scale::Counts { bits: 16 },
        names: Vec::new(),
        time_s: None,
        notes,
    })
}
