//! Finds the minimum: background projected off once, gain eliminated, tau and delay from several starts.

use nalgebra::{DMatrix, DVector};

use super::{Drive, RiseFit, RiseProblem, answer};
use crate::fit::{
    FitError,
    engine::{SeparableModel, Solution, minimise, sum_of_squares},
    error::all_finite,
};

/// Earliest start of a rise before the logged injection: a log may lag the picture by a frame or two.
const MOST_LEAD_S: f64 = 2.0;

/// Of the minimiser: far below any noise.
const TOLERANCE: f64 = 1e-10;

/// Times and ranges that follow from the log.
#[derive(Clone, Copy, Debug)]
pub(super) struct Span {
    /// Median distance of frames.
    pub(super) interval_s: f64,
    /// Logged start of injection.
    pub(super) start_s: f64,
    /// Logged end of injection, or the last frame.
    pub(super) end_s: f64,
    /// Power at the start.
    pub(super) first_power: f64,
    /// Power at the end.
    pub(super) last_power: f64,
}

impl Span {
    fn of(time_s: &[f64], drive: &[f64]) -> Result<Self, FitError> {
        let first = drive.iter().position(|d| *d != 0.0).ok_or(FitError::NoDrive)?;
        let last = drive.iter().rposition(|d| *d != 0.0).ok_or(FitError::NoDrive)?;
        let mut steps: Vec<f64> = time_s.windows(2).map(|w| w[1] - w[0]).collect();
        let middle = steps.len() / 2;
        let interval_s = *steps.select_nth_unstable_by(middle, f64::total_cmp).1;
        let end_s = time_s[(last + 1).min(time_s.len() - 1)];
        let span =
            Self { interval_s, start_s: time_s[first], end_s, first_power: drive[first], last_power: drive[last] };
        // Injection in the last frame only has driven nothing yet.
        if span.length_s() > 0.0 { Ok(span) } else { Err(FitError::NoDrive) }
    }

    /// Length of the injection.
    pub(super) fn length_s(&self) -> f64 {
        self.end_s - self.start_s
    }

    fn ln_tau_range(&self) -> (f64, f64) {
        ((0.2 * self.interval_s).ln(), (20.0 * self.length_s().max(self.interval_s)).ln())
    }
}

/// The response as a separable model with one column, off the background.
pub(super) struct Model<'a> {
    pub(super) problem: RiseProblem<'a>,
    pub(super) span: Span,
    weights: Vec<f64>,
    /// Orthonormal, weighted.
    background: DMatrix<f64>,
    /// Of ln(tau), then of the delay where it is free.
    bounds: Vec<(f64, f64)>,
    /// The delay where it is not free.
    fixed_delay_s: Option<f64>,
    /// Ln(tau) where it is not free.
    fixed_ln_tau: Option<f64>,
}

impl<'a> Model<'a> {
    fn new(problem: &RiseProblem<'a>) -> Result<Self, FitError> {
        let span = Span::of(problem.time_s, problem.drive)?;
        let weights: Vec<f64> = (0..problem.value.len()).map(|i| problem.noise.weight(i)).collect();
        let weighted =
            DMatrix::from_fn(weights.len(), problem.background.ncols(), |i, j| problem.background[(i, j)] * weights[i]);
        let (low, high) = problem.delay_range_s.unwrap_or((-MOST_LEAD_S, 0.5 * span.length_s()));
        if !(low.is_finite() && high.is_finite() && low <= high) {
            return Err(FitError::BadRange("delay"));
        }
        let mut bounds = vec![span.ln_tau_range()];
        let fixed_delay_s = (low == high).then_some(low);
        if fixed_delay_s.is_none() {
            bounds.push((low, high));
        }
        let background = orthonormal(weighted);
        Ok(Self { problem: *problem, span, weights, background, bounds, fixed_delay_s, fixed_ln_tau: None })
    }

    /// Holds ln(tau) from now on.
    pub(super) fn hold(&mut self, ln_tau: f64) {
        if self.fixed_ln_tau.replace(ln_tau).is_none() {
            self.bounds.remove(0);
        }
    }

    pub(super) fn delay_is_free(&self) -> bool {
        self.fixed_delay_s.is_none()
    }

    pub(super) fn ln_tau_range(&self) -> (f64, f64) {
        self.span.ln_tau_range()
    }

