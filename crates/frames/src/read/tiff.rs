//! TIFF and BigTIFF, one page per frame. The `tiff` crate decodes; here pages are surveyed and checked before anything
//! is allocated, then decoded side by side, each worker with a decoder of its own.

use ndarray::Array3;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};
use tiff::{
    ColorType, TiffError,
    decoder::{Decoder, DecodingResult, Limits},
    tags::{CompressionMethod, PhotometricInterpretation, SampleFormat, Tag},
};

use super::{
    finite,
    input::{Input, Source},
    luma::luma_8,
    recording::{Recording, Scale},
};
use crate::{FramesError, Note, Samples, StackShape, note::count};

/// Most bytes that one compressed byte can become: deflate 1032 (RFC 1951: 258 bytes for two bits), LZW a table string
/// of at most 4096 bytes for 9 bits or more, PackBits 128 bytes for two.
const MOST_EXPANSION: u64 = 4096;

/// Directories, comments and profiles beside the pictures rarely take more.
const MOST_HEADER_BYTES: u64 = 64 << 10;

/// How a page stores its samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Pixel {
    U8,
    U16,
    I8,
    I16,
    F16,
    F32,
    F64,
    /// 8-bit colour with this many samples per pixel, the first three red, green and blue.
    Colour(usize),
}

impl Pixel {
    fn words(self) -> &'static str {
        match self {
            Self::U8 => "8-bit grey",
            Self::U16 => "16-bit grey",
            Self::I8 => "signed 8-bit grey",
            Self::I16 => "signed 16-bit grey",
            Self::F16 => "16-bit floating point",
            Self::F32 => "32-bit floating point",
            Self::F64 => "64-bit floating point",
            Self::Colour(_) => "8-bit colour",
        }
    }

    fn scale(self) -> Scale {
        match self {
            Self::U8 | Self::I8 | Self::Colour(_) => Scale::Relative,
            Self::U16 | Self::I16 => Scale::Counts { bits: 16 },
            Self::F16 | Self::F32 | Self::F64 => Scale::Kelvin,
        }
    }

    /// Bytes per pixel in memory, while decoding one page and in the stack.
    fn bytes(self) -> usize {
        match self {
            Self::U8 | Self::Colour(_) => 1,
            Self::U16 => 2,
            _ => 4,
        }
    }
}

/// One page that is a frame.
struct Page {
    /// Index in the file's list of pages, thumbnails included.
    index: usize,
    width_px: usize,
    height_px: usize,
    pixel: Pixel,
    compression: CompressionMethod,
    white_is_zero: bool,
    packed_bytes: u64,
}

type Pages<'a> = Decoder<Source<'a>>;

pub(super) fn read(input: &Input) -> Result<Recording, FramesError> {
    let (pages, mut notes) = survey(input)?;
    let first = &pages[0];
    let shape = StackShape { frames: pages.len(), height_px: first.height_px, width_px: first.width_px };
    input.check(shape, first.pixel.bytes())?;
    for page in &pages {
        check_page(input, first, page)?;
    }
    if first.white_is_zero && first.pixel == Pixel::U16 {
        notes.push(Note::new(
            "the file asks for low counts to be shown white",
            "counts were kept as stored; if the camera stored them inverted, state a law with a negative gain",
        ));
    }
    let samples = match first.pixel {
        Pixel::U8 => Samples::U8(decode(input, &pages, shape, |result, from, out: &mut [u8]| match result {
            DecodingResult::U8(v) => out.copy_from_slice(&v[from..][..out.len()]),
            _ => out.fill(0),
        })?),
        Pixel::Colour(channels) => {
            Samples::U8(decode(input, &pages, shape, |result, from, out: &mut [u8]| match result {
                DecodingResult::U8(v) => {
                    let colours = v[from * channels..].chunks_exact(channels);
                    out.iter_mut().zip(colours).for_each(|(grey, c)| *grey = luma_8(c[0], c[1], c[2]));
                }
                _ => out.fill(0),
            })?)
        }
        Pixel::U16 => {
            let turn = if first.white_is_zero { u16::MAX } else { 0 };
            Samples::U16(decode(input, &pages, shape, |result, from, out: &mut [u16]| match result {
                // The crate turns inverted pages over; this turns them back, see the note.
                DecodingResult::U16(v) => out.iter_mut().zip(&v[from..]).for_each(|(out, &v)| *out = v ^ turn),
                _ => out.fill(0),
            })?)
        }
        _ => Samples::F32(decode(input, &pages, shape, |result, from, out: &mut [f32]| match result {
            DecodingResult::I8(v) => fill(out, &v[from..], f32::from),
            DecodingResult::I16(v) => fill(out, &v[from..], f32::from),
            DecodingResult::F16(v) => fill(out, &v[from..], |v| v.to_f32()),
            DecodingResult::F32(v) => out.copy_from_slice(&v[from..][..out.len()]),
            DecodingResult::F64(v) => fill(out, &v[from..], |v| v as f32),
            _ => out.fill(f32::NAN),
        })?),
    };
    if first.pixel == Pixel::F64 {
        notes.push(super::rounded_note());
    }
    notes.extend(finite::check(input, &samples, |frame| format!("frame {frame}"))?);
    Ok(Recording {
        file: input.file.to_owned(),
        description: format!(
            "TIFF, {} of {}, {}",
            count(pages.len(), "page"),
            first.pixel.words(),
            compression_words(first.compression)
        ),
        samples,
        scale: first.pixel.scale(),
        names: Vec::new(),
        time_s: None,
        notes,
    })
}

