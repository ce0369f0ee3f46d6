//! AVI: motion-JPEG is decoded here, picture by picture and side by side; any other coding goes to `ffmpeg`.

use std::io::{Read, Seek, SeekFrom};

use image::ImageFormat;
use ndarray::Array3;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

use super::{
    ffmpeg,
    input::Input,
    picture::decode_grey,
    recording::{Recording, Scale},
    riff::{self, AviVideo},
};
use crate::{FramesError, Note, Samples, StackShape};

/// A JPEG block of 64 pixels takes at least one bit.
const MOST_EXPANSION: u64 = 512;

/// An application segment that tells a JPEG decoder to take the standard Huffman tables (ITU-T T.81, annex K.3), which
/// motion-JPEG may leave out.
const STANDARD_TABLES: &[u8] = b"\xFF\xE0\x00\x10AVI1\0\0\0\0\0\0\0\0\0\0";

pub(super) fn read(input: &Input) -> Result<Recording, FramesError> {
    let mut video = riff::walk(&mut input.open()?, input.len)
        .map_err(|problem| input.malformed("AVI", problem, "the file was cut off or damaged; copy it again"))?;
    let mut notes = Vec::new();
    let leading = video.pictures.iter().take_while(|p| p.1 == 0).count();
    video.pictures.drain(..leading);
    let Some(&first) = video.pictures.first() else {
        return Err(input.malformed("AVI", "no pictures inside", "record again"));
    };
    let jpeg = picture(input, first)?;
    if !jpeg.starts_with(&[0xFF, 0xD8]) {
        return other_coding(input, &video);
    }
    let stated = StackShape { frames: 1, height_px: video.height_px as usize, width_px: video.width_px as usize };
    input.check(stated, 1)?;
    input.check_expansion("frame 0", stated.pixels() as u64, jpeg.len() as u64, MOST_EXPANSION)?;
    let (width_px, height_px, _) = decode_grey(input, &with_tables(&jpeg), ImageFormat::Jpeg, "frame 0")?;
    if (width_px, height_px) != (stated.width_px, stated.height_px) {
        // Two fields in one chunk, for instance.
        return other_coding(input, &video);
    }
    let repeated = repeat_empty(&mut video.pictures);
    if leading + repeated > 0 {
        notes.push(Note::new(
            format!("empty frames: {leading} at the start left out, {repeated} later replaced by the frame before"),
            "frames were dropped while recording",
        ));
    }
    let shape = StackShape { frames: video.pictures.len(), ..stated };
    let count = input.check(shape, 1)?;
    let mut samples = vec![0_u8; count];
    let run = shape.frames.div_ceil(rayon::current_num_threads() * 4).max(1);
    let done = AtomicUsize::new(0);
    samples.par_chunks_mut(run * shape.pixels()).zip(video.pictures.par_chunks(run)).enumerate().try_for_each(
        |(block, (out, pictures))| {
            for (i, (out, &at)) in out.chunks_exact_mut(shape.pixels()).zip(pictures).enumerate() {
                decode(input, at, block * run + i, shape, out)?;
                input.step(done.fetch_add(1, Ordering::Relaxed) + 1, shape.frames)?;
            }
            Ok::<_, FramesError>(())
        },
    )?;
    let time_s = if video.rate > 0 && video.scale > 0 {
        let interval_s = f64::from(video.scale) / f64::from(video.rate);
        Some((0..shape.frames).map(|i| i as f64 * interval_s).collect())
    } else {
        notes.push(Note::new("the file does not state its frame rate", "give a capture log with times"));
        None
    };
    Ok(Recording {
        file: input.file.to_owned(),
        description: "AVI, motion-JPEG as 8-bit grey value".to_owned(),
        samples: Samples::U8(
            Array3::from_shape_vec((shape.frames, height_px, width_px), samples)
                .map_err(|e| input.malformed("AVI", e.to_string(), "record again"))?,
        ),
        scale: Scale::Relative,
        names: Vec::new(),
        time_s,
        notes,
    })
}

fn other_coding(input: &Input, video: &AviVideo) -> Result<Recording, FramesError> {
    if input.is_on_disk() {
        return ffmpeg::read(input);
    }
    let coding: String = video.coding.iter().map(|&b| if b.is_ascii_graphic() { char::from(b) } else { '?' }).collect();
    Err(input.unsupported(format!("AVI video coded as '{coding}'")))
}

/// Points empty pictures at the one before. Returns how many there were.
fn repeat_empty(pictures: &mut [(u64, u32)]) -> usize {
    let mut repeated = 0;
    for i in 1..pictures.len() {
        if pictures[i].1 == 0 {
            pictures[i] = pictures[i - 1];
            repeated += 1;
        }
    }
    repeated
}

fn decode(input: &Input, at: (u64, u32), frame: usize, shape: StackShape, out: &mut [u8]) -> Result<(), FramesError> {
    let place = format!("frame {frame}");
    let jpeg = picture(input, at)?;
    let (width_px, height_px, grey) = decode_grey(input, &with_tables(&jpeg), ImageFormat::Jpeg, &place)?;
    if (width_px, height_px) != (shape.width_px, shape.height_px) {
        return Err(input.malformed(
            place,
            format!("mixed sizes: {width_px} x {height_px} pixels, not {} x {}", shape.width_px, shape.height_px),
            "record again with one size",
        ));
    }
    out.copy_from_slice(&grey);
    Ok(())
}

fn picture(input: &Input, (offset, length): (u64, u32)) -> Result<Vec<u8>, FramesError> {
    // `riff::walk` made sure that the chunk lies within the file.
    let mut bytes = vec![0; length as usize];
    let mut source = input.open()?;
    source.seek(SeekFrom::Start(offset)).and_then(|_| source.read_exact(&mut bytes)).map_err(|e| input.io(e))?;
    Ok(bytes)
}

/// Adds the hint for standard tables to a picture that defines none before its scan.
fn with_tables(jpeg: &[u8]) -> std::borrow::Cow<'_, [u8]> {
    let find = |marker: u8| jpeg.windows(2).position(|pair| pair == [0xFF, marker]);
    match (find(0xC4), find(0xDA)) {
        (Some(tables), Some(scan)) if tables < scan => jpeg.into(),
        (_, Some(_)) => [&jpeg[..2], STANDARD_TABLES, &jpeg[2..]].concat().into(),
        _ => jpeg.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empty_pictures_repeat_the_one_before() {
        let mut pictures = [(10, 5), (20, 0), (20, 0), (30, 7)];
        assert_eq!(repeat_empty(&mut pictures), 2);
        assert_eq!(pictures, [(10, 5), (10, 5), (10, 5), (30, 7)]);
    }
}
