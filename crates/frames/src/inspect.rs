//! A recording in a few lines: what `inspect` prints before anything is computed from it.

use std::{fmt, path::PathBuf};

use crate::{
    Note, Samples, StackShape,
    note::count,
    read::{Recording, Scale},
};

/// Extremes and mean of one frame, in the samples' own unit (no law applied). Values that are not finite are left out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrameSummary {
    /// Index of the frame.
    pub frame: usize,
    /// Smallest value; not a number when no value is finite.
    pub min: f64,
    /// Largest value; not a number when no value is finite.
    pub max: f64,
    /// Mean of the finite values; not a number when there is none.
    pub mean: f64,
    /// Values that are not finite.
    pub masked: usize,
}

/// What a recording is, without any interpretation.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// The file or folder.
    pub file: PathBuf,
    /// Kind in words.
    pub kind: String,
    /// Frames, rows, columns.
    pub shape: StackShape,
    /// Type of the samples in words.
    pub samples: &'static str,
    /// What the samples are.
    pub scale: Scale,
    /// From the first frame to the last, in seconds, when the file has times.
    pub duration_s: Option<f64>,
    /// First and last frame; the same twice when there is only one.
    pub ends: [FrameSummary; 2],
    /// Warnings from reading.
    pub notes: Vec<Note>,
}

impl Summary {
    /// Summarises a recording.
    pub fn of(recording: &Recording) -> Self {
        let shape = recording.samples.shape();
        let duration_s = recording.time_s.as_ref().and_then(|t| Some(t.last()? - t.first()?));
        Self {
            file: recording.file.clone(),
            kind: recording.description.clone(),
            shape,
            samples: match (&recording.samples, recording.scale) {
                (Samples::U8(_), _) => "8-bit",
                (Samples::U16(_), _) => "16-bit",
                (Samples::F32(_), Scale::Counts { .. }) => "signed 16-bit, held as 32-bit floating point",
                (Samples::F32(_), _) => "32-bit floating point",
            },
            scale: recording.scale,
            duration_s,
            ends: [0, shape.frames.saturating_sub(1)].map(|frame| frame_summary(&recording.samples, frame)),
            notes: recording.notes.clone(),
        }
    }
}

fn frame_summary(samples: &Samples, frame: usize) -> FrameSummary {
    let axis = ndarray::Axis(0);
    if frame >= samples.shape().frames {
        return summarise(frame, std::iter::empty());
    }
    match samples {
        Samples::U8(a) => summarise(frame, a.index_axis(axis, frame).iter().map(|&v| f64::from(v))),
        Samples::U16(a) => summarise(frame, a.index_axis(axis, frame).iter().map(|&v| f64::from(v))),
        Samples::F32(a) => summarise(frame, a.index_axis(axis, frame).iter().map(|&v| f64::from(v))),
    }
}

fn summarise(frame: usize, values: impl Iterator<Item = f64>) -> FrameSummary {
    let (mut min, mut max, mut sum, mut count, mut masked) = (f64::NAN, f64::NAN, 0.0, 0_usize, 0);
    for value in values {
        if value.is_finite() {
            // `min` and `max` of a number and not-a-number are the number.
            (min, max) = (min.min(value), max.max(value));
            sum += value;
            count += 1;
        } else {
            masked += 1;
        }
    }
    FrameSummary { frame, min, max, mean: sum / count as f64, masked }
}

impl fmt::Display for Summary {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let StackShape { frames, height_px, width_px } = self.shape;
        writeln!(f, "{}: {}", self.file.display(), self.kind)?;
        writeln!(f, "  {} of {width_px} x {height_px} pixels, {}", count(frames, "frame"), self.samples)?;
        if let Some(duration_s) = self.duration_s.filter(|_| frames > 1) {
            writeln!(f, "  {duration_s:.3} s, {:.3} frames per second", (frames - 1) as f64 / duration_s)?;
        }
        let (unit, decimals) = match self.scale {
            Scale::Kelvin => ("kelvin-sized values", 3),
            Scale::Counts { .. } => ("counts, which need a law to become kelvin", 1),
            Scale::Relative => ("relative grey values, no temperature", 1),
        };
        writeln!(f, "  {unit}")?;
        let ends = if frames == 1 { &self.ends[..1] } else { &self.ends[..] };
        for end in ends {
            write!(f, "  frame {}: min {:.decimals$}, ", end.frame, end.min)?;
            write!(f, "mean {:.decimals$}, max {:.decimals$}", end.mean, end.max)?;
            if end.masked > 0 {
                write!(f, ", {} masked", count(end.masked, "value"))?;
            }
            writeln!(f)?;
        }
        for note in &self.notes {
            writeln!(f, "  note: {note}")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn recording(samples: Samples, scale: Scale, time_s: Option<Vec<f64>>) -> Recording {
        Recording {
            file: "take.avi".into(),
            description: "made up".to_owned(),
            samples,
            scale,
            names: Vec::new(),
            time_s,
            notes: vec![Note::new("something", "do this")],
        }
    }

    #[test]
    fn first_and_last_frame_are_summed_up() {
        let samples = Samples::U16(ndarray::arr3(&[[[1, 2], [3, 6]], [[9, 9], [9, 9]], [[0, 4], [4, 0]]]));
        let text = Summary::of(&recording(samples, Scale::Counts { bits: 16 }, Some(vec![0.0, 0.5, 1.0]))).to_string();
        assert_eq!(
            text,
            "take.avi: made up\n  3 frames of 2 x 2 pixels, 16-bit\n  1.000 s, 2.000 frames per second\n  \
             counts, which need a law to become kelvin\n  frame 0: min 1.0, mean 3.0, max 6.0\n  \
             frame 2: min 0.0, mean 2.0, max 4.0\n  note: something: do this\n"
        );
    }

    #[test]
    fn masked_values_are_left_out_and_counted() {
        let samples = Samples::F32(ndarray::arr3(&[[[f32::NAN, 300.0, 302.0]]]));
        let summary = Summary::of(&recording(samples, Scale::Kelvin, None));
        let end = summary.ends[0];
        assert_eq!((end.min, end.max, end.mean, end.masked), (300.0, 302.0, 301.0, 1));
        assert!(summary.to_string().contains("1 frame of 3 x 1 pixels"), "{summary}");
        let samples = Samples::F32(ndarray::arr3(&[[[f32::NAN]]]));
        assert!(Summary::of(&recording(samples, Scale::Kelvin, None)).ends[0].mean.is_nan());
    }
}
