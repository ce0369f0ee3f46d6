//! Noise per pixel, and pixels that cannot be used.

use nalgebra::DMatrix;
use rayon::prelude::*;

use super::Projection;

/// Pixels whose noise is this many times the picture's are not used (random telegraph noise, dead columns).
const NOISY_FACTOR: f32 = 6.0;
/// At least this share of a pixel's variance is left when the signal is taken off.
const LEAST_LEFT: f32 = 1e-3;
/// Steps of the heat above this share of the noise are strong: what the fitted vectors miss of them may count. Noise itself gives
/// some hundredths.
const STRONG_SHARE: f32 = 0.25;
/// Before injection, the variance of a good pixel lies within this factor of the picture's: three standard deviations and more for
/// twenty frames.
const LIKE_OTHERS: f32 = 4.0;
/// Weight of the picture's noise against a pixel's own, in frames.
const SHRINKAGE_FRAMES: f32 = 30.0;

/// Standard deviation per pixel from frame to frame, shrunk towards the picture's, and which pixels are unusable.
#[derive(Clone, Debug)]
pub struct PixelNoise {
    /// Standard deviation per pixel, above zero.
    pub sigma: Vec<f32>,
    /// Standard deviation of the median pixel.
    pub typical: f32,
    /// Pixels that are stuck, far too noisy, or not numbers.
    pub unusable: Vec<bool>,
}

/// Takes the steps that the fitted time courses make from frame to frame off the noise: a strong source warms by kelvins
/// between two frames and is no noisy pixel. `basis` (frames x vectors) is what the coefficients belong to.
///
/// A few vectors do not follow the first frames of a strong rise to the noise. Where the heat's steps are as large as this
/// matters, the frames before injection say what the pixel's noise is: the picture's, unless they show a bad pixel. Else the hottest
/// pixels would pass for noisy ones, and weigh less than the ring around them.
pub fn without_signal(projection: &mut Projection, vectors: usize, basis: &DMatrix<f64>) {
    let frames = basis.nrows();
    let steps = basis.rows(1, frames - 1) - basis.rows(0, frames - 1);
    let energy = steps.tr_mul(&steps) / (2.0 * (frames - 1) as f64);
    let energy: Vec<f32> = energy.iter().map(|v| *v as f32).collect();
    let planes = &projection.coefficients[..vectors];
    let before = &projection.variance_before;
    let usual = median(before);
    projection.variance.par_iter_mut().enumerate().for_each(|(p, variance)| {
        let mut explained = 0.0;
        for (plane, row) in planes.iter().zip(energy.chunks_exact(vectors)) {
            explained += plane[p] * row.iter().zip(planes).map(|(e, other)| e * other[p]).sum::<f32>();
        }
        // What is left of a strong step is rounding and the model's own error; zero means a stuck pixel.
        *variance = (*variance - explained).max(LEAST_LEFT * *variance);
        let usual_before = (usual / LIKE_OTHERS..=usual * LIKE_OTHERS).contains(&before[p]);
        if usual > 0.0 && explained > STRONG_SHARE * usual && usual_before {
            *variance = usual;
        }
    });
}

/// Median of the values that are numbers; zero without any.
fn median(values: &[f32]) -> f32 {
    let mut sorted: Vec<f32> = values.iter().copied().filter(|v| v.is_finite()).collect();
    let middle = sorted.len() / 2;
    if sorted.is_empty() { 0.0 } else { *sorted.select_nth_unstable_by(middle, f32::total_cmp).1 }
}

/// Judges the pixels. `None` when the median pixel never changes at all.
///
/// A pixel's own variance from `frames` frames is uncertain by a share of about `sqrt(3/frames)`; shrinking it towards
/// the picture's keeps a quiet-by-chance pixel from looking certain (Smyth, Stat. Appl. Genet. Mol. Biol. 3 (2004) 3,
/// with a fixed prior weight).
pub fn judge(variance: &[f32], frames: usize) -> Option<PixelNoise> {
    let mut sorted: Vec<f32> = variance.iter().copied().filter(|v| v.is_finite()).collect();
    if sorted.is_empty() {
        return None;
    }
    let middle = sorted.len() / 2;
    let (_, &mut median, _) = sorted.select_nth_unstable_by(middle, f32::total_cmp);
    // Coarse counts: a median of zero with some pixels changing means the noise is below one count.
    let typical_variance = if median > 0.0 { median } else { sorted.iter().sum::<f32>() / sorted.len() as f32 };
    if typical_variance <= 0.0 {
        return None;
    }
    let weight = frames as f32;
    let unusable = variance
        .iter()
        .map(|&v| !v.is_finite() || (v == 0.0 && median > 0.0) || v > NOISY_FACTOR * NOISY_FACTOR * typical_variance)
        .collect();
    let sigma = variance
        .iter()
        .map(|&v| {
            let own = if v.is_finite() { v } else { typical_variance };
            ((weight * own + SHRINKAGE_FRAMES * typical_variance) / (weight + SHRINKAGE_FRAMES)).sqrt()
        })
        .collect();
    Some(PixelNoise { sigma, typical: typical_variance.sqrt(), unusable })
}

