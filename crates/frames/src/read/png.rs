//! PNG: 16-bit grey as exact counts, everything else as relative grey. Chunks that only concern display (gAMA, sBIT,
//! iCCP, tRNS) never alter a value.

use std::io::Cursor;

use ndarray::Array3;
use png::{BitDepth, ColorType, Decoder, DecodingError, Limits, Transformations};

use super::{
    input::Input,
    luma::{luma_8, luma_16},
    recording::{Recording, Scale},
};
use crate::{FramesError, Note, Samples, StackShape};

pub(super) const MAGIC: &[u8] = b"\x89PNG\r\n\x1a\n";

/// The most that deflate makes of one byte (RFC 1951).
const DEFLATE_EXPANSION: u64 = 1032;

pub(super) fn read(input: &Input) -> Result<Recording, FramesError> {
    let bad = |e: DecodingError| input.malformed("PNG", e.to_string(), "copy or export the picture again");
    let bytes = input.bytes()?;
    let limits = Limits { bytes: usize::try_from(input.options.memory_limit_bytes).unwrap_or(usize::MAX) };
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes.as_ref()), limits);
    decoder.set_ignore_text_chunk(true);
    decoder.set_ignore_iccp_chunk(true);
    // Palettes and fewer than 8 bits are spread to 8 bits; 16-bit samples are never touched by this.
    decoder.set_transformations(Transformations::EXPAND);
    let mut reader = decoder.read_info().map_err(bad)?;
    let (colour, depth) = (reader.info().color_type, reader.info().bit_depth);
    let (width_px, height_px) = (reader.info().width as usize, reader.info().height as usize);
    let shape = StackShape { frames: 1, height_px, width_px };
    let count = input.check(shape, if depth == BitDepth::Sixteen { 2 } else { 1 })?;
    let (out_colour, _) = reader.output_color_type();
    let needed = reader.output_buffer_size().ok_or_else(|| bad(DecodingError::LimitsExceeded))?;
    input.check_bytes(needed as u64)?;
    // One bit per pixel becomes one byte and a palette entry four, hence the factor on what deflate can do.
    input.check_expansion("PNG header", needed as u64, input.len, DEFLATE_EXPANSION * 32)?;
    let animated = reader.info().animation_control.is_some();
    let mut pixels = vec![0; needed];
    reader.next_frame(&mut pixels).map_err(bad)?;
    let channels = out_colour.samples();
    let coloured = channels >= 3;
    let array = |e: ndarray::ShapeError| input.malformed("PNG", e.to_string(), "export the picture again");
    let dimensions = (1, height_px, width_px);
    let samples = if depth == BitDepth::Sixteen {
        let value = |p: &[u8], i: usize| u16::from_be_bytes([p[2 * i], p[2 * i + 1]]);
        let grey = pixels
            .chunks_exact(2 * channels)
            .map(|p| if coloured { luma_16(value(p, 0), value(p, 1), value(p, 2)) } else { value(p, 0) });
        Samples::U16(Array3::from_shape_vec(dimensions, grey.take(count).collect()).map_err(array)?)
    } else {
        let grey = pixels.chunks_exact(channels).map(|p| if coloured { luma_8(p[0], p[1], p[2]) } else { p[0] });
        Samples::U8(Array3::from_shape_vec(dimensions, grey.take(count).collect()).map_err(array)?)
    };
    let counts = depth == BitDepth::Sixteen && matches!(colour, ColorType::Grayscale | ColorType::GrayscaleAlpha);
    let mut notes = Vec::new();
    if animated {
        notes.push(Note::new("only the first picture of an animated PNG was read", "save the frames as single files"));
    }
    Ok(Recording {
        file: input.file.to_owned(),
        description: format!("PNG, {}-bit {}", depth as u8, colour_words(colour)),
        samples,
        scale: if counts { Scale::Counts { bits: 16 } } else { Scale::Relative },
        names: Vec::new(),
        time_s: None,
        notes,
    })
}

fn colour_words(colour: ColorType) -> &'static str {
    match colour {
        ColorType::Grayscale => "grey",
        ColorType::GrayscaleAlpha => "grey with transparency",
        ColorType::Indexed => "palette",
        ColorType::Rgb | ColorType::Rgba => "colour",
    }
}