/// Walks the list of pages without decoding any.
fn survey(input: &Input) -> Result<(Vec<Page>, Vec<Note>), FramesError> {
    let mut decoder = open(input)?;
    let (mut pages, mut skipped) = (Vec::new(), Vec::new());
    for index in 0.. {
        if index > 0 {
            if !decoder.more_images() {
                break;
            }
            decoder.next_image().map_err(|e| header_error(input, index, &e))?;
        }
        if index % 64 == 0 {
            input.step(0, 1)?;
        }
        let kind: u32 =
            decoder.find_tag_unsigned(Tag::NewSubfileType).map_err(|e| header_error(input, index, &e))?.unwrap_or(0);
        // TIFF 6.0, section 8: bit 0 is a reduced-resolution version, bit 2 a transparency mask of another page.
        if kind & 0b101 != 0 {
            skipped.push(index);
            continue;
        }
        pages.push(survey_page(input, &mut decoder, index)?);
    }
    if pages.is_empty() {
        return Err(input.malformed("file", "no page is a full picture", "export the frames again"));
    }
    // Some writers put all frames of a long recording behind one page and say so only in a comment of their own.
    let described: u64 = pages.iter().map(|page| page.packed_bytes).sum();
    let beyond = input.len.saturating_sub(described);
    let plain = pages.len() == 1 && pages[0].compression == CompressionMethod::None;
    let notes = match skipped.len() {
        0 if plain && beyond > described + MOST_HEADER_BYTES => vec![Note::new(
            format!("the file has one page of {described} bytes, but {beyond} bytes that belong to no page"),
            "if frames are missing, export them as one page each",
        )],
        0 => Vec::new(),
        n => {
            vec![Note::new(
                format!("skipped {}, the first is page {}", count(n, "reduced-resolution page"), skipped[0]),
                "",
            )]
        }
    };
    Ok((pages, notes))
}

