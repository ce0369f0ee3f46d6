//! What the computation needs of frames: their size, and runs of pixels as values.

use std::ops::Range;

use joulemark_frames::{Stack, StackShape};

/// Frames that can be read in runs of pixels: a [`Stack`] as it was recorded, or a [`crate::repair::Steady`] view of it.
pub trait Frames: Sync {
    /// Frames, rows, columns.
    fn shape(&self) -> StackShape;

    /// Rows that are best read together.
    fn rows_at_once(&self) -> usize {
        1
    }

    /// Writes the values of the pixels `run` (row-major index into the frame) of one frame into `out`.
    ///
    /// # Panics
    /// When `frame` or `run` lie outside the frames or `out` has another length than `run`.
    fn copy_run(&self, frame: usize, run: Range<usize>, out: &mut [f32]);
}

impl Frames for Stack {
    fn shape(&self) -> StackShape {
        Stack::shape(self)
    }

    fn copy_run(&self, frame: usize, run: Range<usize>, out: &mut [f32]) {
        Stack::copy_run(self, frame, run, out);
    }
}
