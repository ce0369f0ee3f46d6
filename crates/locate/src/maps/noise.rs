//! Noise per pixel, and pixels that cannot be used.

use nalgebra::DMatrix;
use rayon::prelude::*;

/// Pixels whose noise is this many times the picture's are not used (random telegraph noise, dead columns).
const NOISY_FACTOR: f32 = 6.0;
/// At least this share of a pixel's variance is left when the signal is taken off.
const LEAST_LEFT: f32 = 1e-3;
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
/// between two frames and is no noisy pixel. `basis` (frames x vectors) is what `planes` are the coefficients of.
pub fn without_signal(variance: &mut [f32], planes: &[Vec<f32>], basis: &DMatrix<f64>) {
    let frames = basis.nrows();
    let steps = basis.rows(1, frames - 1) - basis.rows(0, frames - 1);
    let energy = steps.tr_mul(&steps) / (2.0 * (frames - 1) as f64);
    let size = planes.len();
    let energy: Vec<f32> = energy.iter().map(|v| *v as f32).collect();
    variance.par_iter_mut().enumerate().for_each(|(p, variance)| {
        let mut explained = 0.0;
        for (plane, row) in planes.iter().zip(energy.chunks_exact(size)) {
            explained += plane[p] * row.iter().zip(planes).map(|(e, other)| e * other[p]).sum::<f32>();
        }
        // What is left of a strong step is rounding and the model's own error; zero means a stuck pixel.
        *variance = (*variance - explained).max(LEAST_LEFT * *variance);
    });
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

/// Replaces unusable pixels of a plane by the mean of their usable neighbours, in growing rings.
pub fn mend(plane: &mut [f32], unusable: &[bool], width: usize) {
    let height = plane.len() / width;
    let holes: Vec<usize> = (0..plane.len()).filter(|&p| unusable[p]).collect();
    let mended: Vec<f32> = holes
        .iter()
        .map(|&p| {
            let (y, x) = (p / width, p % width);
            (1..=5_usize)
                .find_map(|ring| {
                    let mut sum = 0.0;
                    let mut count = 0.0;
                    for v in y.saturating_sub(ring)..=(y + ring).min(height - 1) {
                        for u in x.saturating_sub(ring)..=(x + ring).min(width - 1) {
                            if !unusable[v * width + u] {
                                sum += plane[v * width + u];
                                count += 1.0;
                            }
                        }
                    }
                    (count > 0.0).then(|| sum / count)
                })
                .unwrap_or(0.0)
        })
        .collect();
    for (p, value) in holes.into_iter().zip(mended) {
        plane[p] = value;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
        mend(&mut plane, &unusable, 3);
        assert_eq!(plane[4], 5.0);
    }
}
