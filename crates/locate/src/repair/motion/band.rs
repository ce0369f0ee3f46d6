//! Texture of a frame: binned, band-passed, without column and row means.

use joulemark_frames::Stack;
use pulp::Arch;

use crate::{maps::weighted_sum, repair::pixels::Mend};

/// Gaussian that smooths the noise, and the one that takes off what heat spreads over; pixels of the recording.
const FINE_PX: f64 = 1.5;
const COARSE_PX: f64 = 4.0;
/// The finer Gaussian in pixels of the texture is at least this, for resampling to be exact enough.
const LEAST_FINE: f64 = 0.7;
/// Above this many pixels several are binned: position comes from the texture as a whole.
const MOST_PIXELS: usize = 50_000;

/// How frames are turned into texture.
#[derive(Clone, Debug)]
pub(super) struct Band {
    /// Pixels of the recording per pixel of the texture, each way.
    pub(super) bin: usize,
    /// Size of the texture.
    pub(super) width: usize,
    pub(super) height: usize,
    fine: Vec<f32>,
    rest: Vec<f32>,
}

impl Band {
    pub(super) fn new(width_px: usize, height_px: usize) -> Self {
        let mut bin = 1;
        while width_px * height_px > MOST_PIXELS * bin * bin {
            bin += 1;
        }
        // Two Gaussians in a row are one whose variance is the sum.
        let fine_px = (FINE_PX / bin as f64).max(LEAST_FINE);
        let rest_px = (COARSE_PX / bin as f64).powi(2) - fine_px * fine_px;
        let (width, height) = (width_px / bin, height_px / bin);
        Self { bin, width, height, fine: gaussian(fine_px), rest: gaussian(rest_px.sqrt()) }
    }

    /// Texture of one frame.
    pub(super) fn texture(&self, stack: &Stack, mend: &Mend, frame: usize) -> Vec<f32> {
        let shape = stack.shape();
        let mut row = vec![0.0_f32; shape.width_px];
        let mut binned = vec![0.0_f32; self.width * self.height];
        let share = 1.0 / (self.bin * self.bin) as f32;
        for (y, out) in binned.chunks_exact_mut(self.width).enumerate() {
            for v in y * self.bin..(y + 1) * self.bin {
                let run = v * shape.width_px..(v + 1) * shape.width_px;
                stack.copy_run(frame, run.clone(), &mut row);
                mend.apply(stack, frame, run, &mut row);
                add_bins(&row, self.bin, out);
            }
        }
        // The level goes first: differences of 300 K pictures would lose digits. What is no number becomes the level.
        let level = level(&binned) as f32;
        for value in &mut binned {
            *value = if value.is_finite() { (*value - level) * share } else { 0.0 };
        }
        self.pass(&binned)
    }

    /// The band-pass alone.
    pub(super) fn pass(&self, values: &[f32]) -> Vec<f32> {
        let mut fine = self.blur(values, &self.fine);
        let coarse = self.blur(&fine, &self.rest);
        for (fine, coarse) in fine.iter_mut().zip(coarse) {
            *fine -= coarse;
        }
        self.without_stripes(&mut fine);
        fine
    }

    /// Sum of the squared weights of the band-pass: its variance for white noise of unit variance.
    pub(super) fn noise_share(&self) -> f64 {
        let (width, height) = (self.width, self.height);
        let mut impulse = vec![0.0; width * height];
        impulse[height / 2 * width + width / 2] = 1.0;
        self.pass(&impulse).iter().map(|v| f64::from(v * v)).sum()
    }

    fn without_stripes(&self, values: &mut [f32]) {
        let mut columns = vec![0.0_f32; self.width];
        for row in values.chunks_exact(self.width) {
            columns.iter_mut().zip(row).for_each(|(sum, v)| *sum += v);
        }
        columns.iter_mut().for_each(|sum| *sum /= self.height as f32);
        // A sum waits for its last addition: rows side by side fill that time.
        const TOGETHER: usize = 8;
        for rows in values.chunks_mut(TOGETHER * self.width) {
            let mut sums = [0.0_f32; TOGETHER];
            for row in rows.chunks_exact_mut(self.width) {
                row.iter_mut().zip(&columns).for_each(|(v, mean)| *v -= mean);
            }
            for x in 0..self.width {
                for (sum, row) in sums.iter_mut().zip(rows.chunks_exact(self.width)) {
                    *sum += row[x];
                }
            }
            for (row, sum) in rows.chunks_exact_mut(self.width).zip(sums) {
                let mean = sum / self.width as f32;
                row.iter_mut().for_each(|v| *v -= mean);
            }
        }
    }

    /// Rows, then columns; the border's values are repeated outside.
    fn blur(&self, values: &[f32], kernel: &[f32]) -> Vec<f32> {
        let (width, height, half) = (self.width, self.height, kernel.len() / 2);
        let mut across = vec![0.0_f32; values.len()];
        let mut padded = vec![0.0_f32; width + 2 * half];
        for (row, out) in values.chunks_exact(width).zip(across.chunks_exact_mut(width)) {
            padded[..half].fill(row[0]);
            padded[half..half + width].copy_from_slice(row);
            padded[half + width..].fill(row[width - 1]);
            weighted_sum(out, |j| &padded[j..j + width], kernel, false);
        }
        let mut down = vec![0.0_f32; values.len()];
        for (y, out) in down.chunks_exact_mut(width).enumerate() {
            let row = |j: usize| {
                let v = (y + j).saturating_sub(half).min(height - 1);
                &across[v * width..(v + 1) * width]
            };
            weighted_sum(out, row, kernel, false);
        }
        down
    }
}

/// Mean of those values that are numbers.
fn level(values: &[f32]) -> f64 {
    // Sums of sixteen keep their digits; only where they are no number it matters which values are.
    let (some, rest) = values.as_chunks::<16>();
    let sum = some.iter().map(|v| f64::from(v.iter().sum::<f32>())).sum::<f64>() + f64::from(rest.iter().sum::<f32>());
    if sum.is_finite() {
        return sum / values.len().max(1) as f64;
    }
    let known = values.iter().filter(|v| v.is_finite());
    known.clone().map(|v| f64::from(*v)).sum::<f64>() / known.count().max(1) as f64
}

/// Adds the sums of `bin` neighbours each. The usual sizes are written out: so they run many at a time.
fn add_bins(row: &[f32], bin: usize, out: &mut [f32]) {
    Arch::new().dispatch(
        #[inline(always)]
        || match bin {
            1 => out.iter_mut().zip(row).for_each(|(o, r)| *o += r),
            2 => out.iter_mut().zip(row.as_chunks().0).for_each(|(o, [a, b])| *o += a + b),
            3 => out.iter_mut().zip(row.as_chunks().0).for_each(|(o, [a, b, c])| *o += a + b + c),
            _ => out.iter_mut().zip(row.chunks_exact(bin)).for_each(|(o, r)| *o += r.iter().sum::<f32>()),
        },
    );
}

fn gaussian(sigma: f64) -> Vec<f32> {
    let half = (3.0 * sigma).ceil() as i32;
    let weights: Vec<f64> = (-half..=half).map(|i| (-0.5 * (f64::from(i) / sigma).powi(2)).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|w| (w / sum) as f32).collect()
}
