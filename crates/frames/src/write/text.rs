//! Frames as text: one line per row, blank lines between frames, decimal points.

use std::io::{self, Write};

use super::{Output, Values};
use crate::FramesError;

pub(super) fn write(output: &Output, values: Values, file: &mut impl Write) -> Result<(), FramesError> {
    for frame in 0..output.shape.frames {
        if frame > 0 {
            writeln!(file).map_err(|e| output.io(e))?;
        }
        write_frame(values.frame(frame, output.shape.pixels()), output.shape.width_px, file)
            .map_err(|e| output.io(e))?;
        output.step(frame + 1)?;
    }
    Ok(())
}

/// Writes one frame. Floating-point values get as many digits as bring them back exactly, and always a decimal point,
/// which tells them from counts.
pub(super) fn write_frame(values: Values, width_px: usize, file: &mut impl Write) -> io::Result<()> {
    // Two columns of integers with a comma between could be one column of decimals.
    let separator = if width_px == 2 { ";" } else { "," };
    match values {
        Values::U8(v) => rows(v, width_px, separator, file, |v, file| write!(file, "{v}")),
        Values::U16(v) => rows(v, width_px, separator, file, |v, file| write!(file, "{v}")),
        Values::I16(v) => rows(v, width_px, separator, file, |v, file| write!(file, "{}", v as i16)),
        Values::F32(v) => {
            rows(
                v,
                width_px,
                separator,
                file,
                |v, file| {
                    if v.is_finite() { write!(file, "{v:?}") } else { write!(file, "nan") }
                },
            )
        }
    }
}

fn rows<T: Copy, W: Write>(
    values: &[T],
    width_px: usize,
    separator: &str,
    file: &mut W,
    cell: impl Fn(T, &mut W) -> io::Result<()>,
) -> io::Result<()> {
    for row in values.chunks(width_px.max(1)) {
        for (column, &value) in row.iter().enumerate() {
            if column > 0 {
                file.write_all(separator.as_bytes())?;
            }
            cell(value, file)?;
        }
        writeln!(file)?;
    }
    Ok(())
}
