//! Open design files: centroid lists, IPC-D-356A netlists, Gerber, SVG and DXF in; SVG and `board.json` out.
//!
//! Readers are pure: bytes in, a [`Design`] or one line about file, line and remedy out. A design keeps the frame that
//! design files share (millimetres, y **up**, seen from the top); [`place`] turns it into faces, whose y points down.

pub mod centroid;
mod contours;
mod design;
pub mod dxf;
pub mod export;
pub mod gerber;
mod kind;
pub mod merge;
pub mod netlist;
pub mod place;
pub mod svg;
#[cfg(test)]
mod tests;
mod text;
pub mod units;

pub use design::{Design, DesignPart, Net, Side};
pub use kind::{FileKind, part_kind};

use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    path::Path,
};

use crate::case::BadInput;

/// What the user stated about a file, against the guesses.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Choices {
    /// The unit of lengths, where the file does not state it or states it wrongly.
    pub unit: Option<units::LengthUnit>,
    /// Which column of a centroid list holds what.
    pub columns: Option<centroid::Columns>,
    /// The DXF layer that holds the outline.
    pub layer: Option<String>,
}

/// No design file is larger; a recording given by mistake is not parsed.
pub const MOST_BYTES: usize = 64 << 20;

/// No board has more parts, nets or corners; a lying or generated file is stopped there.
pub(crate) const MOST_ITEMS: usize = 50_000;

/// No board is larger than this; a larger coordinate is a wrong unit or damage.
pub(crate) const MOST_MM: f64 = 10_000.0;

/// Reads a design file of a kind known or found by its content.
///
/// # Errors
/// One line: file, line, problem, remedy.
pub fn read(file: &Path, bytes: &[u8], choices: &Choices) -> anyhow::Result<Design> {
    if bytes.len() > MOST_BYTES {
        return Err(BadInput::at(
            file,
            "",
            format!("{} MiB is too large for a design file", bytes.len() >> 20),
            "check the path",
        ));
    }
    match FileKind::of(file, bytes) {
        Some(kind) => read_as(kind, file, bytes, choices),
        None => Err(BadInput::at(
            file,
            "",
            "neither a centroid list nor IPC-D-356A, Gerber, SVG or DXF",
            "export one of these from the design program",
        )),
    }
}

/// Reads a design file as one kind.
///
/// # Errors
/// One line: file, line, problem, remedy.
pub fn read_as(kind: FileKind, file: &Path, bytes: &[u8], choices: &Choices) -> anyhow::Result<Design> {
    // A decoder of another crate that panics on damage is an error about the file, not the end of the program.
    // Nothing it touched is used afterwards.
    catch_unwind(AssertUnwindSafe(|| read_unguarded(kind, file, bytes, choices)))
        .unwrap_or_else(|_| Err(BadInput::at(file, "", "the decoder gave up on damaged data", "export the file again")))
}

/// [`read_as`] without the guard, so that fuzzing finds panics.
///
/// # Errors
/// As [`read_as`].
pub fn read_unguarded(kind: FileKind, file: &Path, bytes: &[u8], choices: &Choices) -> anyhow::Result<Design> {
    let design = match kind {
        FileKind::Centroid => centroid::read(file, bytes, choices.columns.as_ref(), choices.unit)?,
        FileKind::Netlist => netlist::read(file, bytes, choices.unit)?,
        FileKind::Gerber => gerber::read(file, bytes)?,
        FileKind::Svg => svg::read(file, bytes, choices.unit)?,
        FileKind::Dxf => dxf::read(file, bytes, choices.unit, choices.layer.as_deref())?,
    };
    design.check(file)?;
    Ok(design)
}