    /// Background terms that count.
    pub(super) fn background_rank(&self) -> usize {
        self.background.ncols()
    }

    pub(super) fn delay_range_s(&self) -> (f64, f64) {
        self.fixed_delay_s.map_or_else(|| self.bounds[self.bounds.len() - 1], |d| (d, d))
    }

    pub(super) fn drive(&self) -> Drive<'a> {
        Drive { time_s: self.problem.time_s, power: self.problem.drive }
    }

    /// Tau and delay from the free parameters.
    pub(super) fn tau_and_delay(&self, nonlinear: &[f64]) -> (f64, f64) {
        let ln_tau = self.fixed_ln_tau.unwrap_or_else(|| nonlinear[0]);
        let delay = self.fixed_delay_s.unwrap_or_else(|| nonlinear[nonlinear.len() - 1]);
        (ln_tau.exp(), delay)
    }

    /// Weights, and takes the background off.
    pub(super) fn reduce(&self, mut column: DVector<f64>) -> DVector<f64> {
        for (value, weight) in column.iter_mut().zip(&self.weights) {
            *value *= weight;
        }
        for q in self.background.column_iter() {
            let dot = q.dot(&column);
            column.axpy(-dot, &q, 1.0);
        }
        column
    }

    pub(super) fn weights(&self) -> &[f64] {
        &self.weights
    }

    pub(super) fn data(&self) -> DVector<f64> {
        self.reduce(DVector::from_column_slice(self.problem.value))
    }
}

impl SeparableModel for Model<'_> {
    fn bounds(&self) -> &[(f64, f64)] {
        &self.bounds
    }

    fn columns(&self, nonlinear: &[f64]) -> DMatrix<f64> {
        let (tau_s, delay_s) = self.tau_and_delay(nonlinear);
        let mut h = DVector::zeros(self.weights.len());
        self.drive().response(tau_s, delay_s, self.problem.time_s, |i, r| h[i] = r.value);
        as_matrix(self.reduce(h))
    }

    fn derivatives(&self, nonlinear: &[f64]) -> Vec<DMatrix<f64>> {
        let (tau_s, delay_s) = self.tau_and_delay(nonlinear);
        let mut by_ln_tau = DVector::zeros(self.weights.len());
        let mut by_delay = DVector::zeros(self.weights.len());
        self.drive().response(tau_s, delay_s, self.problem.time_s, |i, r| {
            by_ln_tau[i] = r.by_ln_tau;
            by_delay[i] = r.by_delay;
        });
        let mut all = Vec::with_capacity(2);
        if self.fixed_ln_tau.is_none() {
            all.push(as_matrix(self.reduce(by_ln_tau)));
        }
        if self.delay_is_free() {
            all.push(as_matrix(self.reduce(by_delay)));
        }
        all
    }
}

fn as_matrix(column: DVector<f64>) -> DMatrix<f64> {
    let rows = column.len();
    column.reshape_generic(nalgebra::Dyn(rows), nalgebra::Dyn(1))
}

/// Orthonormal columns with the same span; columns that others imitate are dropped.
fn orthonormal(mut m: DMatrix<f64>) -> DMatrix<f64> {
    for mut column in m.column_iter_mut() {
        let length = column.norm();
        if length > 0.0 {
            column /= length;
        }
    }
    if m.ncols() == 0 {
        return m;
    }
    let svd = m.svd(true, false);
    let limit = 1e-10 * svd.singular_values.max();
    let kept: Vec<usize> = (0..svd.singular_values.len()).filter(|i| svd.singular_values[*i] > limit).collect();
    svd.u.map_or_else(|| DMatrix::zeros(0, 0), |u| u.select_columns(&kept))
}

/// Fits a rise.
///
/// # Errors
/// See [`FitError`]. Not converging is an answer.
pub fn fit_rise(problem: &RiseProblem<'_>) -> Result<RiseFit, FitError> {
    check(problem)?;
    let model = Model::new(problem)?;
    let data = model.data();
    let needed = model.background_rank() + model.bounds.len() + 2;
    if data.len() < needed {
        return Err(FitError::TooFew { found: data.len(), needed });
    }
    refuse_hidden_drive(&model)?;
    let best = search(&model, &data);
    Ok(answer::assemble(model, &data, best))
}

