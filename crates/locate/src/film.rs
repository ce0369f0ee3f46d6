//! The frames that the computation works on: those of the take, laid back where the picture moved, without those that
//! cannot be used.

use std::ops::Range;

use joulemark_frames::{StackShape, Timeline};

use crate::repair::Frames;

/// Frames with their times.
#[derive(Clone, Copy)]
pub(crate) struct Film<'a> {
    pub(crate) frames: &'a dyn Frames,
    pub(crate) timeline: &'a Timeline,
}

/// Some frames of others, in their order.
pub(crate) struct Kept<'a> {
    frames: &'a dyn Frames,
    kept: Vec<usize>,
}

impl<'a> Kept<'a> {
    /// All but the frames `left_out`.
    pub(crate) fn new(frames: &'a dyn Frames, left_out: &[usize]) -> Self {
        let kept = (0..frames.shape().frames).filter(|t| !left_out.contains(t)).collect();
        Self { frames, kept }
    }

    /// The kept frames' entries.
    pub(crate) fn timeline(&self, of: &Timeline) -> Timeline {
        fn pick<T: Clone>(kept: &[usize], values: &[T]) -> Vec<T> {
            kept.iter().filter_map(|&i| values.get(i).cloned()).collect()
        }
        Timeline {
            time_s: pick(&self.kept, &of.time_s),
            injecting: pick(&self.kept, &of.injecting),
            volts: pick(&self.kept, &of.volts),
            amps: pick(&self.kept, &of.amps),
            set_volts: pick(&self.kept, &of.set_volts),
            set_amps: pick(&self.kept, &of.set_amps),
            mode: pick(&self.kept, &of.mode),
        }
    }

    /// Where a frame of the original ended up: its own place, or that of the next one kept.
    pub(crate) fn place_of(&self, original: usize) -> usize {
        self.kept.partition_point(|&k| k < original)
    }
}

impl Frames for Kept<'_> {
    fn shape(&self) -> StackShape {
        StackShape { frames: self.kept.len(), ..self.frames.shape() }
    }

    fn rows_at_once(&self) -> usize {
        self.frames.rows_at_once()
    }

    fn copy_run(&self, frame: usize, run: Range<usize>, out: &mut [f32]) {
        self.frames.copy_run(self.kept[frame], run, out);
    }
}
