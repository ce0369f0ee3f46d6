//! `y = plateau (1 - exp(-rate x))`, with standard errors under both conventions.

use nalgebra::{DMatrix, DVector};

use super::{
    Estimate, FitError, Noise,
    engine::{SeparableModel, TIGHTEST, Termination, jacobian, minimise, sum_of_squares, unit_covariance},
    error::all_finite,
};

/// A fitted `y = plateau (1 - exp(-rate x))`.
#[derive(Clone, Debug, PartialEq)]
pub struct ExponentialRise {
    /// Value that the curve tends to, in the unit of `y`.
    pub plateau: Estimate,
    /// Per unit of `x`.
    pub rate: Estimate,
    /// Weighted sum of squared residuals.
    pub sum_of_squares: f64,
    /// Values less parameters.
    pub degrees_of_freedom: usize,
    /// How the fit ended. Unless converged, the values are no fit: a flat line or a straight one serves as well.
    pub termination: Termination,
}

struct Model<'a> {
    x: &'a [f64],
    noise: &'a Noise<'a>,
    ln_rate_bounds: [(f64, f64); 1],
}

impl Model<'_> {
    fn column(&self, f: impl Fn(f64) -> f64) -> DMatrix<f64> {
        DMatrix::from_fn(self.x.len(), 1, |i, _| f(self.x[i]) * self.noise.weight(i))
    }
}

impl SeparableModel for Model<'_> {
    fn bounds(&self) -> &[(f64, f64)] {
        &self.ln_rate_bounds
    }

    fn columns(&self, nonlinear: &[f64]) -> DMatrix<f64> {
        let rate = nonlinear[0].exp();
        self.column(|x| -(-rate * x).exp_m1())
    }

    fn derivatives(&self, nonlinear: &[f64]) -> Vec<DMatrix<f64>> {
        let rate = nonlinear[0].exp();
        vec![self.column(|x| rate * x * (-rate * x).exp())]
    }
}

impl ExponentialRise {
    /// Fits from a start and, so as not to stick where the curve is flat, from a range of rates.
    ///
    /// `x` is positive, in any unit. Standard errors follow `noise`: as given, or from the residuals.
    ///
    /// # Errors
    /// See [`FitError`].
    pub fn fit(x: &[f64], y: &[f64], noise: &Noise<'_>, start_rate: f64) -> Result<Self, FitError> {
        let (least, most) = check(x, y, noise)?;
        if !(start_rate.is_finite() && start_rate > 0.0) {
            return Err(FitError::BadRange("start rate"));
        }
        // From a curve straight to 1 part in 10^4 to one that is flat to rounding from the first value on.
        let ln_rate_bounds = [((1e-4 / most).ln(), (40.0 / least).ln())];
        let model = Model { x, noise, ln_rate_bounds };
        let data = DVector::from_fn(y.len(), |i, _| y[i] * noise.weight(i));
        let [(low, high)] = ln_rate_bounds;
        let grid = (1..20).map(|i| low + (high - low) * f64::from(i) / 20.0);
        let start = grid.map(|p| (p, sum_of_squares(&model, &data, &[p]))).min_by(|a, b| a.1.total_cmp(&b.1));
        let starts = [Some(start_rate.ln().clamp(low, high)), start.map(|s| s.0)];
        let found = starts
            .into_iter()
            .flatten()
            .map(|p| minimise(&model, &data, &[p], TIGHTEST))
            .min_by(|a, b| a.sum_of_squares.total_cmp(&b.sum_of_squares))
            .ok_or(FitError::BadRange("start rate"))?;

        // Where the curve is flat the sum of squares is level, and the minimiser stops short of the bound.
        let at_bounds = sum_of_squares(&model, &data, &[low]).min(sum_of_squares(&model, &data, &[high]));
        let no_better = found.sum_of_squares >= at_bounds * (1.0 - 1e-9);
        let termination = if no_better { Termination::AtBound } else { found.termination };
        let rate = found.nonlinear[0].exp();
        let degrees_of_freedom = y.len() - 2;
        let scale = noise.variance_scale(found.sum_of_squares, degrees_of_freedom);
        let covariance = unit_covariance(&jacobian(&model, &found.nonlinear, &found.linear));
        let error = |i: usize| covariance.as_ref().map_or(f64::INFINITY, |c| (c[(i, i)] * scale).sqrt());
        Ok(Self {
            plateau: Estimate { value: found.linear[0], standard_error: error(0) },
            // The fit works in ln(rate).
            rate: Estimate { value: rate, standard_error: rate * error(1) },
            sum_of_squares: found.sum_of_squares,
            degrees_of_freedom,
            termination,
        })
    }
}

/// Returns the least and the most `x`.
fn check(x: &[f64], y: &[f64], noise: &Noise<'_>) -> Result<(f64, f64), FitError> {
    if x.len() != y.len() {
        return Err(FitError::Length { what: "x", found: x.len(), expected: y.len() });
    }
    if y.len() < 3 {
        return Err(FitError::TooFew { found: y.len(), needed: 3 });
    }
    all_finite("x", x)?;
    all_finite("y", y)?;
    noise.check(y.len())?;
    let least = x.iter().copied().fold(f64::INFINITY, f64::min);
    let most = x.iter().copied().fold(0.0, f64::max);
    if least <= 0.0 { Err(FitError::BadRange("x")) } else { Ok((least, most)) }
}
