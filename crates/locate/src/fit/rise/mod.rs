//! The rise of one curve: first-order response to the logged injection, on background terms.

mod answer;
mod response;
mod solve;
#[cfg(test)]
mod tests;

use nalgebra::{DMatrix, Matrix3};

use super::{Estimate, Noise, engine::Termination};

pub use response::Drive;
pub use solve::fit_rise;

/// A curve and what drove it.
///
/// The model is `y = background * b + gain * h(t - delay)` with `tau dh/dt = drive - h`, `h = 0` before the first frame.
#[derive(Clone, Copy, Debug)]
pub struct RiseProblem<'a> {
    /// Time of each frame, rising.
    pub time_s: &'a [f64],
    /// Value in each frame.
    pub value: &'a [f64],
    /// Noise of the values, white.
    pub noise: Noise<'a>,
    /// Background terms: a row per frame, a column per term (level, time, ...). Terms that others imitate do no harm.
    pub background: &'a DMatrix<f64>,
    /// Injected power (any unit) from each frame's time until the next frame's; the last holds on.
    pub drive: &'a [f64],
    /// Range of the delay of the onset after the logged one. `None`: from 2 s before to half the injection after it.
    /// A range of no width keeps the delay fixed.
    pub delay_range_s: Option<(f64, f64)>,
}

/// What the record says of the time constant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TauSupport {
    /// Plateau and time constant stand apart: the relative standard error is below 0.5, and the value lies between a
    /// third of the frame interval and 2.5 times the injection (starting values, common practice without a source); near
    /// those ends the profile likelihood refuses the ends of its range too, at 99.5 % each.
    Resolved,
    /// Not resolved, but bounded on both sides (95 % each, profile likelihood).
    Between(f64, f64),
    /// Too slow for the record: at least this (95 %).
    AtLeast(f64),
    /// Too fast for the frames: at most this (95 %).
    AtMost(f64),
    /// Any time constant will do: there is no rise to speak of.
    Unknown,
}

/// A fitted rise. Standard errors come from all parameters jointly, background included, to first order; where the
/// record leaves the time constant open, they take it as lying somewhere in its range.
#[derive(Clone, Debug, PartialEq)]
pub struct RiseFit {
    /// Rise per unit of drive once settled.
    pub gain: Estimate,
    /// Settled rise at the drive that the injection ended with.
    pub plateau: Estimate,
    /// Time constant.
    pub tau_s: Estimate,
    /// When the curve starts to rise, on the log's clock.
    pub onset_s: Estimate,
    /// Rise at the end of injection.
    pub end: Estimate,
    /// Slope at the onset, at the drive that the injection started with: proportional to power over heat capacity.
    pub start_slope_per_s: Estimate,
    /// Covariance of gain, ln(tau) and onset.
    pub covariance: Matrix3<f64>,
    /// Correlation of the estimates of gain and tau.
    pub correlation_gain_tau: f64,
    /// What the record says of the time constant.
    pub tau: TauSupport,
    /// Whether a minimum was found inside the bounds.
    pub converged: bool,
    /// How the fit ended.
    pub termination: Termination,
    /// Sum of squared residuals over the noise (unit noise when it comes from the residuals).
    pub chi_square: f64,
    /// Frames less parameters.
    pub degrees_of_freedom: usize,
    /// Background and rise, per frame.
    pub fitted: Vec<f64>,
    /// The rise alone, per frame.
    pub rise: Vec<f64>,
    /// Value less fit, per frame.
    pub residuals: Vec<f64>,
}
