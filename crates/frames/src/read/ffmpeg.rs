//! Video that only a full decoder reads, through an installed general-purpose `ffmpeg` run as a program of its own:
//! `ffprobe` tells size and times, `ffmpeg` writes grey frames into a pipe.

use std::{ffi::OsString, io};

use bytemuck::Pod;
use ndarray::Array3;

use super::{
    input::Input,
    process::{Piece, Process},
    recording::{Recording, Scale},
};
use crate::{FramesError, Note, Samples, StackShape};

/// The two programs; tests name others.
#[derive(Clone, Copy)]
pub(super) struct Programs {
    pub probe: &'static str,
    pub decode: &'static str,
}

pub(super) fn read(input: &Input) -> Result<Recording, FramesError> {
    read_with(input, Programs { probe: "ffprobe", decode: "ffmpeg" })
}

pub(super) fn read_with(input: &Input, programs: Programs) -> Result<Recording, FramesError> {
    if !input.is_on_disk() {
        return Err(input.unsupported("a video in memory, which no other program can open"));
    }
    let about = probe(input, programs.probe)?;
    let frame = StackShape { frames: 1, height_px: about.height_px, width_px: about.width_px };
    let deep = about.pixel_format.starts_with("gray1");
    let expected = about.time_s.len();
    input.check(StackShape { frames: expected.max(1), ..frame }, if deep { 2 } else { 1 })?;
    let (samples, mut notes) = if deep {
        let (values, notes) = decode::<u16>(input, programs.decode, frame, expected, "gray16le")?;
        // The pipe is little-endian whatever the machine.
        let values: Vec<u16> = values.into_iter().map(u16::from_le).collect();
        (Samples::U16(shaped(input, values, frame)?), notes)
    } else {
        let (values, notes) = decode::<u8>(input, programs.decode, frame, expected, "gray")?;
        (Samples::U8(shaped(input, values, frame)?), notes)
    };
    let frames = samples.shape().frames;
    let time_s = about.times(frames);
    if time_s.is_none() {
        notes.push(Note::new("the video does not state its frame times", "give a capture log with times"));
    }
    Ok(Recording {
        file: input.file.to_owned(),
        description: format!("video as {}-bit grey value, coded as {}", if deep { 16 } else { 8 }, about.coding),
        samples,
        scale: Scale::Relative,
        names: Vec::new(),
        time_s,
        notes,
    })
}

/// What `ffprobe` says about the first video stream.
#[derive(Debug, Default, PartialEq)]
struct About {
    width_px: usize,
    height_px: usize,
    coding: String,
    pixel_format: String,
    rate_hz: Option<f64>,
    /// Presentation time of each packet, in the order of coding.
    time_s: Vec<f64>,
}

impl About {
    fn parse(text: &str) -> Self {
        let mut about = Self::default();
        for (key, value) in text.lines().filter_map(|line| line.trim().split_once('=')) {
            match key {
                "width" => about.width_px = value.parse().unwrap_or(0),
                "height" => about.height_px = value.parse().unwrap_or(0),
                "codec_name" => about.coding = value.to_owned(),
                "pix_fmt" => about.pixel_format = value.to_owned(),
                "avg_frame_rate" => about.rate_hz = fraction(value),
                "pts_time" => about.time_s.push(value.parse().unwrap_or(f64::NAN)),
                _ => {}
            }
        }
        about
    }

    /// The packets' own times where there is one for each frame, else a steady clock at the stated rate.
    fn times(&self, frames: usize) -> Option<Vec<f64>> {
        let mut time_s = self.time_s.clone();
        time_s.sort_by(f64::total_cmp);
        let rising = time_s.windows(2).all(|pair| pair[1] > pair[0]) && time_s.iter().all(|t| t.is_finite());
        if time_s.len() == frames && rising {
            let start = time_s.first().copied().unwrap_or(0.0);
            return Some(time_s.iter().map(|t| t - start).collect());
        }
        self.rate_hz.map(|rate| (0..frames).map(|i| i as f64 / rate).collect())
    }
}

/// A positive rate written as "30000/1001".
fn fraction(text: &str) -> Option<f64> {
    let (above, below) = text.split_once('/').unwrap_or((text, "1"));
    let rate = above.parse::<f64>().ok()? / below.parse::<f64>().ok()?;
    (rate.is_finite() && rate > 0.0).then_some(rate)
}

fn probe(input: &Input, program: &str) -> Result<About, FramesError> {
    let entries = "stream=width,height,codec_name,pix_fmt,avg_frame_rate:packet=pts_time";
    let mut arguments = arguments(&["-select_streams", "v:0", "-show_entries", entries]);
    arguments.extend(["-of", "default=noprint_wrappers=1"].map(OsString::from));
    let text = run(input, program, with_file(input, arguments), |_| Ok(()))?;
    let about = About::parse(&String::from_utf8_lossy(&text.bytes));
    if about.width_px == 0 || about.height_px == 0 {
        return Err(failed(input, &text.messages, "no video stream inside"));
    }
    Ok(about)
}

