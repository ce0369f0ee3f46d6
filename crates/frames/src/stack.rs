//! The frames of a take, kept in the type the file had, so that 16-bit recordings cost 16 bits.

use std::ops::Range;

use ndarray::{Array2, Array3, Axis};
use pulp::Arch;

use crate::CountsLaw;

/// Frames, rows, columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct StackShape {
    /// Number of frames.
    pub frames: usize,
    /// Rows per frame.
    pub height_px: usize,
    /// Columns per frame.
    pub width_px: usize,
}

impl StackShape {
    /// Pixels in one frame.
    pub fn pixels(&self) -> usize {
        self.height_px * self.width_px
    }
}

/// Stored samples, indexed `[frame, row, column]`, in standard (C) layout.
#[derive(Clone, Debug, PartialEq)]
pub enum Samples {
    /// 8-bit grey values.
    U8(Array3<u8>),
    /// 16-bit counts.
    U16(Array3<u16>),
    /// Floating-point values.
    F32(Array3<f32>),
}

impl Samples {
    /// Frames, rows, columns.
    pub fn shape(&self) -> StackShape {
        let (frames, height_px, width_px) = match self {
            Self::U8(a) => a.dim(),
            Self::U16(a) => a.dim(),
            Self::F32(a) => a.dim(),
        };
        StackShape { frames, height_px, width_px }
    }
}

/// What undoes one frame's own gain and offset: `corrected = gain * value + offset`.
///
/// Cameras rescale plain pictures as they go; see `joulemark_locate`'s gain repair for how it is found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FrameGain {
    /// Factor on the value, dimensionless.
    pub gain: f32,
    /// Added after the factor, in the stack's unit.
    pub offset: f32,
}

/// Samples together with the law that gives them a size. Values leave it as `f32` through [`Stack::copy_run`].
#[derive(Clone, Debug)]
pub struct Stack {
    samples: Samples,
    law: CountsLaw,
    frame_gains: Vec<FrameGain>,
}

impl Stack {
    /// Wraps samples. Arrays that are not in standard layout are copied into it.
    pub fn new(samples: Samples, law: CountsLaw) -> Self {
        let samples = match samples {
            Samples::U8(a) => Samples::U8(standard(a)),
            Samples::U16(a) => Samples::U16(standard(a)),
            Samples::F32(a) => Samples::F32(standard(a)),
        };
        Self { samples, law, frame_gains: Vec::new() }
    }

    /// Frames, rows, columns.
    pub fn shape(&self) -> StackShape {
        self.samples.shape()
    }

    /// The samples as the file had them.
    pub fn samples(&self) -> &Samples {
        &self.samples
    }

    /// The law from samples to values.
    pub fn law(&self) -> CountsLaw {
        self.law
    }

    /// Replaces the law.
    pub fn set_law(&mut self, law: CountsLaw) {
        self.law = law;
    }

    /// Corrections per frame; empty when there are none.
    pub fn frame_gains(&self) -> &[FrameGain] {
        &self.frame_gains
    }

    /// Sets one correction per frame.
    ///
    /// # Panics
    /// When the number of corrections is neither zero nor the number of frames.
    pub fn set_frame_gains(&mut self, frame_gains: Vec<FrameGain>) {
        assert!(frame_gains.is_empty() || frame_gains.len() == self.shape().frames, "one correction per frame");
        self.frame_gains = frame_gains;
    }

    /// Writes the values of the pixels `run` (row-major index into the frame) of one frame into `out`.
    ///
    /// # Panics
    /// When `frame` or `run` lie outside the stack or `out` has another length than `run`.
    pub fn copy_run(&self, frame: usize, run: Range<usize>, out: &mut [f32]) {
        assert_eq!(run.len(), out.len(), "the output must be as long as the run");
        let correction = self.frame_gains.get(frame).copied().unwrap_or(FrameGain { gain: 1.0, offset: 0.0 });
        // The law is folded into one multiply and add per sample. It is evaluated in f64 first: at 300 K an f32 offset
        // alone would already cost 15 microkelvin.
        let gain = (self.law.gain_k_per_count * f64::from(correction.gain)) as f32;
        let offset = (self.law.offset_k * f64::from(correction.gain) + f64::from(correction.offset)) as f32;
        let pixels = self.shape().pixels();
        let from = frame * pixels + run.start;
        let to = frame * pixels + run.end;
        match &self.samples {
            Samples::U8(a) => convert(&contiguous(a)[from..to], out, gain, offset),
            Samples::U16(a) => convert(&contiguous(a)[from..to], out, gain, offset),
            Samples::F32(a) => convert(&contiguous(a)[from..to], out, gain, offset),
        }
    }

