//! Reads the stack once, in tiles of pixels, and leaves one coefficient map per model vector.

use std::sync::atomic::{AtomicUsize, Ordering};

use joulemark_frames::Progress;
use nalgebra::DMatrix;
use rayon::prelude::*;

use super::weighted::weighted_sum;
use crate::{LocateError, repair::Frames};

/// Pixels per tile: coefficients of a tile stay in the second-level cache.
const TILE_PX: usize = 1024;
/// Frames folded into the coefficients at a time, so that these are loaded and stored once for several frames.
const FRAMES_AT_ONCE: usize = 16;

/// Coefficient maps of a stack; all planes row-major with one value per pixel.
#[derive(Clone, Debug)]
pub struct Projection {
    /// One plane per column of the basis.
    pub coefficients: Vec<Vec<f32>>,
    /// Mean of the frames before injection.
    pub before: Vec<f32>,
    /// Variance of the noise from frame to frame, half the mean square of successive differences: unbiased under white
    /// noise, and blind to anything slow (von Neumann, Ann. Math. Stat. 12 (1941) 367).
    pub variance: Vec<f32>,
}

/// Projects every pixel's time course onto the columns of `basis` (frames x vectors). The vectors must be orthogonal to a
/// constant, since each pixel's first value is taken off for precision.
///
/// # Errors
/// [`LocateError::Cancelled`].
pub fn project(
    stack: &dyn Frames,
    basis: &DMatrix<f64>,
    before_frames: usize,
    progress: &dyn Progress,
) -> Result<Projection, LocateError> {
    let pixels = stack.shape().pixels();
    let tiles = pixels.div_ceil(TILE_PX);
    let done = AtomicUsize::new(0);
    // Row-major f32 copy: weights of one frame lie together.
    let weights: Vec<f32> = basis.transpose().iter().map(|&w| w as f32).collect();
    let tile_results: Vec<Option<Tile>> = (0..tiles)
        .into_par_iter()
        .map(|tile| {
            if progress.cancelled() {
                return None;
            }
            let run = tile * TILE_PX..((tile + 1) * TILE_PX).min(pixels);
            let result = project_tile(stack, &weights, basis.ncols(), before_frames, run);
            let finished = done.fetch_add(1, Ordering::Relaxed) + 1;
            if finished.is_multiple_of(16) || finished == tiles {
                progress.report("reading the heat out of the frames", finished, tiles);
            }
            Some(result)
        })
        .collect();
    let mut projection = Projection {
        coefficients: vec![Vec::with_capacity(pixels); basis.ncols()],
        before: Vec::with_capacity(pixels),
        variance: Vec::with_capacity(pixels),
    };
    for tile in tile_results {
        let tile = tile.ok_or(LocateError::Cancelled)?;
        let width = tile.before.len();
        for (plane, values) in projection.coefficients.iter_mut().zip(tile.coefficients.chunks_exact(width)) {
            plane.extend_from_slice(values);
        }
        projection.before.extend_from_slice(&tile.before);
        projection.variance.extend_from_slice(&tile.variance);
    }
    Ok(projection)
}

struct Tile {
    coefficients: Vec<f32>,
    before: Vec<f32>,
    variance: Vec<f32>,
}

fn project_tile(
    stack: &dyn Frames,
    weights: &[f32],
    vectors: usize,
    before_frames: usize,
    run: std::ops::Range<usize>,
) -> Tile {
    let frames = stack.shape().frames;
    let width = run.len();
    let mut coefficients = vec![0.0_f32; vectors * width];
    let mut differences = vec![0.0_f32; width];
    let mut before = vec![0.0_f32; width];
    let mut reference = vec![0.0_f32; width];
    stack.copy_run(0, run.clone(), &mut reference);
    let mut previous = vec![0.0_f32; width];
    let mut block = vec![0.0_f32; FRAMES_AT_ONCE * width];
    for start in (0..frames).step_by(FRAMES_AT_ONCE) {
        let count = FRAMES_AT_ONCE.min(frames - start);
        for (j, values) in block.chunks_exact_mut(width).take(count).enumerate() {
            stack.copy_run(start + j, run.clone(), values);
            for (((value, first), last), sum) in
                values.iter_mut().zip(&reference).zip(&mut previous).zip(&mut differences)
            {
                *value -= first;
                let step = *value - *last;
                *sum += step * step;
                *last = *value;
            }
            if start + j < before_frames {
                for (sum, value) in before.iter_mut().zip(values.iter()) {
                    *sum += value;
                }
            }
        }
        let rows: Vec<&[f32]> = block.chunks_exact(width).take(count).collect();
        for (k, plane) in coefficients.chunks_exact_mut(width).enumerate() {
            let mut w = [0.0_f32; FRAMES_AT_ONCE];
            for (j, weight) in w.iter_mut().enumerate().take(count) {
                *weight = weights[(start + j) * vectors + k];
            }
            weighted_sum(plane, &rows, &w[..count], true);
        }
    }
    for (mean, first) in before.iter_mut().zip(&reference) {
        *mean = first + *mean / before_frames.max(1) as f32;
    }
    // The first difference is that of a value against itself.
    let steps = 2.0 * (frames.max(2) - 1) as f32;
    for sum in &mut differences {
        *sum /= steps;
    }
    Tile { coefficients, before, variance: differences }
}

#[cfg(test)]
mod tests {
    use joulemark_frames::{CountsLaw, NoProgress, Samples, Stack};
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
        let fast = project(&stack, &basis, 5, &NoProgress).unwrap();
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
            let variance = (1..frames).map(|t| f64::from(frames_k[t][at] - frames_k[t - 1][at]).powi(2)).sum::<f64>()
                / (2.0 * (frames - 1) as f64);
            assert!((f64::from(fast.variance[p]) / variance - 1.0).abs() < 1e-4);
        }
    }
}
