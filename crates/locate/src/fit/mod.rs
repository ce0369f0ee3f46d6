//! Curve and peak fits: linear parameters eliminated, the few others by Levenberg-Marquardt from several starts.
//!
//! Every fit says whether it converged, and its standard errors come from all parameters jointly.

pub mod engine;
mod error;
mod exponential;
mod flanks;
mod moments;
mod non_negative;
pub mod rise;
pub mod spot;

pub use error::FitError;
pub use exponential::ExponentialRise;
pub use flanks::{FlankFit, fit_flanks};
pub use moments::Moments;
pub use non_negative::non_negative;

/// A value with its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
}

/// What is known of the noise of the values that are fitted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Noise<'a> {
    /// One standard deviation for each value.
    Each(&'a [f64]),
    /// One standard deviation for all.
    Same(f64),
    /// Unknown but equal: estimated from the residuals.
    FromResiduals,
}

impl Noise<'_> {
    /// Weight (one over the standard deviation) of value `index`.
    pub(crate) fn weight(&self, index: usize) -> f64 {
        match self {
            Self::Each(sigma) => 1.0 / sigma[index],
            Self::Same(sigma) => 1.0 / sigma,
            Self::FromResiduals => 1.0,
        }
    }

    /// Factor from unit to actual variance, given the weighted sum of squares.
    pub(crate) fn variance_scale(&self, sum_of_squares: f64, degrees_of_freedom: usize) -> f64 {
        match self {
            Self::Each(_) | Self::Same(_) => 1.0,
            Self::FromResiduals => sum_of_squares / degrees_of_freedom as f64,
        }
    }

    pub(crate) fn check(&self, values: usize) -> Result<(), FitError> {
        let good = |sigma: &f64| sigma.is_finite() && *sigma > 0.0;
        match self {
            Self::Each(sigma) if sigma.len() != values => {
                Err(FitError::Length { what: "noise", found: sigma.len(), expected: values })
            }
            Self::Each(sigma) => sigma.iter().position(|s| !good(s)).map_or(Ok(()), |i| Err(FitError::BadNoise(i))),
            Self::Same(sigma) if !good(sigma) => Err(FitError::BadNoise(0)),
            _ => Ok(()),
        }
    }
}
