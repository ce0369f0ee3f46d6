//! Reflections: what shiny surfaces mirror comes and goes smoothly over the board, times the sharp texture of `1 - e`
//! that the picture before injection shows as well.
//!
//! Each coefficient map is regressed on that texture, locally: `u = b(x) texture + rest` with a `b` that is smooth in space.
//! A plain high-pass would turn the pads into spots. The same regression takes out how spread heat shows on pads.

use rayon::prelude::*;

use crate::maps::Plane;

/// Neighbourhood in which the factor is taken as constant, in millimetres: larger than parts, smaller than a hand's
/// reflection.
const NEIGHBOURHOOD_MM: f64 = 5.0;
/// And in pixels, at least and at most.
const NEIGHBOURHOOD_PX: std::ops::RangeInclusive<f64> = 8.0..=48.0;
/// Texture below this (standard deviation in the take's unit) tells nothing: fixed pattern is as large.
const LEAST_TEXTURE: f32 = 0.06;

/// The emissivity texture of the board before injection, less its local mean.
pub(crate) struct Texture {
    /// Zero off the board.
    texture: Plane,
    /// Local mean square, with the floor.
    power: Plane,
    radius_px: usize,
}

impl Texture {
    /// From the picture before injection. `None` where no texture stands out of the fixed pattern.
    pub(crate) fn new(before: &Plane, board: &[bool], mm_per_px: f64) -> Option<Self> {
        let reach_px = (NEIGHBOURHOOD_MM / mm_per_px).clamp(*NEIGHBOURHOOD_PX.start(), *NEIGHBOURHOOD_PX.end());
        // Two boxes of this radius have about the spread of a Gaussian of `reach_px`.
        let radius_px = (reach_px * 1.22).round() as usize;
        let inside: Vec<f32> = board.iter().map(|b| f32::from(u8::from(*b))).collect();
        let count = (0..board.len()).filter(|&p| board[p]).count().max(1) as f32;
        let mean = before.values.iter().zip(&inside).map(|(v, m)| v * m).sum::<f32>() / count;
        let masked: Vec<f32> = before.values.iter().zip(&inside).map(|(v, m)| (v - mean) * m).collect();
        let (local, share) = rayon::join(
            || Plane::new(before.width, masked).boxed_twice(radius_px),
            || Plane::new(before.width, inside).boxed_twice(radius_px),
        );
        let values: Vec<f32> = (0..board.len())
            .map(|p| if board[p] { before.values[p] - mean - local.values[p] / share.values[p].max(1e-3) } else { 0.0 })
            .collect();
        let rms = (values.iter().map(|v| v * v).sum::<f32>() / count).sqrt();
        if rms < LEAST_TEXTURE {
            return None;
        }
        let texture = Plane::new(before.width, values);
        let mut power = squared(&texture, &texture).boxed_twice(radius_px);
        for p in &mut power.values {
            *p += LEAST_TEXTURE * LEAST_TEXTURE;
        }
        Some(Self { texture, power, radius_px })
    }

    /// Takes off each plane what follows the texture.
    pub(crate) fn take_off(&self, planes: &mut [Plane]) {
        planes.par_iter_mut().for_each(|plane| {
            let mut factor = squared(plane, &self.texture).boxed_twice(self.radius_px);
            for (f, power) in factor.values.iter_mut().zip(&self.power.values) {
                *f /= power;
            }
            for ((value, f), t) in plane.values.iter_mut().zip(&factor.values).zip(&self.texture.values) {
                *value -= f * t;
            }
        });
    }
}

fn squared(a: &Plane, b: &Plane) -> Plane {
    Plane::new(a.width, a.values.iter().zip(&b.values).map(|(x, y)| x * y).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pads of a third of the area at 0.5 K of texture, a smooth reflection over them, and a spot on the mask.
    #[test]
    fn a_reflection_on_pads_goes_and_a_spot_stays() {
        let pad = |x: usize, y: usize| (x / 3 + 2 * (y / 3)) % 5 < 2;
        let at = |f: &dyn Fn(usize, usize) -> f32| Plane::new(96, (0..96 * 72).map(|p| f(p % 96, p / 96)).collect());
        let before = at(&|x, y| 300.0 - if pad(x, y) { 0.5 } else { 0.0 });
        let bump = |x: usize, y: usize| (-((x as f32 - 30.0).powi(2) + (y as f32 - 40.0).powi(2)) / 600.0).exp();
        let spot = |x: usize, y: usize| 6.0 * (-((x as f32 - 70.0).powi(2) + (y as f32 - 20.0).powi(2)) / 8.0).exp();
        let mut planes = vec![at(&|x, y| if pad(x, y) { 10.0 * bump(x, y) } else { 0.0 } + spot(x, y))];
        let texture = Texture::new(&before, &vec![true; 96 * 72], 0.5).unwrap();
        let rough = |plane: &Plane| {
            let fine = plane.smoothed(4.0);
            (0..40).map(|i| (plane.at(15 + i % 20, 30 + i) - fine.at(15 + i % 20, 30 + i)).abs()).fold(0.0, f32::max)
        };
        let before_cleaning = rough(&planes[0]);
        texture.take_off(&mut planes);
        // The factor is constant over the neighbourhood only to first order: here a third stays.
        assert!(rough(&planes[0]) < 0.4 * before_cleaning, "{} of {before_cleaning}", rough(&planes[0]));
        assert!(planes[0].at(70, 20) > 5.0, "{}", planes[0].at(70, 20));
    }
}
