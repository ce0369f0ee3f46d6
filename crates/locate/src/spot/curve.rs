//! The curve at a spot and its rise fit.

use joulemark_frames::Take;
use nalgebra::{DMatrix, DVector, Point2};

use super::Measured;
use crate::{
    Curve, Rise, TimeConstant,
    fit::{
        self,
        rise::{RiseFit, RiseProblem, TauSupport},
    },
    maps::PixelNoise,
    model::ResponseModel,
    peaks::Peak,
};

/// A trend enters the fit when its variance, in units of the curve's own noise, exceeds this: below, leaving it out biases
/// the rise by less than half a standard error.
const LEAST_TREND_VARIANCE: f64 = 0.25;
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
    /// How many pixels the weights average over.
    pub(super) pixels: f64,
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
        pixels: 1.0 / squares.max(f64::MIN_POSITIVE),
    }
}

/// Fits the rise. `peak_share` is the rise at the centre over the curve's: the weights see less than the peak.
pub(super) fn fit(extracted: &Extracted, measured: &Measured<'_>, peak: &Peak, peak_share: f64) -> (Rise, Curve) {
    let background = background(extracted, measured);
    let problem = RiseProblem {
        time_s: &extracted.time_s,
        value: &extracted.values,
        noise: fit::Noise::FromResiduals,
        background: &background,
        drive: &measured.model.drive.power,
        delay_range_s: None,
    };
    let curve =
        |fitted: Vec<f64>| Curve { time_s: extracted.time_s.clone(), measured: extracted.values.clone(), fitted };
    match fit::rise::fit_rise(&problem) {
        Ok(found) if found.converged => (rise_of(&found, peak_share), curve(found.fitted)),
        _ => {
            let (rise, fitted) = from_bank(extracted, measured.model, peak, peak_share, &background);
            (rise, curve(fitted))
        }
    }
}

/// The level, and the trends that this recording has: a trend that the board's pixels do not show would only widen the
/// errors.
fn background(extracted: &Extracted, measured: &Measured<'_>) -> DMatrix<f64> {
    let all = &measured.model.background;
    let columns: Vec<usize> = std::iter::once(0)
        .chain(
            (1..all.ncols())
                .filter(|&j| measured.estimator.trend_variance[j - 1] * extracted.pixels > LEAST_TREND_VARIANCE),
        )
        .collect();
    all.select_columns(&columns)
}

fn rise_of(found: &RiseFit, peak_share: f64) -> Rise {
    let time_constant = match found.tau {
        TauSupport::Resolved => TimeConstant::Known {
            tau_s: found.tau_s.value,
            tau_se_s: found.tau_s.standard_error,
            plateau: found.plateau.value * peak_share,
            plateau_se: found.plateau.standard_error * peak_share,
        },
        TauSupport::Between(low_s, high_s) => TimeConstant::Between { low_s, high_s },
        TauSupport::AtLeast(tau_s) => TimeConstant::AtLeast { tau_s },
        TauSupport::AtMost(tau_s) => TimeConstant::AtMost { tau_s },
        TauSupport::Unknown => TimeConstant::Unknown,
    };
    Rise {
        end: found.end.value * peak_share,
        end_se: found.end.standard_error * peak_share,
        start_slope_per_s: found.start_slope_per_s.value * peak_share,
        start_slope_se_per_s: found.start_slope_per_s.standard_error * peak_share,
        time_constant,
        onset_s: found.onset_s.value,
        onset_se_s: found.onset_s.standard_error,
        converged: true,
    }
}

/// What the response bank says, where the fit does not converge: the peak's own candidate on the same background.
fn from_bank(
    extracted: &Extracted,
    model: &ResponseModel,
    peak: &Peak,
    peak_share: f64,
    background: &DMatrix<f64>,
) -> (Rise, Vec<f64>) {
    let member = &model.members[peak.member];
    let last = background.ncols();
    let mut columns = background.clone().insert_column(last, 0.0);
    columns.set_column(last, &model.response(member.response));
    let values = DVector::from_column_slice(&extracted.values);
    let onset_s = model.drive.first_injected().map_or(0.0, |i| model.drive.time_s[i]);
    let (amplitude, se, fitted) = match columns.tr_mul(&columns).try_inverse() {
        Some(inverse) => {
            let solution = &inverse * columns.tr_mul(&values);
            (solution[last], inverse[(last, last)].max(0.0).sqrt() * extracted.sigma, &columns * solution)
        }
        None => (0.0, f64::INFINITY, values),
    };
    let tau_s = model.time_constant_s(member.response);
    let rise = Rise {
        end: amplitude * member.end * peak_share,
        end_se: se * member.end * peak_share,
        start_slope_per_s: amplitude / tau_s * peak_share,
        start_slope_se_per_s: se / tau_s * peak_share,
        time_constant: TimeConstant::Unknown,
        onset_s,
        onset_se_s: model.drive.interval_s(),
        converged: false,
    };
    (rise, fitted.iter().copied().collect())
}