/// All frames as samples of one type, straight from the pipe.
fn decode<T: Pod>(
    input: &Input,
    program: &str,
    frame: StackShape,
    expected: usize,
    pixel_format: &str,
) -> Result<(Vec<T>, Vec<Note>), FramesError> {
    // The picture must come as it is stored: not turned, no frame doubled or dropped.
    let mut arguments = with_file(input, arguments(&["-nostdin", "-noautorotate"]));
    let output = ["-map", "0:v:0", "-fps_mode", "passthrough", "-pix_fmt", pixel_format, "-f", "rawvideo", "pipe:1"];
    arguments.extend(output.map(OsString::from));
    let size = size_of::<T>();
    let frame_bytes = frame.pixels() * size;
    // Reserved at once: growing by doubling would hold up to three times the frames.
    let mut values: Vec<T> = Vec::new();
    values.reserve_exact(expected * frame.pixels());
    let mut rest: Vec<u8> = Vec::new();
    let text = run(input, program, arguments, |piece| {
        rest.extend_from_slice(piece);
        let whole = rest.len() / size * size;
        let samples = values.len() + whole / size;
        input.check_bytes((samples * size) as u64)?;
        values.extend(rest[..whole].chunks_exact(size).map(bytemuck::pod_read_unaligned::<T>));
        rest.drain(..whole);
        let frames = values.len() * size / frame_bytes;
        input.step(frames, expected.max(frames))
    })?;
    if values.is_empty() || !values.len().is_multiple_of(frame.pixels()) || !rest.is_empty() {
        return Err(failed(input, &text.messages, "the video does not hold whole frames of the stated size"));
    }
    let mut notes = Vec::new();
    if let Some(line) = text.messages.lines().find(|line| !line.trim().is_empty()) {
        notes.push(Note::new(
            format!("the video decoder complained: {}", line.trim().chars().take(160).collect::<String>()),
            "frames may be damaged; copy the file again",
        ));
    }
    Ok((values, notes))
}

fn shaped<T>(input: &Input, values: Vec<T>, frame: StackShape) -> Result<Array3<T>, FramesError> {
    let frames = values.len() / frame.pixels();
    Array3::from_shape_vec((frames, frame.height_px, frame.width_px), values)
        .map_err(|e| input.malformed("video", e.to_string(), "export the video again"))
}

/// What a program wrote.
struct Text {
    bytes: Vec<u8>,
    messages: String,
}

/// Runs a program to its end; `each` sees every piece of output. Output is kept only while `each` is not interested
/// in it, that is for the probe.
fn run(
    input: &Input,
    program: &str,
    arguments: Vec<OsString>,
    mut each: impl FnMut(&[u8]) -> Result<(), FramesError>,
) -> Result<Text, FramesError> {
    let process = Process::start(program, &arguments).map_err(|e| {
        if e.kind() == io::ErrorKind::NotFound {
            input.malformed(
                "video",
                format!("reading this kind of video needs the program {program}, which is not installed"),
                "install it: apt install ffmpeg",
            )
        } else {
            input.malformed("video", format!("{program} could not be started: {e}"), "check the installation of ffmpeg")
        }
    })?;
    let keep = program.contains("probe");
    let mut bytes = Vec::new();
    loop {
        match process.next().map_err(|e| input.io(e))? {
            Piece::Bytes(piece) => {
                each(&piece)?;
                if keep {
                    bytes.extend_from_slice(&piece);
                    input.check_bytes(bytes.len() as u64)?;
                }
            }
            Piece::Silence => {}
            Piece::End => break,
        }
        // Returning drops the process, which ends it.
        if input.progress.cancelled() {
            return Err(FramesError::Cancelled);
        }
    }
    let (well, messages) = process.finish().map_err(|e| input.io(e))?;
    if !well {
        return Err(failed(input, &messages, "the video could not be decoded"));
    }
    Ok(Text { bytes, messages })
}

fn failed(input: &Input, messages: &str, otherwise: &str) -> FramesError {
    let said = messages.lines().rev().find(|line| !line.trim().is_empty()).unwrap_or(otherwise);
    input.malformed(
        "video",
        said.chars().take(200).collect::<String>(),
        "check that the file plays, or export it again",
    )
}

/// Only files may be opened: a playlist must not make the program fetch anything.
fn arguments(first: &[&str]) -> Vec<OsString> {
    ["-v", "error", "-protocol_whitelist", "file,pipe"].iter().chain(first).map(OsString::from).collect()
}

fn with_file(input: &Input, mut arguments: Vec<OsString>) -> Vec<OsString> {
    // The prefix keeps a name such as "concat:a|b" or "-x" from meaning anything else.
    let mut name = OsString::from("file:");
    name.push(input.file);
    arguments.extend([OsString::from("-i"), name]);
    arguments
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn probe_output_is_understood() {
        let about = About::parse(
            "pts_time=0.08\npts_time=0.00\npts_time=0.04\ncodec_name=h264\nwidth=64\nheight=48\npix_fmt=yuv420p\navg_frame_rate=25/1\n",
        );
        assert_eq!((about.width_px, about.height_px, about.coding.as_str()), (64, 48, "h264"));
        assert_eq!(about.times(3), Some(vec![0.0, 0.04, 0.08]));
        // Another number of frames than packets: the stated rate counts.
        assert_eq!(about.times(2), Some(vec![0.0, 0.04]));
        assert_eq!(About::parse("avg_frame_rate=0/0").times(2), None);
    }
}
