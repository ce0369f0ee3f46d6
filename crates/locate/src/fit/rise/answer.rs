//! From the minimum to what is reported: standard errors, and whether the time constant is known.

use nalgebra::{DMatrix, DVector, Matrix3, RowVector3};

use super::{
    RiseFit, TauSupport,
    response::Response,
    solve::{Model, better},
};
use crate::fit::{
    Estimate,
    engine::{SeparableModel, Solution, Termination, minimise, sum_of_squares},
};

/// Rise of chi-square at a one-sided 95 % bound: chi-square with one degree of freedom at 90 %.
const BOUND_RISE: f64 = 2.706;

/// The same at 99.5 %: a time constant is reported as known only when the ends of its range are refused this clearly.
const RESOLVED_RISE: f64 = 6.635;

pub(super) fn assemble(model: Model<'_>, data: &DVector<f64>, best: Solution) -> RiseFit {
    let (tau_s, delay_s) = model.tau_and_delay(&best.nonlinear);
    let gain = best.linear[0];
    let frames = data.len();
    let degrees_of_freedom = frames - model.background_rank() - 1 - model.bounds().len();
    let scale = model.problem.noise.variance_scale(best.sum_of_squares, degrees_of_freedom);
    let covariance = covariance(&model, &best, scale);
    let estimate = |value: f64, gradient: RowVector3<f64>| Estimate {
        value,
        standard_error: (gradient * covariance * gradient.transpose())[(0, 0)].max(0.0).sqrt(),
    };
    let span = model.span;
    let end = response_at(&model, tau_s, delay_s, span.end_s);
    let slope = gain * span.first_power / tau_s;
    let mut rise = vec![0.0; frames];
    model.drive().response(tau_s, delay_s, model.problem.time_s, |i, r| rise[i] = gain * r.value);
    let residuals: Vec<f64> = best.residuals.iter().zip(model.weights()).map(|(r, w)| r / w).collect();
    let mut fit = RiseFit {
        gain: estimate(gain, RowVector3::new(1.0, 0.0, 0.0)),
        plateau: estimate(gain * span.last_power, RowVector3::new(span.last_power, 0.0, 0.0)),
        tau_s: estimate(tau_s, RowVector3::new(0.0, tau_s, 0.0)),
        onset_s: estimate(span.start_s + delay_s, RowVector3::new(0.0, 0.0, 1.0)),
        end: estimate(gain * end.value, RowVector3::new(end.value, gain * end.by_ln_tau, gain * end.by_delay)),
        start_slope_per_s: estimate(slope, RowVector3::new(span.first_power / tau_s, -slope, 0.0)),
        covariance,
        correlation_gain_tau: covariance[(0, 1)] / (covariance[(0, 0)] * covariance[(1, 1)]).sqrt(),
        tau: TauSupport::Unknown,
        converged: best.termination == Termination::Converged,
        termination: best.termination,
        chi_square: best.sum_of_squares,
        degrees_of_freedom,
        fitted: model.problem.value.iter().zip(&residuals).map(|(v, r)| v - r).collect(),
        rise,
        residuals,
    };
    fit.tau = tau_support(model, data, &best, &fit, scale);
    fit
}

/// First-order errors are trusted in the middle of the range; near its ends the profile must agree.
fn tau_support(mut model: Model<'_>, data: &DVector<f64>, best: &Solution, fit: &RiseFit, scale: f64) -> TauSupport {
    let (span, tau_s) = (model.span, fit.tau_s.value);
    let within = tau_s >= span.interval_s / 3.0 && tau_s <= 2.5 * span.length_s();
    let in_the_middle = tau_s > 3.0 * span.interval_s && tau_s < span.length_s();
    let (low, high) = model.ln_tau_range();
    let delay_s = model.tau_and_delay(&best.nonlinear).1;
    let mut allowed = |ln_tau: f64, rise: f64| {
        let limit = best.sum_of_squares + rise * scale;
        model.hold(ln_tau);
        profile(&model, data, delay_s, limit) < limit
    };
    let resolved = fit.converged && fit.covariance[(1, 1)].sqrt() < 0.5 && within;
    if resolved && (in_the_middle || (!allowed(low, RESOLVED_RISE) && !allowed(high, RESOLVED_RISE))) {
        return TauSupport::Resolved;
    }
    let found = tau_s.ln().clamp(low, high);
    let lower = edge(|ln_tau| allowed(ln_tau, BOUND_RISE), found, low).map(f64::exp);
    let upper = edge(|ln_tau| allowed(ln_tau, BOUND_RISE), found, high).map(f64::exp);
    match (lower, upper) {
        (Some(lower), Some(upper)) => TauSupport::Between(lower, upper),
        (Some(lower), None) => TauSupport::AtLeast(lower),
        (None, Some(upper)) => TauSupport::AtMost(upper),
        (None, None) => TauSupport::Unknown,
    }
}

