//! Maps for the eye: rise at the end of injection, its standard error, score and time constant.

use super::{Plane, noise::PixelNoise};
use crate::model::{Response, ResponseModel};

/// The time constant of a pixel is taken from its neighbourhood of this standard deviation: alone it is too noisy.
const TAU_NEIGHBOURHOOD_PX: f64 = 1.5;
/// Below this score a pixel's own time constant means nothing, and the picture's is used for its rise.
const TRUSTED_SCORE: f32 = 4.0;

/// Planes of the picture's size.
#[derive(Clone, Debug)]
pub struct RiseMaps {
    /// Rise at the last injected frame, in the take's unit.
    pub rise: Plane,
    /// Its standard error.
    pub rise_se: Plane,
    /// Largest standardised rise over the candidates.
    pub z: Plane,
    /// Time constant in seconds, NaN below the noise.
    pub tau_s: Plane,
}

/// Profiles the response per pixel on coefficients in units of the pixel noise. `fallback` is the candidate to use where
/// nothing warms.
pub fn rise_maps(model: &ResponseModel, signal: &[Plane], noise: &PixelNoise, fallback: usize) -> RiseMaps {
    let width = signal[0].width;
    let pixels = signal[0].values.len();
    let smooth: Vec<Plane> = signal.iter().map(|p| p.smoothed(TAU_NEIGHBOURHOOD_PX)).collect();
    // White noise through the smoothing kernel keeps 1/(2 sigma sqrt(pi)) of its standard deviation.
    let smooth_sd = (1.0 / (2.0 * TAU_NEIGHBOURHOOD_PX * std::f64::consts::PI.sqrt())) as f32;
    let units: Vec<Vec<f32>> = model
        .members
        .iter()
        .map(|m| (&m.coordinates / m.coordinates.norm()).iter().map(|&c| c as f32).collect())
        .collect();
    let taus: Vec<f32> = model.members.iter().map(|m| time_constant_s(model, m.response)).collect();
    let mut maps = RiseMaps {
        rise: Plane::new(width, vec![0.0; pixels]),
        rise_se: Plane::new(width, vec![0.0; pixels]),
        z: Plane::new(width, vec![0.0; pixels]),
        tau_s: Plane::new(width, vec![f32::NAN; pixels]),
    };
    for p in 0..pixels {
        let score = |planes: &[Plane], unit: &[f32]| -> f32 {
            planes.iter().zip(unit).map(|(plane, c)| plane.values[p] * c).sum()
        };
        let mut best = (f32::NEG_INFINITY, fallback);
        for (j, unit) in units.iter().enumerate() {
            let z = score(&smooth, unit);
            if z > best.0 {
                best = (z, j);
            }
        }
        let trusted = best.0 > TRUSTED_SCORE * smooth_sd;
        let j = if trusted { best.1 } else { fallback };
        let member = &model.members[j];
        let per_score = f64::from(noise.sigma[p]) * member.end / member.norm;
        maps.rise.values[p] = (f64::from(score(signal, &units[j])) * per_score) as f32;
        maps.rise_se.values[p] = per_score as f32;
        maps.z.values[p] = score(signal, &units[j]);
        if trusted {
            maps.tau_s.values[p] = taus[j];
        }
    }
    maps
}

/// The first-order time constant of a candidate, or that of the first-order candidate most like it.
fn time_constant_s(model: &ResponseModel, response: Response) -> f32 {
    match response {
        Response::FirstOrder { tau_s } => tau_s as f32,
        Response::Plate { .. } => {
            let own = model.members.iter().find(|m| m.response == response).map(|m| &m.coordinates);
            model
                .members
                .iter()
                .filter_map(|m| match (m.response, own) {
                    (Response::FirstOrder { tau_s }, Some(own)) => Some((tau_s, m.coordinates.dot(own))),
                    _ => None,
                })
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .map_or(f32::NAN, |(tau_s, _)| tau_s as f32)
        }
    }
}
