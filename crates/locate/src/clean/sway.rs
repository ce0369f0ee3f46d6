//! A picture that sways by a fraction of a pixel: every coefficient map then carries the gradient of the picture's own
//! texture, with one factor each for the directions and the turn (first order of a Taylor series).

use nalgebra::{Matrix3, Vector3};
use pulp::Arch;
use rayon::prelude::*;

use super::lanes::sum_in_lanes;
use crate::maps::Plane;

/// The texture is smoothed by this much before its gradient is taken: fixed pattern noise does not move with the scene.
const SMOOTHED_PX: f64 = 0.7;
/// Pixels beyond this many standard deviations of noise do not teach: they are heat.
const CLIP: f32 = 6.0;
/// And heat reaches this far around them.
const HEAT_REACH_PX: usize = 3;
/// With less than this share of the picture away from heat nothing is taken off.
const LEAST_COOL_SHARE: f64 = 0.2;
/// Sway is taken off when the improvement in chi-square exceeds this, for three factors: one chance in ten thousand.
const LEAST_CHI_SQUARE: f64 = 21.0;

/// Takes the sway off all planes where the first `signal` planes show some. `noise` is the standard deviation of a plane's
/// pixels. Returns the largest shift that a plane showed, in pixels.
pub(crate) fn take_off_sway(planes: &mut [Plane], signal: usize, before: &Plane, noise: f32) -> Option<f64> {
    let gradients = gradients(&before.smoothed(SMOOTHED_PX));
    let cool = away_from_heat(&planes[..signal], CLIP * noise)?;
    let taught = gradients
        .each_ref()
        .map(|g| Plane::new(g.width, g.values.iter().zip(&cool).map(|(v, c)| if *c { *v } else { 0.0 }).collect()));
    let gram = Matrix3::from_fn(|i, j| product(&taught[i], &taught[j], f32::INFINITY));
    let inverse = gram.try_inverse()?;
    let factors: Vec<(Vector3<f64>, f64)> = planes
        .par_iter()
        .map(|plane| {
            let moment = Vector3::from_fn(|i, _| product(plane, &taught[i], CLIP * noise));
            let factor = inverse * moment;
            (factor, moment.dot(&factor) / f64::from(noise).powi(2))
        })
        .collect();
    if factors.iter().take(signal).all(|(_, chi_square)| *chi_square < LEAST_CHI_SQUARE) {
        return None;
    }
    planes.par_iter_mut().zip(&factors).for_each(|(plane, (factor, _))| {
        for (gradient, &factor) in gradients.iter().zip(factor.iter()) {
            let factor = factor as f32;
            for (value, g) in plane.values.iter_mut().zip(&gradient.values) {
                *value -= factor * g;
            }
        }
    });
    factors.iter().take(signal).map(|(f, _)| f.x.hypot(f.y)).max_by(f64::total_cmp)
}

/// Pixels with no heat within a few pixels in any plane: heat has gradients of its own. `None` where little is left.
fn away_from_heat(planes: &[Plane], limit: f32) -> Option<Vec<bool>> {
    let (width, height) = (planes[0].width, planes[0].height);
    let hot: Vec<bool> =
        (0..width * height).into_par_iter().map(|p| planes.iter().any(|plane| plane.values[p].abs() > limit)).collect();
    let mut wide = Plane::new(width, hot.iter().map(|h| f32::from(u8::from(*h))).collect());
    wide = wide.boxed_twice(HEAT_REACH_PX);
    // A lone pixel beyond the limit is a bad pixel or an edge that sways by much, and no heat.
    let alone = 2.0 / ((2 * HEAT_REACH_PX + 1) as f32).powi(2);
    let cool: Vec<bool> = wide.values.iter().zip(&hot).map(|(w, h)| *w <= alone && !*h).collect();
    let share = cool.iter().filter(|c| **c).count() as f64 / cool.len() as f64;
    (share >= LEAST_COOL_SHARE).then_some(cool)
}

/// Change of the texture per pixel along x and along y, and with a turn about the middle, in units of a shift at half the
/// picture's size.
fn gradients(texture: &Plane) -> [Plane; 3] {
    let (width, height) = (texture.width, texture.height);
    let mut gradients = [(); 3].map(|()| Plane::new(width, vec![0.0; texture.values.len()]));
    let [across, down, turn] = gradients.each_mut().map(|plane| plane.values.par_chunks_exact_mut(width));
    across.zip(down).zip(turn).enumerate().for_each(|(y, ((across, down), turn))| {
        let (above, here, below) =
            (texture.row(y.saturating_sub(1)), texture.row(y), texture.row((y + 1).min(height - 1)));
        let v = 2.0 * y as f32 / height as f32 - 1.0;
        for x in 0..width {
            let gx = (here[(x + 1).min(width - 1)] - here[x.saturating_sub(1)]) / 2.0;
            let gy = (below[x] - above[x]) / 2.0;
            let u = 2.0 * x as f32 / width as f32 - 1.0;
            (across[x], down[x], turn[x]) = (gx, gy, u * gy - v * gx);
        }
    });
    gradients
}

/// Sum of products, the first factor clipped. Rows are added up in f32, the picture in f64.
fn product(a: &Plane, b: &Plane, limit: f32) -> f64 {
    Arch::new().dispatch(
        #[inline(always)]
        move || {
            let rows = a.values.chunks_exact(a.width).zip(b.values.chunks_exact(a.width));
            rows.map(|(a, b)| f64::from(sum_in_lanes(a, b, |x, y| x.clamp(-limit, limit) * y))).sum()
        },
    )
}
