//! The curve at a spot and its rise fit.

use joulemark_frames::Take;
use nalgebra::Point2;

use crate::{
    Curve, Rise, TimeConstant,
    maps::PixelNoise,
    model::{Response, ResponseModel},
    peaks::Peak,
};

/// Smallest and largest standard deviation of the weights, in pixels; half the spot's scale in between.
const LEAST_PX: f64 = 0.8;
const MOST_PX: f64 = 2.5;

/// Standard deviation of the curve's weights for a spot of that scale.
pub(super) fn weight_scale_px(scale_px: f64) -> f64 {
    (scale_px / 2.0).clamp(LEAST_PX, MOST_PX)
}

/// A weighted mean over pixels, one value per frame, its first value taken off.
pub(super) struct Extracted {
    pub(super) time_s: Vec<f64>,
    pub(super) values: Vec<f64>,
    /// Standard deviation per frame.
    pub(super) sigma: f64,
}

/// Weighs pixels around the centre by a Gaussian.
pub(super) fn extract(take: &Take, noise: &PixelNoise, centre: Point2<f64>, scale_px: f64) -> Extracted {
    let shape = take.stack.shape();
    let sigma_px = weight_scale_px(scale_px);
    let radius = (3.0 * sigma_px).ceil();
    let x0 = (centre.x - radius).max(0.0) as usize;
    let x1 = ((centre.x + radius) as usize + 1).min(shape.width_px);
    let y0 = (centre.y - radius).max(0.0) as usize;
    let y1 = ((centre.y + radius) as usize + 1).min(shape.height_px);
    let mut weights = Vec::new();
    for y in y0..y1 {
        for x in x0..x1 {
            let d2 = (x as f64 - centre.x).powi(2) + (y as f64 - centre.y).powi(2);
            let usable = !noise.unusable[y * shape.width_px + x];
            weights.push(if usable { (-0.5 * d2 / (sigma_px * sigma_px)).exp() } else { 0.0 });
        }
    }
    let total: f64 = weights.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let mut row = vec![0.0_f32; x1 - x0];
    let values: Vec<f64> = (0..shape.frames)
        .map(|t| {
            let mut sum = 0.0;
            for (y, w) in (y0..y1).zip(weights.chunks_exact(x1 - x0)) {
                take.stack.copy_run(t, y * shape.width_px + x0..y * shape.width_px + x1, &mut row);
                sum += row.iter().zip(w).filter(|(_, w)| **w > 0.0).map(|(v, w)| f64::from(*v) * w).sum::<f64>();
            }
            sum / total
        })
        .collect();
    let first = values[0];
    let squares: f64 = weights.iter().map(|w| (w / total).powi(2)).sum();
    Extracted {
        time_s: take.timeline.time_s.clone(),
        values: values.iter().map(|v| v - first).collect(),
        sigma: f64::from(noise.typical) * squares.sqrt(),
    }
}

pub(super) fn fit(e: &Extracted, model: &ResponseModel, peak: &Peak, peak_share: f64) -> (Rise, Curve) {
    let member = &model.members[peak.member];
    let n = e.values.len();
    let h = model.response(member.response);
    let mut x = model.background.clone().insert_column(3, 0.0);
    x.set_column(3, &h);
    let y = nalgebra::DVector::from_column_slice(&e.values);
    let gram = x.tr_mul(&x).try_inverse().unwrap_or_else(|| nalgebra::DMatrix::identity(4, 4));
    let b = &gram * x.tr_mul(&y);
    let fitted = &x * &b;
    let a = b[3];
    let se = gram[(3, 3)].sqrt() * e.sigma;
    let tau = match member.response {
        Response::FirstOrder { tau_s } => tau_s,
        Response::Plate { reach_s } => reach_s,
    };
    let onset_s = model.drive.first_injected().map_or(0.0, |i| model.drive.time_s[i]);
    let _ = n;
    (
        Rise {
            end: a * member.end * peak_share,
            end_se: se * member.end * peak_share,
            start_slope_per_s: a / tau,
            start_slope_se_per_s: se / tau,
            time_constant: TimeConstant::AtLeast { tau_s: tau },
            onset_s,
            onset_se_s: 0.0,
            converged: false,
        },
        Curve { time_s: e.time_s.clone(), measured: e.values.clone(), fitted: fitted.iter().copied().collect() },
    )
}
