//! The curve at a spot and its rise fit.

use joulemark_frames::Timeline;
use nalgebra::{DMatrix, DVector, Point2};

use super::{Centre, Measured, pulse};
use crate::{
    Curve, Pulse, Rise, TimeConstant,
    clean::LevelCourse,
    film::Film,
    fit::{
        self,
        rise::{RiseFit, RiseProblem, TauSupport},
    },
    maps::PixelNoise,
    model::ResponseModel,
    peaks::Peak,
};

/// The centre pixel's own step counts as clear from this many standard errors.
const CLEAR_STEP: f64 = 30.0;
/// Error of the fitted height over the curve's mean, in relative errors of the height: height and size go against each other.
const SHARE_ERRORS: f64 = 2.0;
/// Trends enter the fit when the recording's drift may exceed this share of the rise.
const MOST_DRIFT_SHARE: f64 = 0.15;

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
    /// Rise of the centre pixel over that of the curve, late frames against those before injection; `None` where the
    /// pixel's rise is not clear.
    pub(super) centre_share: Option<f64>,
}

/// Weighs pixels around the centre by a Gaussian.
pub(super) fn extract(
    film: Film<'_>,
    noise: &PixelNoise,
    level: Option<&LevelCourse>,
    centre: Point2<f64>,
    scale_px: f64,
) -> Extracted {
    let shape = film.frames.shape();
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
    let (before, late) = (before_frames(film.timeline), late_frames(film.timeline));
    let centre_index = {
        let (x, y) = (centre.x.round() as usize, centre.y.round() as usize);
        (x0..x1).contains(&x).then_some(x).filter(|_| (y0..y1).contains(&y)).map(|x| (y, x - x0))
    };
    let mut centre_values = vec![0.0; shape.frames];
    let mut row = vec![0.0_f32; x1 - x0];
    let values: Vec<f64> = (0..shape.frames)
        .map(|t| {
            let mut sum = 0.0;
            for (y, w) in (y0..y1).zip(weights.chunks_exact(x1 - x0)) {
                film.frames.copy_run(t, y * shape.width_px + x0..y * shape.width_px + x1, &mut row);
                sum += row.iter().zip(w).filter(|(_, w)| **w > 0.0).map(|(v, w)| f64::from(*v) * w).sum::<f64>();
                if let Some((_, x)) = centre_index.filter(|(cy, _)| *cy == y) {
                    centre_values[t] = f64::from(row[x]);
                }
            }
            let drift = level.map_or(0.0, |l| l.0[t]);
            centre_values[t] -= drift;
            sum / total - drift
        })
        .collect();
    let first = values[0];
    let squares: f64 = weights.iter().map(|w| (w / total).powi(2)).sum();
    let step = |values: &[f64]| mean(&values[late.clone()]) - mean(&values[before.clone()]);
    let noise_of_step = f64::from(noise.typical) * (1.0 / late.len() as f64 + 1.0 / before.len() as f64).sqrt();
    let (top, around) = (step(&centre_values), step(&values));
    let clear = centre_index.is_some() && top > CLEAR_STEP * noise_of_step && around > 0.0;
    Extracted {
        time_s: film.timeline.time_s.clone(),
        values: values.iter().map(|v| v - first).collect(),
        sigma: f64::from(noise.typical) * squares.sqrt(),
        centre_share: clear.then(|| top / around),
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn before_frames(timeline: &Timeline) -> std::ops::Range<usize> {
    0..timeline.first_injected().unwrap_or(0)
}

/// The last tenth of the frames up to the last injected one.
fn late_frames(timeline: &Timeline) -> std::ops::Range<usize> {
    let end = timeline.injecting.iter().rposition(|&on| on).map_or(0, |i| i + 1);
    let injected = timeline.injecting.iter().filter(|&&on| on).count();
    end.saturating_sub((injected / 10).max(1))..end
}

/// Fits the rise. The curve sees less than the peak, so the rise is scaled to the centre by the centre
/// pixel's own step where that is clear, and by the fitted shape otherwise.
///
/// A part on a board warms on two time scales: itself, and the board around it. One first-order rise would take the slow
/// part for an early onset, so a steady share of the injected energy stands beside it. Trends of the
/// recording enter only when they may reach a good share of the rise; otherwise they are in its standard error.
pub(super) fn fit(
    extracted: &Extracted,
    measured: &Measured<'_>,
    peak: &Peak,
    centre: &Centre,
) -> (Rise, Curve, Option<Pulse>) {
    let model = measured.model;
    let (peak_share, share_error) = extracted
        .centre_share
        .map_or((centre.peak_share, SHARE_ERRORS * centre.relative_error), |share| (share, 1.0 / CLEAR_STEP));
    // Shown at the size of the rise: the centre's.
    let scaled = |values: &[f64]| values.iter().map(|v| v * peak_share).collect();
    let curve_of = |fitted: &[f64]| Curve {
        time_s: extracted.time_s.clone(),
        measured: scaled(&extracted.values),
        fitted: scaled(fitted),
    };
    if let Some((mut pulse, fitted)) = pulse::fit(&extracted.time_s, &extracted.values, model) {
        pulse.amplitude *= peak_share;
        pulse.amplitude_se = (pulse.amplitude_se * peak_share).hypot(share_error * pulse.amplitude);
        let rise = pulse::rise_of(&pulse, model.drive.onset_s(), model.drive.interval_s());
        return (rise, curve_of(&fitted), Some(pulse));
    }
    let level = model.background.columns(0, 1).into_owned();
    let drift = drift_at_end(measured);
    let with_board = beside(&level, &model.drive.energy());
    let best = try_fit(&with_board, extracted, model).or_else(|| try_fit(&level, extracted, model));
    let (mut rise, fitted) = match best {
        Some(found) if drift <= MOST_DRIFT_SHARE * end_of(&found, model).abs() => {
            let mut rise = rise_of(&found, model, peak_share);
            rise.end_se = rise.end_se.hypot(drift);
            (rise, found.fitted)
        }
        _ => match try_fit(&model.background, extracted, model) {
            Some(found) => {
                // A free trend takes the slow share of the rise with it, by as much as the drift may be.
                let mut rise = first_order_of(&found, peak_share);
                rise.end_se = rise.end_se.hypot(drift);
                (rise, found.fitted)
            }
            None => from_bank(extracted, model, peak, peak_share, &model.background),
        },
    };
    rise.end_se = rise.end_se.hypot(share_error * rise.end);
    (rise, curve_of(&fitted), None)
}

fn beside(columns: &DMatrix<f64>, column: &DVector<f64>) -> DMatrix<f64> {
    let last = columns.ncols();
    let mut wider = columns.clone().insert_column(last, 0.0);
    wider.set_column(last, column);
    wider
}

/// Standard deviation of what the recording's trends do to a pixel by the end of injection, in the take's unit.
fn drift_at_end(measured: &Measured<'_>) -> f64 {
    let variances = &measured.estimator.trend_variance;
    let squares: f64 = variances
        .iter()
        .take(measured.model.trends)
        .enumerate()
        .map(|(j, v)| v * measured.model.trend_at_end(j).powi(2))
        .sum();
    f64::from(measured.noise.typical) * squares.sqrt()
}

fn try_fit(background: &DMatrix<f64>, extracted: &Extracted, model: &ResponseModel) -> Option<RiseFit> {
    let problem = RiseProblem {
        time_s: &extracted.time_s,
        value: &extracted.values,
        noise: fit::Noise::FromResiduals,
        background,
        drive: &model.drive.power,
        delay_range_s: None,
    };
    fit::rise::fit_rise(&problem).ok().filter(|found| found.converged)
}

/// Rise at the last injected frame, the slow share included: everything in the fit but the level is heat.
fn end_of(found: &RiseFit, model: &ResponseModel) -> f64 {
    model.drive.last_injected().map_or(0.0, |last| found.fitted[last] - found.fitted[0])
}

/// The whole rise of a fit whose background is the level, with or without the slow share.
fn rise_of(found: &RiseFit, model: &ResponseModel, peak_share: f64) -> Rise {
    let mut rise = first_order_of(found, peak_share);
    let last = model.drive.last_injected().unwrap_or(0);
    // Start slope of the slow share: per second of full drive.
    let slow = (found.fitted[last] - found.rise[last] - found.fitted[0] + found.rise[0])
        / model.drive.energy()[last].max(f64::MIN_POSITIVE);
    rise.end = end_of(found, model) * peak_share;
    rise.start_slope_per_s += slow * peak_share;
    // The fitted value at the end has about the error of a mean over the last tenth of the injected frames, and the level
    // that of the frames before.
    let injected = model.drive.power.iter().filter(|p| **p > 0.0).count() as f64;
    let before = model.drive.first_injected().unwrap_or(1).max(1) as f64;
    let sigma = (found.chi_square / found.degrees_of_freedom.max(1) as f64).sqrt();
    let of_value = sigma * (10.0 / injected + 1.0 / before).sqrt();
    rise.end_se = found.end.standard_error.min(of_value) * peak_share;
    rise
}

fn first_order_of(found: &RiseFit, peak_share: f64) -> Rise {
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
    columns.set_column(last, &model.drive.response(member.response));
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
