//! Plain pictures (JPEG, BMP, GIF, WebP) as relative grey. Animated GIF and WebP give one frame per picture.

use std::io::Cursor;

use image::{
    AnimationDecoder, DynamicImage, Frames, ImageDecoder, ImageFormat, ImageReader, Limits,
    codecs::{gif::GifDecoder, webp::WebPDecoder},
};
use ndarray::Array3;

use super::{
    input::Input,
    luma::luma_8,
    recording::{Recording, Scale},
};
use crate::{FramesError, Samples, StackShape, note::count};

/// The most bytes of grey that one byte of file can become, roomy: a JPEG block of 64 pixels takes at least one bit,
/// a GIF table string of at most 4096 pixels at least three.
const MOST_EXPANSION: u64 = 16_384;

pub(super) fn read(input: &Input, format: ImageFormat) -> Result<Recording, FramesError> {
    let bytes = input.bytes()?;
    let (name, frames) = match format {
        ImageFormat::Jpeg => ("JPEG", None),
        ImageFormat::Bmp => ("BMP", None),
        ImageFormat::Gif => {
            let mut decoder = GifDecoder::new(Cursor::new(bytes.as_ref())).map_err(|e| bad(input, "GIF", &e))?;
            check_size(input, &bytes, format, "GIF")?;
            // A frame may claim to be larger than the picture it lies in: three pictures of four bytes per pixel are
            // all that decoding honest ones takes.
            let (width, height) = decoder.dimensions();
            let mut limits = Limits::default();
            limits.max_alloc = Some(u64::from(width) * u64::from(height) * 12);
            decoder.set_limits(limits).map_err(|e| bad(input, "GIF", &e))?;
            ("GIF", Some(decoder.into_frames()))
        }
        _ => {
            let decoder = WebPDecoder::new(Cursor::new(bytes.as_ref())).map_err(|e| bad(input, "WebP", &e))?;
            ("WebP", decoder.has_animation().then(|| decoder.into_frames()))
        }
    };
    if let Some(frames) = frames {
        check_size(input, &bytes, format, name)?;
        return read_frames(input, name, frames);
    }
    check_size(input, &bytes, format, name)?;
    if format == ImageFormat::Jpeg && !is_whole_jpeg(&bytes) {
        return Err(input.malformed("JPEG", "the picture has no end", "the file was cut off; copy it again"));
    }
    let (width_px, height_px, grey) = decode_grey(input, &bytes, format, name)?;
    recording(input, name, vec![grey], width_px, height_px, None)
}

/// Decodes one picture to grey: width, height, values.
pub(super) fn decode_grey(
    input: &Input,
    bytes: &[u8],
    format: ImageFormat,
    place: &str,
) -> Result<(usize, usize, Vec<u8>), FramesError> {
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    // Colour takes up to four bytes per pixel, and decoders keep a copy.
    limits.max_alloc = Some(input.options.memory_limit_bytes.saturating_mul(8));
    reader.limits(limits);
    let image = reader.decode().map_err(|e| bad(input, place, &e))?;
    let (width_px, height_px) = (image.width() as usize, image.height() as usize);
    let rgb = |values: &[u8], channels| values.chunks_exact(channels).map(|p| luma_8(p[0], p[1], p[2])).collect();
    let grey = match image {
        DynamicImage::ImageLuma8(grey) => grey.into_raw(),
        DynamicImage::ImageLumaA8(grey) => grey.as_raw().chunks_exact(2).map(|p| p[0]).collect(),
        DynamicImage::ImageRgb8(colour) => rgb(colour.as_raw(), 3),
        DynamicImage::ImageRgba8(colour) => rgb(colour.as_raw(), 4),
        other => rgb(other.to_rgb8().as_raw(), 3),
    };
    Ok((width_px, height_px, grey))
}

/// Checks the stated size before any pixel is decoded.
fn check_size(input: &Input, bytes: &[u8], format: ImageFormat, place: &str) -> Result<(), FramesError> {
    let (width, height) =
        ImageReader::with_format(Cursor::new(bytes), format).into_dimensions().map_err(|e| bad(input, place, &e))?;
    let shape = StackShape { frames: 1, height_px: height as usize, width_px: width as usize };
    let count = input.check(shape, 1)?;
    if format == ImageFormat::WebP {
        // Its lossless coding needs no bits at all for a plain area; the format itself ends at 16384 x 16384 pixels.
        return Ok(());
    }
    input.check_expansion(place, count as u64, bytes.len() as u64, MOST_EXPANSION)
}

fn read_frames(input: &Input, name: &str, frames: Frames) -> Result<Recording, FramesError> {
    let mut pictures: Vec<Vec<u8>> = Vec::new();
    let (mut size, mut time_s, mut clock_s) = (None, Vec::new(), 0.0);
    for frame in frames {
        let frame = frame.map_err(|e| bad(input, &format!("frame {}", pictures.len()), &e))?;
        let (numerator_ms, denominator) = frame.delay().numer_denom_ms();
        time_s.push(clock_s);
        clock_s += f64::from(numerator_ms) / f64::from(denominator.max(1)) / 1000.0;
        let buffer = frame.buffer();
        let (width_px, height_px) = (buffer.width() as usize, buffer.height() as usize);
        let &mut (width_px, height_px) = size.get_or_insert((width_px, height_px));
        input.check(StackShape { frames: pictures.len() + 1, height_px, width_px }, 1)?;
        pictures.push(buffer.as_raw().chunks_exact(4).map(|p| luma_8(p[0], p[1], p[2])).collect());
        // How many follow is not written anywhere.
        input.step(pictures.len(), pictures.len() + 1)?;
    }
    let Some((width_px, height_px)) = size else {
        return Err(input.malformed(name, "no picture inside", "export it again"));
    };
    // Pictures that ask to be shown for no time at all carry no clock.
    let steady = time_s.len() > 1 && time_s.windows(2).all(|pair| pair[1] > pair[0]);
    recording(input, name, pictures, width_px, height_px, steady.then_some(time_s))
}

fn recording(
    input: &Input,
    name: &str,
    pictures: Vec<Vec<u8>>,
    width_px: usize,
    height_px: usize,
    time_s: Option<Vec<f64>>,
) -> Result<Recording, FramesError> {
    let frames = pictures.len();
    let samples = Array3::from_shape_vec((frames, height_px, width_px), pictures.concat())
        .map_err(|e| input.malformed(name, e.to_string(), "export it again"))?;
    Ok(Recording {
        file: input.file.to_owned(),
        description: format!("{name}, {} of 8-bit grey value", count(frames, "frame")),
        samples: Samples::U8(samples),
        scale: Scale::Relative,
        names: Vec::new(),
        time_s,
        notes: Vec::new(),
    })
}

/// Whether the end marker follows the last scan. Decoders fill what is missing with grey, which would look like heat.
/// Inside a scan `FF` is always followed by `00` or a restart marker (ITU-T T.81, B.1.1.5), so the search is safe.
fn is_whole_jpeg(bytes: &[u8]) -> bool {
    let last = |marker: u8| bytes.windows(2).rposition(|pair| pair == [0xFF, marker]);
    matches!((last(0xDA), last(0xD9)), (Some(scan), Some(end)) if end > scan)
}

fn bad(input: &Input, place: &str, error: &image::ImageError) -> FramesError {
    input.malformed(place, error.to_string(), "copy or export the picture again")
}