    /// One frame as values.
    ///
    /// # Panics
    /// When `frame` lies outside the stack.
    pub fn frame(&self, frame: usize) -> Array2<f32> {
        let shape = self.shape();
        let mut out = Array2::zeros((shape.height_px, shape.width_px));
        if let Some(slice) = out.as_slice_mut() {
            self.copy_run(frame, 0..shape.pixels(), slice);
        }
        out
    }

    /// A stack of the frames `keep`, in that order.
    pub fn select(&self, keep: &[usize]) -> Self {
        let samples = match &self.samples {
            Samples::U8(a) => Samples::U8(a.select(Axis(0), keep)),
            Samples::U16(a) => Samples::U16(a.select(Axis(0), keep)),
            Samples::F32(a) => Samples::F32(a.select(Axis(0), keep)),
        };
        let frame_gains =
            if self.frame_gains.is_empty() { Vec::new() } else { keep.iter().map(|&i| self.frame_gains[i]).collect() };
        Self { samples, law: self.law, frame_gains }
    }
}

/// `as_standard_layout().into_owned()` would copy an array that is in standard layout already, the whole stack.
fn standard<T: Clone>(array: Array3<T>) -> Array3<T> {
    if array.is_standard_layout() { array } else { array.as_standard_layout().into_owned() }
}

fn contiguous<T>(array: &Array3<T>) -> &[T] {
    // `Stack::new` brings every array into standard layout, so this cannot miss.
    array.as_slice().unwrap_or(&[])
}

/// With the widest vectors that the processor has: everything that is computed starts here, once and again.
fn convert<T: Copy + Into<f32>>(from: &[T], to: &mut [f32], gain: f32, offset: f32) {
    Arch::new().dispatch(
        // Borrowed, gain and offset might change with every value that is written, for all that the compiler knows: then it takes them
        // one by one.
        #[inline(always)]
        move || {
            for (out, &value) in to.iter_mut().zip(from) {
                *out = value.into() * gain + offset;
            }
        },
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_apply_the_law_and_the_correction_of_their_frame() {
        let samples = Samples::U16(Array3::from_shape_fn((2, 2, 3), |(t, y, x)| (100 * t + 10 * y + x) as u16));
        let mut stack = Stack::new(samples, CountsLaw { gain_k_per_count: 0.5, offset_k: 3.0 });
        stack.set_frame_gains(vec![FrameGain { gain: 1.0, offset: 0.0 }, FrameGain { gain: 2.0, offset: -1.0 }]);
        let mut out = [0.0; 2];
        stack.copy_run(1, 2..4, &mut out);
        // Counts 102 and 110: 54 K and 58 K by the law, then doubled, less one.
        assert_eq!(out, [107.0, 115.0]);
        assert_eq!(stack.frame(0)[[1, 2]], 9.0);
    }

    #[test]
    fn selecting_keeps_order_and_corrections() {
        let samples = Samples::U8(Array3::from_shape_fn((3, 1, 1), |(t, _, _)| t as u8));
        let mut stack = Stack::new(samples, CountsLaw::IDENTITY);
        stack.set_frame_gains((0..3).map(|i| FrameGain { gain: 1.0, offset: i as f32 }).collect());
        let picked = stack.select(&[2, 0]);
        assert_eq!(picked.frame(0)[[0, 0]], 4.0);
        assert_eq!(picked.frame(1)[[0, 0]], 0.0);
    }
}
