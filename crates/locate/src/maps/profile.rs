//! The candidate that scores highest at each pixel.

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::{Plane, weighted::weighted_sum};

/// Rows that are worked on together.
const ROWS: usize = 16;

/// Largest weighted sum over the candidates per pixel, and the candidate that gave it (the first of equals). Each candidate
/// has one weight per plane.
pub fn profile(planes: &[&Plane], candidates: &[Vec<f32>]) -> (Vec<f32>, Vec<u16>) {
    let (width, pixels) = (planes[0].width, planes[0].values.len());
    let mut best = vec![f32::NEG_INFINITY; pixels];
    let mut which = vec![0_u16; pixels];
    let bands = best.par_chunks_mut(ROWS * width).zip(which.par_chunks_mut(ROWS * width)).enumerate();
    bands.for_each(|(band, (best, which))| {
        let mut scores = vec![0.0_f32; width];
        // As wide as the scores, so that both are compared and chosen in the same vectors.
        let mut chosen = vec![0_u32; width];
        for (i, (best, which)) in best.chunks_exact_mut(width).zip(which.chunks_exact_mut(width)).enumerate() {
            let start = (band * ROWS + i) * width;
            for (j, weights) in (0..).zip(candidates) {
                weighted_sum(&mut scores, |k| &planes[k].values[start..start + width], weights, false);
                Arch::new().dispatch(KeepLarger { best, chosen: &mut chosen, scores: &scores, j });
            }
            for (which, chosen) in which.iter_mut().zip(&mut chosen) {
                *which = std::mem::take(chosen) as u16;
            }
        }
    });
    (best, which)
}

/// Puts scores above the best so far in its place, and `j` beside them.
struct KeepLarger<'a> {
    best: &'a mut [f32],
    chosen: &'a mut [u32],
    scores: &'a [f32],
    j: u32,
}

impl WithSimd for KeepLarger<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let (best, best_tail) = S::as_mut_simd_f32s(self.best);
        let (chosen, chosen_tail) = S::as_mut_simd_u32s(self.chosen);
        let (scores, scores_tail) = S::as_simd_f32s(self.scores);
        let j = simd.splat_u32s(self.j);
        for ((best, chosen), &score) in best.iter_mut().zip(chosen).zip(scores) {
            let better = simd.greater_than_f32s(score, *best);
            *best = simd.select_f32s(better, score, *best);
            *chosen = simd.select_u32s(better, j, *chosen);
        }
        for ((best, chosen), &score) in best_tail.iter_mut().zip(chosen_tail).zip(scores_tail) {
            if score > *best {
                (*best, *chosen) = (score, self.j);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_looking_at_each_pixel() {
        let plane = |seed: usize| Plane::new(19, (0..19 * 21).map(|p| ((p * seed) % 23) as f32 - 11.0).collect());
        let planes = [plane(5), plane(7), plane(11)];
        let candidates: Vec<Vec<f32>> =
            (0..9).map(|j| (0..3).map(|k| ((3 * j + 5 * k) % 7) as f32 - 3.0).collect()).collect();
        let (best, which) = profile(&planes.each_ref(), &candidates);
        for p in 0..19 * 21 {
            let score = |w: &Vec<f32>| w.iter().zip(&planes).map(|(w, plane)| w * plane.values[p]).sum::<f32>();
            // Small integers: exact in f32.
            let first = candidates.iter().position(|w| score(w) == best[p]).unwrap();
            assert!(candidates.iter().all(|w| score(w) <= best[p]));
            assert_eq!(usize::from(which[p]), first);
        }
    }
}