fn survey_page(input: &Input, decoder: &mut Pages, index: usize) -> Result<Page, FramesError> {
    let error = |e: TiffError| header_error(input, index, &e);
    let (width, height) = decoder.dimensions().map_err(error)?;
    let format =
        decoder.find_tag_unsigned_vec::<u16>(Tag::SampleFormat).map_err(error)?.and_then(|v| v.first().copied());
    let format = SampleFormat::from_u16_exhaustive(format.unwrap_or(1));
    let colour = decoder.colortype().map_err(error)?;
    let pixel = match (colour, format) {
        (ColorType::Gray(8), SampleFormat::Uint) => Pixel::U8,
        (ColorType::Gray(16), SampleFormat::Uint) => Pixel::U16,
        (ColorType::Gray(8), SampleFormat::Int) => Pixel::I8,
        (ColorType::Gray(16), SampleFormat::Int) => Pixel::I16,
        (ColorType::Gray(16), SampleFormat::IEEEFP) => Pixel::F16,
        (ColorType::Gray(32), SampleFormat::IEEEFP) => Pixel::F32,
        (ColorType::Gray(64), SampleFormat::IEEEFP) => Pixel::F64,
        (ColorType::RGB(8), SampleFormat::Uint) => Pixel::Colour(3),
        (ColorType::RGBA(8), SampleFormat::Uint) => Pixel::Colour(4),
        _ => {
            return Err(input.unsupported(format!(
                "TIFF page {index} holds {colour:?} samples of type {format:?}, not 8- or 16-bit or floating-point grey"
            )));
        }
    };
    let unsigned = |decoder: &mut Pages, tag| decoder.find_tag_unsigned::<u16>(tag).map_err(error);
    let compression = unsigned(decoder, Tag::Compression)?.unwrap_or(1);
    let photometric = unsigned(decoder, Tag::PhotometricInterpretation)?.unwrap_or(1);
    let planar = unsigned(decoder, Tag::PlanarConfiguration)?.unwrap_or(1);
    if planar != 1 && matches!(pixel, Pixel::Colour(_)) {
        return Err(input.unsupported(format!("TIFF page {index} stores its colours in separate planes")));
    }
    let white_is_zero =
        PhotometricInterpretation::from_u16(photometric) == Some(PhotometricInterpretation::WhiteIsZero);
    if white_is_zero && !matches!(pixel, Pixel::U8 | Pixel::U16) {
        // The crate would return 1 - v, which rounds.
        return Err(input.malformed(
            format!("page {index}"),
            format!("{} with photometric interpretation 0 (white is zero)", pixel.words()),
            "export the frames with photometric interpretation 1 (black is zero)",
        ));
    }
    let list = |decoder: &mut Pages, strips, tiles| -> Result<Vec<u64>, FramesError> {
        let found = decoder.find_tag_unsigned_vec(strips).map_err(error)?;
        Ok(match found {
            Some(values) => values,
            None => decoder.find_tag_unsigned_vec(tiles).map_err(error)?.unwrap_or_default(),
        })
    };
    let offsets = list(decoder, Tag::StripOffsets, Tag::TileOffsets)?;
    let lengths = list(decoder, Tag::StripByteCounts, Tag::TileByteCounts)?;
    let mut packed_bytes = 0_u64;
    for (&offset, &length) in offsets.iter().zip(&lengths) {
        let end = offset.saturating_add(length);
        if end > input.len {
            return Err(input.malformed(
                format!("page {index}"),
                format!("its data end at byte {end}, but the file has only {} bytes", input.len),
                "the file was cut off; copy it again",
            ));
        }
        packed_bytes = packed_bytes.saturating_add(length);
    }
    Ok(Page {
        index,
        width_px: width as usize,
        height_px: height as usize,
        pixel,
        compression: CompressionMethod::from_u16_exhaustive(compression),
        white_is_zero,
        packed_bytes,
    })
}

/// All frames must be alike, and none may promise more than its bytes can hold.
fn check_page(input: &Input, first: &Page, page: &Page) -> Result<(), FramesError> {
    let size = (page.width_px, page.height_px);
    if size != (first.width_px, first.height_px) {
        return Err(input.malformed(
            format!("page {}", page.index),
            format!(
                "mixed sizes: {} x {} pixels, but page {} has {} x {}",
                size.0, size.1, first.index, first.width_px, first.height_px
            ),
            "keep only pages of one size, or mark thumbnails as reduced-resolution pages",
        ));
    }
    if page.pixel != first.pixel {
        return Err(input.malformed(
            format!("page {}", page.index),
            format!("{}, but page {} holds {}", page.pixel.words(), first.index, first.pixel.words()),
            "keep only pages of one type",
        ));
    }
    let ratio = if page.compression == CompressionMethod::None { 1 } else { MOST_EXPANSION };
    let stored = match page.pixel {
        Pixel::U8 | Pixel::I8 => 1,
        Pixel::U16 | Pixel::I16 | Pixel::F16 => 2,
        Pixel::F32 => 4,
        Pixel::F64 => 8,
        Pixel::Colour(channels) => channels as u64,
    };
    let needed = (page.width_px as u64).saturating_mul(page.height_px as u64).saturating_mul(stored);
    input.check_expansion(&format!("page {}", page.index), needed, page.packed_bytes, ratio)
}

