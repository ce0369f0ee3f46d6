//! A picture that sways by a fraction of a pixel: every coefficient map then carries the gradient of the picture's own
//! texture, with one factor each for the directions and the turn (first order of a Taylor series).

use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;

use crate::maps::Plane;

/// The texture is smoothed by this much before its gradient is taken: fixed pattern noise does not move with the scene.
const SMOOTHED_PX: f64 = 0.7;
/// Pixels beyond this many standard deviations of noise do not teach: they are heat.
const CLIP: f32 = 6.0;
/// Sway is taken off when the improvement in chi-square exceeds this, for three factors: one chance in ten thousand.
const LEAST_CHI_SQUARE: f64 = 21.0;

/// Takes the sway off all planes where the first `signal` planes show some. `noise` is the standard deviation of a plane's
/// pixels. Returns the largest shift that a plane showed, in pixels.
pub(crate) fn take_off_sway(planes: &mut [Plane], signal: usize, before: &Plane, noise: f32) -> Option<f64> {
    let texture = before.smoothed(SMOOTHED_PX);
    let (width, height) = (texture.width, texture.height);
    let gradients: Vec<Vector3<f32>> = (0..texture.values.len())
        .into_par_iter()
        .map(|p| {
            let (x, y) = (p % width, p / width);
            let (x0, x1) = (x.saturating_sub(1), (x + 1).min(width - 1));
            let (y0, y1) = (y.saturating_sub(1), (y + 1).min(height - 1));
            let gx = (texture.at(x1, y) - texture.at(x0, y)) / 2.0;
            let gy = (texture.at(x, y1) - texture.at(x, y0)) / 2.0;
            // The turn about the middle, in units of a shift at half the picture's size.
            let (u, v) = (2.0 * x as f32 / width as f32 - 1.0, 2.0 * y as f32 / height as f32 - 1.0);
            Vector3::new(gx, gy, u * gy - v * gx)
        })
        .collect();
    let gram = gradients.iter().fold(Matrix3::zeros(), |sum: Matrix3<f64>, g| {
        let g = g.map(f64::from);
        sum + g * g.transpose()
    });
    let inverse = gram.try_inverse()?;
    let factors: Vec<(Vector3<f64>, f64)> = planes
        .par_iter()
        .map(|plane| {
            let limit = CLIP * noise;
            let moment = plane.values.iter().zip(&gradients).fold(Vector3::zeros(), |sum: Vector3<f64>, (v, g)| {
                sum + g.map(f64::from) * f64::from(v.clamp(-limit, limit))
            });
            let factor = inverse * moment;
            (factor, moment.dot(&factor) / f64::from(noise).powi(2))
        })
        .collect();
    if factors.iter().take(signal).all(|(_, chi_square)| *chi_square < LEAST_CHI_SQUARE) {
        return None;
    }
    planes.par_iter_mut().zip(&factors).for_each(|(plane, (factor, _))| {
        let factor = factor.map(|v| v as f32);
        for (value, g) in plane.values.iter_mut().zip(&gradients) {
            *value -= factor.dot(g);
        }
    });
    factors.iter().take(signal).map(|(f, _)| f.x.hypot(f.y)).max_by(f64::total_cmp)
}
