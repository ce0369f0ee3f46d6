//! NPY arrays and NPZ archives: two axes are one frame `[y, x]`, three are `[t, y, x]`.

use std::io::{Read, Seek};

use bytemuck::Pod;
use ndarray::{Array3, ShapeBuilder};

use super::{
    finite,
    input::Input,
    npy_header::{self, Element, Header, MOST_HEADER_BYTES},
    recording::{Recording, Scale},
};
use crate::{FramesError, Note, Samples, StackShape};

pub(super) const MAGIC: &[u8] = b"\x93NUMPY";

/// Samples are read in blocks, between which progress is told.
const BLOCK_SAMPLES: usize = 1 << 20;

/// The most that deflate makes of one byte (RFC 1951).
const DEFLATE_EXPANSION: u64 = 1032;

pub(super) fn read(input: &Input) -> Result<Recording, FramesError> {
    let mut source = input.open()?;
    let header = header(input, &mut source)?;
    let at = source.stream_position().map_err(|e| input.io(e))?;
    array(input, &mut source, &header, "NPY", |needed| {
        let held = input.len.saturating_sub(at);
        if held < needed {
            return Err(input.malformed(
                "data",
                format!("the header promises {needed} bytes, but only {held} follow"),
                "the file was cut off; copy it again",
            ));
        }
        Ok(())
    })
}

pub(super) fn read_npz(input: &Input) -> Result<Recording, FramesError> {
    let mut archive = zip::ZipArchive::new(input.open()?)
        .map_err(|e| input.malformed("archive", e.to_string(), "save the frames again with numpy.savez"))?;
    for index in 0..archive.len() {
        let bad = |e: zip::result::ZipError| {
            input.malformed(format!("entry {index}"), e.to_string(), "save the frames again with numpy.savez")
        };
        let mut entry = archive.by_index(index).map_err(bad)?;
        let name = printable(&entry.name().map_err(bad)?);
        let Some(array_name) = name.strip_suffix(".npy") else { continue };
        let header = header(input, &mut entry)?;
        if !matches!(header.shape.len(), 2 | 3) {
            continue;
        }
        let packed = entry.compressed_size().min(input.len);
        let ratio = if entry.compression() == zip::CompressionMethod::Stored { 1 } else { DEFLATE_EXPANSION };
        let mut recording = array(input, &mut entry, &header, "NPZ", |needed| {
            input.check_expansion(&format!("array {array_name}"), needed, packed, ratio)
        })?;
        recording.description = format!("{}, array {array_name}", recording.description);
        drop(entry);
        if archive.len() > 1 {
            recording.notes.push(Note::new(
                format!("only array {array_name} was read, the archive has {} entries", archive.len()),
                "save the frames alone when it is not the right one",
            ));
        }
        return Ok(recording);
    }
    Err(input.malformed("archive", "no array with two or three axes", "save frames as [t, y, x] with numpy.savez"))
}

fn printable(name: &str) -> String {
    name.chars().filter(|c| !c.is_control()).take(60).collect()
}

/// Reads magic, version and dictionary; the source is then at the first sample.
fn header(input: &Input, source: &mut impl Read) -> Result<Header, FramesError> {
    let cut = |_| input.malformed("header", "the file ends inside the header", "the file was cut off; copy it again");
    let damaged = |problem: &str| input.malformed("header", problem, "save the array again with numpy.save");
    let mut start = [0; 8];
    source.read_exact(&mut start).map_err(cut)?;
    if &start[..6] != MAGIC {
        return Err(damaged("not an NPY array"));
    }
    let length = match (start[6], start[7]) {
        (1, 0) => {
            let mut length = [0; 2];
            source.read_exact(&mut length).map_err(cut)?;
            usize::from(u16::from_le_bytes(length))
        }
        (2 | 3, 0) => {
            let mut length = [0; 4];
            source.read_exact(&mut length).map_err(cut)?;
            u32::from_le_bytes(length) as usize
        }
        (major, minor) => return Err(damaged(&format!("unknown NPY version {major}.{minor}"))),
    };
    if length > MOST_HEADER_BYTES {
        return Err(damaged(&format!("a header of {length} bytes is longer than any plain array needs")));
    }
    let mut text = vec![0; length];
    source.read_exact(&mut text).map_err(cut)?;
    // Version 1 and 2 say Latin-1, 3 says UTF-8; all that is accepted below is ASCII.
    let text = str::from_utf8(&text).map_err(|_| damaged("the header is not plain text"))?;
    npy_header::parse(text).map_err(|(problem, remedy)| input.malformed("header", problem, remedy))
}

