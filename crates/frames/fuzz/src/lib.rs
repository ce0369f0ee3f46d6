//! What the fuzz targets share: limits low enough that a lying header costs nothing, and what callers rely on.
//! Decoders run without the guard that turns their panics into errors, so that a panic is found.

use std::path::Path;

use joulemark_frames::{
    CaptureLog, FramesError, NoProgress,
    read::{self, Kind, ReadOptions, Recording},
};

const OPTIONS: ReadOptions = ReadOptions { memory_limit_bytes: 16 << 20, mask_not_a_number: true };

fn check(result: Result<Recording, FramesError>) {
    match result {
        Ok(recording) => {
            let shape = recording.samples.shape();
            assert!(shape.frames > 0 && shape.pixels() > 0);
            if let Some(time_s) = recording.time_s {
                assert_eq!(time_s.len(), shape.frames);
                assert!(time_s.windows(2).all(|pair| pair[1] > pair[0]));
            }
        }
        Err(error) => assert_eq!(error.to_string().lines().count(), 1),
    }
}

/// Reads bytes as one kind.
pub fn read(kind: Kind, bytes: &[u8]) {
    check(read::from_bytes_as(kind, bytes, &OPTIONS, &NoProgress));
}

/// Reads bytes as what they look like.
pub fn any(bytes: &[u8]) {
    check(read::from_bytes(Path::new("fuzz"), bytes, &OPTIONS, &NoProgress));
}

/// Reads a sidecar, and what follows a zero byte as the frames.
pub fn raw(bytes: &[u8]) {
    let end = bytes.iter().position(|&b| b == 0).unwrap_or(bytes.len());
    let Ok(sidecar) = str::from_utf8(&bytes[..end]) else { return };
    check(read::raw_from_bytes(sidecar, bytes.get(end + 1..).unwrap_or_default(), &OPTIONS, &NoProgress));
}

/// Reads a capture log and matches it to a few frames.
pub fn log(bytes: &[u8]) {
    let file = Path::new("log.csv");
    if let Ok(log) = CaptureLog::parse(file, bytes)
        && let Ok((timeline, _)) = log.align(file, 5, &[])
    {
        assert_eq!(timeline.len(), 5);
        assert!(timeline.time_s.windows(2).all(|pair| pair[1] > pair[0]));
    }
}
