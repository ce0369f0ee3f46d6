//! Reads the stack once, in tiles of pixels, and leaves one coefficient map per model vector.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use joulemark_frames::Progress;
use pulp::Arch;
use rayon::prelude::*;

use super::{
    panel::Rows,
    readout::{Readout, Sums},
};
use crate::{LocateError, repair::Frames};

/// Pixels per tile at least: the sums of a tile, and the frames that are added at a time, stay in the second-level cache. Tiles are whole
/// rows, and as many as the frames are read in at best.
const TILE_PX: usize = 640;

/// Coefficient maps of a stack; all planes row-major with one value per pixel.
#[derive(Clone, Debug)]
pub struct Projection {
    /// One plane per vector of the readout.
    pub coefficients: Vec<Vec<f32>>,
    /// Mean of the frames before injection.
    pub before: Vec<f32>,
    /// Variance of the noise from frame to frame, half the mean square of successive differences: unbiased under white
    /// noise, and blind to anything slow (von Neumann, Ann. Math. Stat. 12 (1941) 367).
    pub variance: Vec<f32>,
    /// The same from the frames before injection alone, which hold no step of the heat; zero where there is but one.
    pub variance_before: Vec<f32>,
}

/// Projects every pixel's time course onto the vectors of `readout`. These must be orthogonal to a constant, since each pixel's first
/// value is taken off for precision.
///
/// # Errors
/// [`LocateError::Cancelled`].
pub fn project(
    stack: &dyn Frames,
    readout: &Readout,
    before_frames: usize,
    progress: &dyn Progress,
) -> Result<Projection, LocateError> {
    let pixels = stack.shape().pixels();
    let mut projection = Projection {
        // One by one, on all cores: memory that was used before is written here.
        coefficients: (0..readout.len()).into_par_iter().map(|_| vec![0.0; pixels]).collect(),
        before: vec![0.0; pixels],
        variance: vec![0.0; pixels],
        variance_before: vec![0.0; pixels],
    };
    let width = stack.shape().width_px;
    let tile_px = TILE_PX.div_ceil(width).max(stack.rows_at_once()) * width;
    let tiles = projection.tiles(tile_px);
    let count = tiles.len();
    progress.report("reading the heat out of the frames", 0, count);
    let (done, cancelled) = (AtomicUsize::new(0), AtomicBool::new(false));
    tiles.into_par_iter().enumerate().for_each_init(Scratch::default, |scratch, (i, tile)| {
        if cancelled.load(Ordering::Relaxed) || progress.cancelled() {
            cancelled.store(true, Ordering::Relaxed);
            return;
        }
        tile.project(stack, readout, before_frames, i * tile_px, scratch);
        let finished = done.fetch_add(1, Ordering::Relaxed) + 1;
        if finished.is_multiple_of(64) || finished == count {
            progress.report("reading the heat out of the frames", finished, count);
        }
    });
    if cancelled.into_inner() { Err(LocateError::Cancelled) } else { Ok(projection) }
}

impl Projection {
    /// Its planes cut into tiles.
    fn tiles(&mut self, tile_px: usize) -> Vec<Tile<'_>> {
        let rest = self.before.chunks_mut(tile_px).zip(self.variance.chunks_mut(tile_px));
        let mut tiles: Vec<Tile<'_>> = rest
            .zip(self.variance_before.chunks_mut(tile_px))
            .map(|((before, variance), variance_before)| Tile {
                coefficients: Vec::with_capacity(self.coefficients.len()),
                before,
                variance,
                variance_before,
            })
            .collect();
        for plane in &mut self.coefficients {
            for (tile, part) in tiles.iter_mut().zip(plane.chunks_mut(tile_px)) {
                tile.coefficients.push(part);
            }
        }
        tiles
    }
}

/// What is found for a run of pixels; all start at zero.
struct Tile<'a> {
    coefficients: Vec<&'a mut [f32]>,
    before: &'a mut [f32],
    variance: &'a mut [f32],
    variance_before: &'a mut [f32],
}

/// Memory that one tile leaves to the next.
#[derive(Default)]
struct Scratch {
    reference: Vec<f32>,
    previous: Vec<f32>,
    block: Rows,
    sums: Sums,
}