/// Decodes pages side by side into one array. `place` copies as many pixels as `out` has, from the given pixel of
/// what was decoded on; the survey made sure of the type.
fn decode<T: Copy + Default + Send>(
    input: &Input,
    pages: &[Page],
    shape: StackShape,
    place: impl Fn(&DecodingResult, usize, &mut [T]) + Sync,
) -> Result<Array3<T>, FramesError> {
    let mut samples = vec![T::default(); shape.frames * shape.pixels()];
    // A few runs of pages per thread: each run walks the list of pages once, and uneven runs still even out.
    let run = pages.len().div_ceil(rayon::current_num_threads() * 4).max(1);
    let done = AtomicUsize::new(0);
    samples.par_chunks_mut(run * shape.pixels()).zip(pages.par_chunks(run)).try_for_each(|(out, pages)| {
        let mut limits = Limits::default();
        limits.decoding_buffer_size = usize::try_from(input.options.memory_limit_bytes).unwrap_or(usize::MAX);
        limits.intermediate_buffer_size = usize::try_from(input.len).unwrap_or(usize::MAX);
        let mut decoder = open(input)?.with_limits(limits);
        let mut result = DecodingResult::U8(Vec::new());
        for (out, page) in out.chunks_exact_mut(shape.pixels()).zip(pages) {
            decoder
                .seek_to_image(page.index)
                .and_then(|()| decode_page(&mut decoder, &mut result, shape, out, &place))
                .map_err(|e| page_error(input, page, &e))?;
            input.step(done.fetch_add(1, Ordering::Relaxed) + 1, shape.frames)?;
        }
        Ok(())
    })?;
    // The length is the product of the shape, so this cannot fail.
    Array3::from_shape_vec((shape.frames, shape.height_px, shape.width_px), samples)
        .map_err(|e| input.malformed("file", e.to_string(), "export the frames again"))
}

/// Decodes one page, strip by strip or tile by tile. Tiles are taken whole, with the part beyond the picture's edge:
/// version 0.11 of the crate reads cut LZW tiles row by row, and its LZW decoder then misses the last bytes.
fn decode_page<T>(
    decoder: &mut Pages,
    result: &mut DecodingResult,
    shape: StackShape,
    out: &mut [T],
    place: &impl Fn(&DecodingResult, usize, &mut [T]),
) -> Result<(), TiffError> {
    let (chunk_width, chunk_height) = decoder.chunk_dimensions();
    let (chunk_width, chunk_height) = (chunk_width as usize, chunk_height as usize);
    let chunk_row_bytes = chunk_width
        .checked_mul(
            usize::from(decoder.colortype()?.bit_depth()) / 8 * usize::from(decoder.colortype()?.num_samples()),
        )
        .ok_or(TiffError::LimitsExceeded)?;
    let across = shape.width_px.div_ceil(chunk_width);
    let down = shape.height_px.div_ceil(chunk_height);
    for index in 0..across * down {
        let (left, top) = (index % across * chunk_width, index / across * chunk_height);
        let index = u32::try_from(index).map_err(|_| TiffError::IntSizeError)?;
        decoder.read_chunk_to_buffer(result, index, chunk_row_bytes)?;
        let columns = chunk_width.min(shape.width_px - left);
        for row in 0..chunk_height.min(shape.height_px - top) {
            let to = (top + row) * shape.width_px + left;
            place(result, row * chunk_width, &mut out[to..to + columns]);
        }
    }
    Ok(())
}

fn open<'a>(input: &Input<'a>) -> Result<Pages<'a>, FramesError> {
    Decoder::new(input.open()?).map_err(|e| header_error(input, 0, &e))
}

fn fill<T: Copy>(out: &mut [f32], values: &[T], convert: impl Fn(T) -> f32) {
    for (out, &value) in out.iter_mut().zip(values) {
        *out = convert(value);
    }
}

fn header_error(input: &Input, index: usize, error: &TiffError) -> FramesError {
    input.malformed(format!("header of page {index}"), error.to_string(), "copy or export the file again")
}

fn page_error(input: &Input, page: &Page, error: &TiffError) -> FramesError {
    input.malformed(format!("page {}", page.index), error.to_string(), "copy or export the file again")
}

fn compression_words(method: CompressionMethod) -> &'static str {
    match method {
        CompressionMethod::None => "not compressed",
        CompressionMethod::LZW => "LZW",
        CompressionMethod::Deflate | CompressionMethod::OldDeflate => "deflate",
        CompressionMethod::PackBits => "PackBits",
        CompressionMethod::ModernJPEG | CompressionMethod::JPEG => "JPEG",
        _ => "compressed",
    }
}