fn response_at(model: &Model<'_>, tau_s: f64, delay_s: f64, at_s: f64) -> Response {
    let mut found = Response::default();
    model.drive().response(tau_s, delay_s, &[at_s], |_, r| found = r);
    found
}

/// Covariance of gain, ln(tau) and delay. The columns are off the background, so its uncertainty is in it.
///
/// Where the record does not determine them, each nonlinear parameter is taken as uniform over its range.
fn covariance(model: &Model<'_>, best: &Solution, scale: f64) -> Matrix3<f64> {
    let mut columns = vec![model.columns(&best.nonlinear)];
    columns.extend(model.derivatives(&best.nonlinear).into_iter().map(|d| d * best.linear[0]));
    let free = columns.len();
    let normal = DMatrix::from_fn(free, free, |i, j| columns[i].dot(&columns[j]) / scale);
    let mut spread = DVector::zeros(free);
    for (k, (low, high)) in model.bounds().iter().enumerate() {
        spread[k + 1] = (high - low) / 12f64.sqrt();
    }
    let determined = invert(normal.clone()).filter(|c| (1..free).all(|k| c[(k, k)].sqrt() < 0.5 * spread[k]));
    let found = determined.or_else(|| {
        let mut with_ranges = normal;
        for k in 1..free {
            with_ranges[(k, k)] += spread[k].powi(-2);
        }
        invert(with_ranges)
    });
    let mut all = Matrix3::zeros();
    if let Some(found) = found {
        all.view_mut((0, 0), (free, free)).copy_from(&found);
    } else {
        all[(0, 0)] = f64::INFINITY;
    }
    all
}

/// Inverse of a normal matrix, scaled to unit diagonal first.
fn invert(normal: DMatrix<f64>) -> Option<DMatrix<f64>> {
    let count = normal.nrows();
    let norms: Vec<f64> = (0..count).map(|i| normal[(i, i)].sqrt()).collect();
    if norms.iter().any(|n| !n.is_finite() || *n == 0.0) {
        return None;
    }
    let scaled = DMatrix::from_fn(count, count, |i, j| normal[(i, j)] / (norms[i] * norms[j]));
    let inverse = scaled.cholesky()?.inverse();
    Some(DMatrix::from_fn(count, count, |i, j| inverse[(i, j)] / (norms[i] * norms[j])))
}

/// Least sum of squares over the delay, tau held; any value below the limit will do.
fn profile(model: &Model<'_>, data: &DVector<f64>, delay_s: f64, limit: f64) -> f64 {
    if !model.delay_is_free() {
        return sum_of_squares(model, data, &[]);
    }
    // Sums of squares are compared with a limit a few units away: no need to be exact.
    let near = minimise(model, data, &[delay_s], 1e-6);
    if near.sum_of_squares < limit {
        return near.sum_of_squares;
    }
    better(near, minimise(model, data, &[0.0], 1e-6)).sum_of_squares
}

/// Where `allowed` ends between `from` (allowed) and `limit`; `None` if it reaches the limit.
fn edge(mut allowed: impl FnMut(f64) -> bool, from: f64, limit: f64) -> Option<f64> {
    const STEPS: u32 = 8;
    let at = |share: f64| from + (limit - from) * share;
    let first_out = (1..=STEPS).map(|i| f64::from(i) / f64::from(STEPS)).find(|share| !allowed(at(*share)))?;
    let (mut inside, mut outside) = (first_out - 1.0 / f64::from(STEPS), first_out);
    for _ in 0..8 {
        let middle = 0.5 * (inside + outside);
        if allowed(at(middle)) {
            inside = middle;
        } else {
            outside = middle;
        }
    }
    Some(at(0.5 * (inside + outside)))
}
