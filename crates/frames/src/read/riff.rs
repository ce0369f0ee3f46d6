//! The chunks of an AVI file (RIFF): where the pictures of its first video stream lie, their size, coding and rate.
//! Source: Microsoft's "AVI RIFF File Reference"; the `AVIX` continuation from the OpenDML extensions, version 1.02.

use std::io::{self, Read, Seek, SeekFrom};

/// What the headers say about the video, and where its pictures are.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct AviVideo {
    pub width_px: u32,
    pub height_px: u32,
    /// `biCompression`, such as `MJPG`.
    pub coding: [u8; 4],
    /// Frames per second as a fraction; zero where the header leaves it out.
    pub rate: u32,
    pub scale: u32,
    /// Offset and length of each picture; length 0 repeats the one before.
    pub pictures: Vec<(u64, u32)>,
}

/// Lists within lists: RIFF, movi, rec. More are damage.
const MOST_DEPTH: usize = 5;

/// Walks the whole file. The error says what is wrong.
pub(super) fn walk(source: &mut (impl Read + Seek), len: u64) -> Result<AviVideo, String> {
    let mut walk = Walk { source, video: AviVideo::default(), streams: 0, in_video: false, number: None };
    walk.list(0, len, 0)?;
    if walk.number.is_none() {
        return Err("no video stream".to_owned());
    }
    Ok(walk.video)
}

struct Walk<'a, R> {
    source: &'a mut R,
    video: AviVideo,
    /// Stream headers seen so far.
    streams: u32,
    /// Whether the stream header last seen is the video's.
    in_video: bool,
    /// Number of the video stream.
    number: Option<u32>,
}

impl<R: Read + Seek> Walk<'_, R> {
    fn list(&mut self, mut at: u64, end: u64, depth: usize) -> Result<(), String> {
        if depth > MOST_DEPTH {
            return Err("lists nested too deeply".to_owned());
        }
        // Up to seven stray bytes may follow the last chunk.
        while at + 8 <= end {
            let mut head = [0; 12];
            self.read(at, &mut head[..8])?;
            let id = [head[0], head[1], head[2], head[3]];
            let size = u64::from(u32::from_le_bytes([head[4], head[5], head[6], head[7]]));
            let body = at + 8;
            if depth == 0 && at > 0 && &id != b"RIFF" {
                // Not part of the video any more.
                return Ok(());
            }
            if body + size > end {
                let name: String = id.iter().map(|&b| if b.is_ascii_graphic() { char::from(b) } else { '?' }).collect();
                return Err(format!("chunk '{name}' at byte {at} ends beyond byte {end}"));
            }
            match &id {
                b"RIFF" | b"LIST" if size >= 4 => self.list(body + 4, body + size, depth + 1)?,
                b"strh" => self.stream_header(body, size)?,
                b"strf" if self.in_video => self.stream_format(body, size)?,
                [a, b, b'd', b'c' | b'b'] => {
                    let digit = |d: u8| char::from(d).to_digit(10);
                    if let (Some(tens), Some(ones), Some(number)) = (digit(*a), digit(*b), self.number)
                        && tens * 10 + ones == number
                    {
                        // `size` was read from 32 bits.
                        self.video.pictures.push((body, size as u32));
                    }
                }
                _ => {}
            }
            at = body + size + size % 2;
        }
        Ok(())
    }

    fn stream_header(&mut self, body: u64, size: u64) -> Result<(), String> {
        let mut header = [0; 28];
        if size < header.len() as u64 {
            return Err("stream header too short".to_owned());
        }
        self.read(body, &mut header)?;
        self.in_video = &header[..4] == b"vids" && self.number.is_none();
        if self.in_video {
            self.number = Some(self.streams);
            self.video.scale = number(&header[20..24]);
            self.video.rate = number(&header[24..28]);
        }
        self.streams += 1;
        Ok(())
    }

    fn stream_format(&mut self, body: u64, size: u64) -> Result<(), String> {
        let mut header = [0; 20];
        if size < header.len() as u64 {
            return Err("picture format too short".to_owned());
        }
        self.read(body, &mut header)?;
        self.in_video = false;
        self.video.width_px = number(&header[4..8]);
        // Negative heights mean rows from the top, which a coded picture has anyway.
        self.video.height_px = (number(&header[8..12]) as i32).unsigned_abs();
        self.video.coding.copy_from_slice(&header[16..20]);
        Ok(())
    }

    fn read(&mut self, at: u64, out: &mut [u8]) -> Result<(), String> {
        let words = |e: io::Error| format!("byte {at}: {e}");
        // Seeking by the difference keeps what was read ahead.
        let now = self.source.stream_position().map_err(words)?;
        match i64::try_from(at).ok().zip(i64::try_from(now).ok()) {
            Some((at, now)) => self.source.seek_relative(at - now).map_err(words)?,
            None => drop(self.source.seek(SeekFrom::Start(at)).map_err(words)?),
        }
        self.source.read_exact(out).map_err(words)
    }
}

fn number(bytes: &[u8]) -> u32 {
    bytes.try_into().map_or(0, u32::from_le_bytes)
}
