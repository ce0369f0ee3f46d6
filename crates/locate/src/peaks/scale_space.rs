//! Centre-minus-surround filters over a range of scales: Gaussians of ratio 2 subtracted, half an octave apart, each
//! octave on a grid of half the size (Lindeberg, IJCV 30 (1998) 79; Burt & Adelson, IEEE Trans. Commun. 31 (1983) 532).

use crate::maps::Plane;

/// Standard deviation of the finest Gaussian, in grid pixels. At 0.8 a grid can be halved after one octave with less
/// than 5 % of the amplitude folded over.
pub(super) const FINEST_PX: f64 = 0.8;
/// Scales per octave.
pub(super) const LEVELS: usize = 2;
/// The coarsest centre is this share of the picture's shorter side, at most.
const COARSEST_SHARE: f64 = 0.1;

/// How many octaves a picture of that size holds.
pub(super) fn octaves(width: usize, height: usize) -> usize {
    let coarsest = COARSEST_SHARE * width.min(height) as f64;
    ((coarsest / FINEST_PX).log2().floor().max(0.0) as usize).clamp(1, 5)
}

/// Standard deviation of the centre Gaussian of a level, in picture pixels.
pub(super) fn scale_px(octave: usize, level: usize) -> f64 {
    FINEST_PX * 2.0_f64.powf(octave as f64 + level as f64 / LEVELS as f64)
}

/// The filtered planes of one input: `[octave][level]`. Grid pixel (i, j) of octave o sits on picture pixel
/// (2^o i, 2^o j).
pub(super) fn filtered(input: &Plane, octaves: usize) -> Vec<[Plane; LEVELS]> {
    let mut out = Vec::with_capacity(octaves);
    let mut finest = input.smoothed(FINEST_PX);
    for octave in 0..octaves {
        // Standard deviations grow by sqrt(2) per level; variances of successive Gaussians add.
        let second = finest.smoothed(FINEST_PX);
        let third = second.smoothed(FINEST_PX * std::f64::consts::SQRT_2);
        let fourth = third.smoothed(FINEST_PX * 2.0);
        let next = (octave + 1 < octaves).then(|| third.halved());
        out.push([difference(finest, &third), difference(second, &fourth)]);
        match next {
            Some(plane) => finest = plane,
            None => break,
        }
    }
    out
}

fn difference(mut centre: Plane, surround: &Plane) -> Plane {
    for (c, s) in centre.values.iter_mut().zip(&surround.values) {
        *c -= s;
    }
    centre
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gaussian_spot_answers_strongest_near_its_own_size() {
        let sigma = 3.0;
        let values = (0..96 * 96)
            .map(|p| {
                let (x, y) = ((p % 96) as f64 - 48.0, (p / 96) as f64 - 48.0);
                (-0.5 * (x * x + y * y) / (sigma * sigma)).exp() as f32
            })
            .collect();
        let space = filtered(&Plane::new(96, values), 4);
        // Matched filtering weighs the answer by the filter's noise, which falls as 1/scale.
        let mut best = (0.0, 0.0);
        for (o, levels) in space.iter().enumerate() {
            for (k, plane) in levels.iter().enumerate() {
                let step = 1 << o;
                let answer = f64::from(plane.at(48 / step, 48 / step)) * scale_px(o, k);
                if answer > best.0 {
                    best = (answer, scale_px(o, k));
                }
            }
        }
        // s (w^2/(w^2+s^2) - w^2/(w^2+4s^2)) for a spot of width w is largest at s = 1.3 w; levels are a factor 1.41 apart.
        assert!((1.0..=1.6).contains(&(best.1 / sigma)), "{best:?}");
    }
}