/// Unusable pixels with the usable ones around each, for any number of planes.
#[derive(Debug, Default)]
pub struct Holes(Vec<(usize, Vec<usize>)>);

impl Holes {
    /// In rows of `width` pixels. The neighbours are those of the first ring, out of five, that has any.
    pub fn new(unusable: &[bool], width: usize) -> Self {
        let height = unusable.len() / width;
        let ring = |p: usize, ring: usize| -> Vec<usize> {
            let (y, x) = (p / width, p % width);
            let rows = y.saturating_sub(ring)..=(y + ring).min(height - 1);
            let columns = x.saturating_sub(ring)..=(x + ring).min(width - 1);
            rows.flat_map(|v| columns.clone().map(move |u| v * width + u)).filter(|&q| !unusable[q]).collect()
        };
        let around = |p: usize| (1..=5).map(|r| ring(p, r)).find(|found| !found.is_empty()).unwrap_or_default();
        Self((0..unusable.len()).filter(|&p| unusable[p]).map(|p| (p, around(p))).collect())
    }

    /// Gives each the mean of its neighbours, zero where it has none.
    pub fn mend(&self, plane: &mut [f32]) {
        for (p, around) in &self.0 {
            let sum: f32 = around.iter().map(|&q| plane[q]).sum();
            plane[*p] = if around.is_empty() { 0.0 } else { sum / around.len() as f32 };
        }
    }
}

#[cfg(test)]
mod tests {
    use joulemark_frames::{CountsLaw, NoProgress, Samples, Stack, Timeline};
    use ndarray::Array3;
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, Normal};

    use super::*;
    use crate::{
        maps,
        model::{Drive, ResponseModel},
    };

    /// A pixel that warms by 40 K on two time scales, of which the faster is a few frames, and one that jumps to and fro by a
    /// kelvin from the onset on, in noise of 40 mK.
    #[test]
    fn a_strong_rise_is_no_noise_and_a_restless_pixel_is() {
        let (frames, onset) = (240, 60);
        let mut timeline = Timeline::steady(frames, 12.0);
        timeline.inject_from(onset);
        let model = ResponseModel::new(Drive::from_timeline(&timeline, 0.0), &[]);
        let mut random = ChaCha8Rng::seed_from_u64(4);
        let noise = Normal::new(0.0, 0.04).unwrap();
        let samples = Array3::from_shape_fn((frames, 12, 12), |(t, y, x)| {
            let age_s = (t as f64 - onset as f64 + 0.5) / 12.0;
            let own = match (y, x) {
                _ if age_s <= 0.0 => 0.0,
                (5, 5) => -28.0 * (-age_s / 0.12).exp_m1() - 12.0 * (-age_s / 4.0).exp_m1(),
                (8, 8) => f64::from(u8::from(t % 3 == 0)),
                _ => 0.0,
            };
            (300.0 + own + noise.sample(&mut random)) as f32
        });
        let stack = Stack::new(Samples::F32(samples), CountsLaw::IDENTITY);
        let mut projection = maps::project(&stack, &maps::Readout::of(&model), onset, &NoProgress).unwrap();
        let strong = 5 * 12 + 5;
        assert!(projection.variance[strong] > 36.0 * 0.04 * 0.04, "its steps would make it a noisy pixel");
        without_signal(&mut projection, model.vectors.ncols(), &model.vectors);
        let noise = judge(&projection.variance, frames).unwrap();
        let bad: Vec<usize> = (0..144).filter(|&p| noise.unusable[p]).collect();
        assert_eq!(bad, [8 * 12 + 8]);
        // Its own variance is that of the median pixel, to the 2 % that the median of 144 scatters.
        assert!((noise.sigma[strong] / noise.typical - 1.0).abs() < 0.05, "{}", noise.sigma[strong]);
    }

    #[test]
    fn stuck_and_wild_pixels_are_told_apart_from_quiet_ones() {
        let mut variance = vec![0.01_f32; 100];
        variance[3] = 0.0;
        variance[4] = 1.0;
        variance[5] = 0.008;
        variance[6] = f32::NAN;
        let noise = judge(&variance, 100).unwrap();
        let bad: Vec<usize> = (0..100).filter(|&i| noise.unusable[i]).collect();
        assert_eq!(bad, [3, 4, 6]);
        assert!((noise.typical - 0.1).abs() < 1e-6);
        assert!(noise.sigma[5] > 0.008_f32.sqrt() && noise.sigma[5] < 0.1);
    }

    #[test]
    fn nothing_moving_is_not_noise() {
        assert!(judge(&[0.0; 10], 50).is_none());
    }

    #[test]
    fn holes_take_their_neighbours_mean() {
        let mut plane = vec![1.0, 2.0, 3.0, 4.0, 99.0, 6.0, 7.0, 8.0, 9.0];
        let unusable: Vec<bool> = (0..9).map(|i| i == 4).collect();
        Holes::new(&unusable, 3).mend(&mut plane);
        assert_eq!(plane[4], 5.0);
    }
}
