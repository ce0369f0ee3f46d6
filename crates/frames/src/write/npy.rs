//! NPY version 1.0, as NumPy itself writes it.

use std::io::Write;

use super::{Output, Values, to_i16};
use crate::FramesError;

/// The header's length is a multiple of this (NumPy Enhancement Proposal 1).
const ALIGNMENT: usize = 64;
/// NumPy leaves room for the first axis to grow to a number of 21 digits.
const GROWTH_DIGITS: usize = 21;
const BLOCK_SAMPLES: usize = 1 << 20;

pub(super) fn write(output: &Output, values: Values, file: &mut impl Write) -> Result<(), FramesError> {
    let shape = output.shape;
    let (dimensions, first) = if shape.frames == 1 {
        (format!("({}, {})", shape.height_px, shape.width_px), shape.height_px)
    } else {
        (format!("({}, {}, {})", shape.frames, shape.height_px, shape.width_px), shape.frames)
    };
    let descr = match values {
        Values::U8(_) => "|u1",
        Values::U16(_) => "<u2",
        Values::I16(_) => "<i2",
        Values::F32(_) => "<f4",
    };
    let mut header = format!("{{'descr': '{descr}', 'fortran_order': False, 'shape': {dimensions}, }}");
    header.extend(std::iter::repeat_n(' ', GROWTH_DIGITS.saturating_sub(first.to_string().len())));
    // Magic, version and the length itself take ten bytes, the line end one.
    let padding = ALIGNMENT - (10 + header.len() + 1) % ALIGNMENT;
    header.extend(std::iter::repeat_n(' ', padding % ALIGNMENT));
    header.push('\n');
    let io = |e| output.io(e);
    file.write_all(b"\x93NUMPY\x01\x00").map_err(io)?;
    // Three numbers of at most 20 digits: far below 65536.
    file.write_all(&(header.len() as u16).to_le_bytes()).map_err(io)?;
    file.write_all(header.as_bytes()).map_err(io)?;
    match values {
        Values::U8(v) => blocks(output, v, file, |v| v.to_vec()),
        Values::U16(v) => blocks(output, v, file, |v| v.iter().flat_map(|v| v.to_le_bytes()).collect()),
        Values::I16(v) => blocks(output, v, file, |v| to_i16(v).iter().flat_map(|v| v.to_le_bytes()).collect()),
        Values::F32(v) => blocks(output, v, file, |v| v.iter().flat_map(|v| v.to_le_bytes()).collect()),
    }
}

fn blocks<T>(
    output: &Output,
    values: &[T],
    file: &mut impl Write,
    bytes: impl Fn(&[T]) -> Vec<u8>,
) -> Result<(), FramesError> {
    let mut done = 0;
    for block in values.chunks(BLOCK_SAMPLES) {
        file.write_all(&bytes(block)).map_err(|e| output.io(e))?;
        done += block.len();
        output.step(done / output.shape.pixels().max(1))?;
    }
    Ok(())
}