impl Tile<'_> {
    fn project(
        self,
        stack: &dyn Frames,
        readout: &Readout,
        before_frames: usize,
        from_px: usize,
        scratch: &mut Scratch,
    ) {
        let Self { mut coefficients, before, variance, variance_before } = self;
        let Scratch { reference, previous, block, sums } = scratch;
        let frames = stack.shape().frames;
        let width = before.len();
        let run = from_px..from_px + width;
        reference.resize(width, 0.0);
        stack.copy_run(0, run.clone(), reference);
        previous.clear();
        previous.resize(width, 0.0);
        block.shape(readout.frames_at_once(), width);
        for (piece, frames) in readout.pieces() {
            let count = frames.len();
            for (j, frame) in frames.enumerate() {
                let (last, values) = block.row_and_last(j, previous);
                stack.copy_run(frame, run.clone(), values);
                change(values, reference, last, variance);
                if frame < before_frames {
                    add(before, values);
                }
                if frame + 1 == before_frames {
                    variance_before.copy_from_slice(variance);
                }
            }
            previous.copy_from_slice(block.row(count - 1));
            readout.add(sums, piece, block, width);
        }
        readout.coefficients(sums, &mut coefficients);
        for (mean, first) in before.iter_mut().zip(reference) {
            *mean = *first + *mean / before_frames.max(1) as f32;
        }
        // The first difference is that of a value against itself.
        let steps = |frames: usize| 2.0 * (frames.max(2) - 1) as f32;
        variance.iter_mut().for_each(|sum| *sum /= steps(frames));
        variance_before.iter_mut().for_each(|sum| *sum /= steps(before_frames));
    }
}

/// Takes the reference off the values, and adds up the squares of their change since the previous frame.
fn change(values: &mut [f32], reference: &[f32], previous: &[f32], squares: &mut [f32]) {
    Arch::new().dispatch(
        #[inline(always)]
        || {
            for (((value, first), last), sum) in values.iter_mut().zip(reference).zip(previous).zip(squares) {
                *value -= first;
                let step = *value - last;
                *sum += step * step;
            }
        },
    );
}

fn add(sums: &mut [f32], values: &[f32]) {
    for (sum, value) in sums.iter_mut().zip(values) {
        *sum += value;
    }
}

#[cfg(test)]
mod tests {
    use joulemark_frames::{CountsLaw, NoProgress, Samples, Stack};
    use nalgebra::DMatrix;
    use ndarray::Array3;

    use super::*;

    /// The plain version: one dot product per pixel and vector.
    #[test]
    fn tiles_agree_with_plain_dot_products() {
        let (frames, height, width) = (21, 30, 41);
        let samples = Array3::from_shape_fn((frames, height, width), |(t, y, x)| {
            ((7 * t * t + 13 * y * t + 29 * x) % 512) as u16
        });
        let stack = Stack::new(Samples::U16(samples), CountsLaw { gain_k_per_count: 0.1, offset_k: 20.0 });
        let mut basis = DMatrix::from_fn(frames, 3, |i, j| ((i * (j + 2)) as f64).sin());
        for mut column in basis.column_iter_mut() {
            let mean = column.mean();
            column.add_scalar_mut(-mean);
        }
        let fast = project(&stack, &Readout::plain(&basis), 5, &NoProgress).unwrap();
        let frames_k: Vec<_> = (0..frames).map(|t| stack.frame(t)).collect();
        for p in 0..height * width {
            let at = (p / width, p % width);
            for k in 0..3 {
                let plain: f64 = (0..frames).map(|t| basis[(t, k)] * f64::from(frames_k[t][at])).sum();
                // f32 sums of 21 products of values up to 50: a few units in the fifth decimal.
                assert!((f64::from(fast.coefficients[k][p]) - plain).abs() < 1e-3);
            }
            let before = (0..5).map(|t| f64::from(frames_k[t][at])).sum::<f64>() / 5.0;
            assert!((f64::from(fast.before[p]) - before).abs() < 1e-4);
            let variance = |frames: usize| {
                (1..frames).map(|t| f64::from(frames_k[t][at] - frames_k[t - 1][at]).powi(2)).sum::<f64>()
                    / (2.0 * (frames - 1) as f64)
            };
            assert!((f64::from(fast.variance[p]) / variance(frames) - 1.0).abs() < 1e-4);
            assert!((f64::from(fast.variance_before[p]) / variance(5) - 1.0).abs() < 1e-4);
        }
    }
}
