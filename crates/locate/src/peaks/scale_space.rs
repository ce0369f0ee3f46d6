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
pub(super) type Space = Vec<[Plane; LEVELS]>;

/// Planes that are only needed on the way.
#[derive(Clone, Debug, Default)]
pub(super) struct Scratch {
    third: Plane,
    fourth: Plane,
}

/// Filters `input` into `out`, whose memory is used again.
pub(super) fn filter(input: &Plane, octaves: usize, out: &mut Space, scratch: &mut Scratch) {
    out.resize_with(octaves, Default::default);
    let Scratch { third, fourth } = scratch;
    for (octave, [first, second]) in out.iter_mut().enumerate() {
        if octave == 0 {
            input.smooth_into(FINEST_PX, first);
        } else {
            third.halve_into(first);
        }
        // Standard deviations grow by sqrt(2) per level; variances of successive Gaussians add.
        first.smooth_into(FINEST_PX, second);
        second.smooth_into(FINEST_PX * std::f64::consts::SQRT_2, third);
        third.smooth_into(FINEST_PX * 2.0, fourth);
        first.subtract(third);
        second.subtract(fourth);
    }
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
        let mut space = Space::new();
        filter(&Plane::new(96, values), 4, &mut space, &mut Scratch::default());
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