fn check(problem: &RiseProblem<'_>) -> Result<(), FitError> {
    let frames = problem.value.len();
    if frames < 4 {
        return Err(FitError::TooFew { found: frames, needed: 4 });
    }
    let lengths =
        [("time", problem.time_s.len()), ("drive", problem.drive.len()), ("background", problem.background.nrows())];
    if let Some((what, found)) = lengths.into_iter().find(|(_, n)| *n != frames) {
        return Err(FitError::Length { what, found, expected: frames });
    }
    all_finite("time", problem.time_s)?;
    all_finite("the curve", problem.value)?;
    all_finite("drive", problem.drive)?;
    all_finite("background", problem.background.iter())?;
    problem.noise.check(frames)?;
    let back = problem.time_s.windows(2).position(|w| w[1] <= w[0]);
    back.map_or(Ok(()), |i| Err(FitError::TimeNotRising(i + 1)))
}

/// The response must keep a millionth of its length off the background at some time constant.
fn refuse_hidden_drive(model: &Model<'_>) -> Result<(), FitError> {
    let delay = 0f64.clamp(model.delay_range_s().0, model.delay_range_s().1);
    let stands_out = starts_tau(model).any(|ln_tau| {
        let (mut all, mut index) = (0.0, 0);
        model.drive().response(ln_tau.exp(), delay, model.problem.time_s, |_, r| {
            all += (r.value * model.weights[index]).powi(2);
            index += 1;
        });
        let parameters = [ln_tau, delay];
        model.columns(&parameters[..model.bounds.len()]).norm() > 1e-6 * all.sqrt() && all > 0.0
    });
    if stands_out { Ok(()) } else { Err(FitError::DriveHidden) }
}

fn starts_tau(model: &Model<'_>) -> impl Iterator<Item = f64> + use<> {
    const COUNT: u32 = 10;
    let (low, high) = model.ln_tau_range();
    (0..COUNT).map(move |i| low + (high - low) * (f64::from(i) + 0.5) / f64::from(COUNT))
}

/// Best of several starts.
fn search(model: &Model<'_>, data: &DVector<f64>) -> Solution {
    let (low, high) = model.delay_range_s();
    let delays: Vec<f64> = if model.delay_is_free() {
        let zero = 0f64.clamp(low, high);
        [zero, 0.5 * (low + zero), 0.85 * zero + 0.15 * high, 0.5 * (zero + high)].to_vec()
    } else {
        vec![low]
    };
    let mut starts: Vec<(f64, Vec<f64>)> = Vec::new();
    for ln_tau in starts_tau(model) {
        for delay in &delays {
            let start = [ln_tau, *delay][..model.bounds.len()].to_vec();
            starts.push((sum_of_squares(model, data, &start), start));
        }
    }
    starts.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut best = minimise(model, data, &starts[0].1, TOLERANCE);
    // A second basin, if there is one, has its best start elsewhere in tau.
    if let Some((_, other)) = starts.iter().find(|(_, s)| (s[0] - starts[0].1[0]).abs() > 1.5) {
        best = better(best, minimise(model, data, other, TOLERANCE));
    }
    restart_beside(model, data, best)
}

/// The sum of squares has a kink wherever the onset passes a frame, and fast rises can stick between two of them. What
/// such minima share is the lag `delay + tau`, so restarts trade one for the other, or move the onset by less than a frame.
fn restart_beside(model: &Model<'_>, data: &DVector<f64>, mut best: Solution) -> Solution {
    const ROUNDS: usize = 3;
    for _ in 0..ROUNDS {
        let (tau_s, delay_s) = model.tau_and_delay(&best.nonlinear);
        if !model.delay_is_free() || tau_s > 10.0 * model.span.interval_s {
            break;
        }
        let before = best.sum_of_squares;
        let sideways = [-0.75, 0.75].map(|frames| (tau_s, delay_s + frames * model.span.interval_s));
        let traded = [0.1, 0.3, 3.0].map(|factor| (factor * tau_s, delay_s + (1.0 - factor) * tau_s));
        for (tau_s, delay_s) in sideways.into_iter().chain(traded) {
            best = better(best, minimise(model, data, &[tau_s.ln(), delay_s], TOLERANCE));
        }
        if best.sum_of_squares > before * (1.0 - 1e-6) {
            break;
        }
    }
    best
}

pub(super) fn better(a: Solution, b: Solution) -> Solution {
    if b.sum_of_squares < a.sum_of_squares { b } else { a }
}
