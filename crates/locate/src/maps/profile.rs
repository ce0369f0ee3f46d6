//! The candidate that scores highest at each pixel.

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::Plane;

/// Pixels that are worked on together: their values in all planes stay in the second-level cache.
const RUN_PX: usize = 8192;
/// Vectors of pixels at a time: best score, choice and running sum of four fit the registers.
const AT_ONCE: usize = 4;

/// Largest weighted sum over the candidates per pixel, and the candidate that gave it (the first of equals). Each candidate
/// has one weight per plane.
pub fn profile(planes: &[&Plane], candidates: &[Vec<f32>]) -> (Vec<f32>, Vec<u16>) {
    let pixels = planes[0].values.len();
    let mut best = vec![f32::NEG_INFINITY; pixels];
    let mut which = vec![0_u16; pixels];
    let runs = best.par_chunks_mut(RUN_PX).zip(which.par_chunks_mut(RUN_PX)).enumerate();
    runs.for_each(|(run, (best, which))| {
        let start = run * RUN_PX;
        let rows: Vec<&[f32]> = planes.iter().map(|plane| &plane.values[start..start + best.len()]).collect();
        // As wide as the scores, so that both are chosen in the same vectors.
        let mut chosen = vec![0_u32; best.len()];
        Arch::new().dispatch(Profile { best, chosen: &mut chosen, rows: &rows, candidates });
        for (which, chosen) in which.iter_mut().zip(chosen) {
            *which = chosen as u16;
        }
    });
    (best, which)
}

struct Profile<'a> {
    best: &'a mut [f32],
    chosen: &'a mut [u32],
    rows: &'a [&'a [f32]],
    candidates: &'a [Vec<f32>],
}

impl WithSimd for Profile<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self { best, chosen, rows, candidates } = self;
        let wide: Vec<&[[S::f32s; AT_ONCE]]> = rows.iter().map(|row| S::as_simd_f32s(row).0.as_chunks().0).collect();
        let pixels_at_once = AT_ONCE * size_of::<S::f32s>() / size_of::<f32>();
        let whole = best.len() - best.len() % pixels_at_once;
        let (wide_best, tail_best) = best.split_at_mut(whole);
        let (wide_chosen, tail_chosen) = chosen.split_at_mut(whole);
        let wide_best = S::as_mut_simd_f32s(wide_best).0.as_chunks_mut::<AT_ONCE>().0;
        let wide_chosen = S::as_mut_simd_u32s(wide_chosen).0.as_chunks_mut::<AT_ONCE>().0;
        for (i, (best_out, chosen_out)) in wide_best.iter_mut().zip(wide_chosen).enumerate() {
            let mut best = [simd.splat_f32s(f32::NEG_INFINITY); AT_ONCE];
            let mut chosen = [simd.splat_u32s(0); AT_ONCE];
            for (j, weights) in (0..).zip(candidates) {
                let mut scores = [simd.splat_f32s(0.0); AT_ONCE];
                for (row, &weight) in wide.iter().zip(weights) {
                    let weight = simd.splat_f32s(weight);
                    for (score, value) in scores.iter_mut().zip(row[i]) {
                        *score = simd.mul_add_e_f32s(weight, value, *score);
                    }
                }
                let j = simd.splat_u32s(j);
                for ((best, chosen), score) in best.iter_mut().zip(&mut chosen).zip(scores) {
                    let better = simd.greater_than_f32s(score, *best);
                    *best = simd.select_f32s(better, score, *best);
                    *chosen = simd.select_u32s(better, j, *chosen);
                }
            }
            (*best_out, *chosen_out) = (best, chosen);
        }
        for (p, (best, chosen)) in tail_best.iter_mut().zip(tail_chosen).enumerate() {
            for (j, weights) in (0..).zip(candidates) {
                let score = weights.iter().zip(rows).map(|(w, row)| w * row[whole + p]).sum::<f32>();
                if score > *best {
                    (*best, *chosen) = (score, j);
                }
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