/// Reads the samples that follow the header. `holds` checks a number of bytes against what the file has.
fn array(
    input: &Input,
    source: &mut impl Read,
    header: &Header,
    kind: &str,
    holds: impl Fn(u64) -> Result<(), FramesError>,
) -> Result<Recording, FramesError> {
    let shape = match header.shape[..] {
        [height_px, width_px] => StackShape { frames: 1, height_px, width_px },
        [frames, height_px, width_px] => StackShape { frames, height_px, width_px },
        _ => {
            return Err(input.malformed(
                "header",
                format!("an array with {} axes", header.shape.len()),
                "save frames as [t, y, x], or one frame as [y, x]",
            ));
        }
    };
    // Fortran order is turned round in a second copy.
    let in_memory = match header.element {
        Element::U1 => 1,
        Element::U2 => 2,
        _ => 4,
    } * if header.fortran_order { 2 } else { 1 };
    let count = input.check(shape, in_memory)?;
    holds((count as u64).saturating_mul(header.element.bytes() as u64))?;
    let big = header.big_endian;
    let samples = match header.element {
        Element::U1 => Samples::U8(ordered(input, shape, header, plain(input, source, count, shape, |v: u8| v)?)?),
        Element::U2 => Samples::U16(ordered(
            input,
            shape,
            header,
            plain(input, source, count, shape, |v: u16| if big { u16::from_be(v) } else { u16::from_le(v) })?,
        )?),
        Element::F4 => {
            let order =
                |v: f32| f32::from_bits(if big { u32::from_be(v.to_bits()) } else { u32::from_le(v.to_bits()) });
            Samples::F32(ordered(input, shape, header, plain(input, source, count, shape, order)?)?)
        }
        Element::I1 => {
            let values = converted(input, source, count, shape, |v: i8| f32::from(v))?;
            Samples::F32(ordered(input, shape, header, values)?)
        }
        Element::I2 => {
            let order = |v: i16| f32::from(if big { i16::from_be(v) } else { i16::from_le(v) });
            Samples::F32(ordered(input, shape, header, converted(input, source, count, shape, order)?)?)
        }
        Element::F8 => {
            let order = |v: u64| f64::from_bits(if big { u64::from_be(v) } else { u64::from_le(v) }) as f32;
            Samples::F32(ordered(input, shape, header, converted(input, source, count, shape, order)?)?)
        }
    };
    let mut notes = finite::check(input, &samples, |frame| format!("frame {frame}"))?;
    let (words, scale) = match header.element {
        Element::U1 => ("8-bit values", Scale::Relative),
        Element::I1 => ("signed 8-bit values", Scale::Relative),
        Element::U2 => ("16-bit counts", Scale::Counts { bits: 16 }),
        Element::I2 => ("signed 16-bit counts", Scale::Counts { bits: 16 }),
        Element::F4 => ("32-bit floating point", Scale::Kelvin),
        Element::F8 => {
            notes.push(super::rounded_note());
            ("64-bit floating point", Scale::Kelvin)
        }
    };
    Ok(Recording {
        file: input.file.to_owned(),
        description: format!("{kind}, {words}"),
        samples,
        scale,
        names: Vec::new(),
        time_s: None,
        notes,
    })
}

/// Samples whose type stays: read straight into their place.
fn plain<T: Pod>(
    input: &Input,
    source: &mut impl Read,
    count: usize,
    shape: StackShape,
    order: impl Fn(T) -> T,
) -> Result<Vec<T>, FramesError> {
    let mut values = vec![T::zeroed(); count];
    for (block, values) in values.chunks_mut(BLOCK_SAMPLES).enumerate() {
        source.read_exact(bytemuck::cast_slice_mut(values)).map_err(|_| cut(input))?;
        values.iter_mut().for_each(|v| *v = order(*v));
        input.step(frames_done(block, shape), shape.frames)?;
    }
    Ok(values)
}

/// Samples that become 32-bit floating point.
fn converted<T: Pod>(
    input: &Input,
    source: &mut impl Read,
    count: usize,
    shape: StackShape,
    convert: impl Fn(T) -> f32,
) -> Result<Vec<f32>, FramesError> {
    let mut values = vec![0.0; count];
    let mut raw = vec![T::zeroed(); BLOCK_SAMPLES.min(count)];
    for (block, values) in values.chunks_mut(BLOCK_SAMPLES).enumerate() {
        let raw = &mut raw[..values.len()];
        source.read_exact(bytemuck::cast_slice_mut(raw)).map_err(|_| cut(input))?;
        for (value, &raw) in values.iter_mut().zip(raw.iter()) {
            *value = convert(raw);
        }
        input.step(frames_done(block, shape), shape.frames)?;
    }
    Ok(values)
}

fn frames_done(block: usize, shape: StackShape) -> usize {
    ((block + 1) * BLOCK_SAMPLES / shape.pixels()).min(shape.frames)
}

fn cut(input: &Input) -> FramesError {
    input.malformed("data", "the samples end early", "the file was cut off; copy it again")
}

fn ordered<T: Clone>(
    input: &Input,
    shape: StackShape,
    header: &Header,
    values: Vec<T>,
) -> Result<Array3<T>, FramesError> {
    let shape = (shape.frames, shape.height_px, shape.width_px);
    let array = if header.fortran_order {
        // A single frame keeps its order: a leading axis of one element changes nothing.
        Array3::from_shape_vec(shape.f(), values).map(|a| a.as_standard_layout().into_owned())
    } else {
        Array3::from_shape_vec(shape, values)
    };
    // The length is the product of the shape, so this cannot fail.
    array.map_err(|e| input.malformed("data", e.to_string(), "save the array again with numpy.save"))
}
