//! How much each place's coefficients count: pixel noise, drift, and what the templates cannot know.

use super::{LedgerInput, samples::Sample};

/// The templates are wrong by this share of the rise in amount, from place to place: texture of the emissivity, copper
/// that is not even. Found on simulated boards; on the mask and on parts of unknown emissivity.
const MISFIT_MASK: f64 = 0.08;
const MISFIT_PART: f64 = 0.3;
/// And by this share in their course over time.
const MISFIT_COURSE: f64 = 0.05;

/// Square root of one sample's inverse covariance: noise and drift scale each coefficient; misfit takes a share of what lies
/// along the sample's own coefficients, and a smaller one of all.
#[derive(Clone, Debug)]
pub(super) struct Whitener {
    scale: Vec<f64>,
    along: Vec<f64>,
    taken: f64,
}

impl Whitener {
    /// `unsure` is the share of the sample on parts of unknown emissivity.
    pub(super) fn new(input: &LedgerInput<'_>, sample: &Sample, unsure: f64) -> Self {
        let drift = |k: usize| input.estimator.and_then(|e| e.trend_variance.get(k)).copied().unwrap_or(0.0);
        let noise: Vec<f64> = (0..sample.seen.len())
            .map(|k| {
                // Drift is common to the pixels of a cell; it is stated in units of a pixel's noise.
                sample.variance + drift(k) * f64::from(input.noise.typical).powi(2)
            })
            .collect();
        let scaled: Vec<f64> = sample.seen.iter().zip(&noise).map(|(v, n)| v / n.sqrt()).collect();
        let squared = scaled.iter().map(|v| v * v).sum::<f64>();
        let strength = (squared - scaled.len() as f64).max(0.0);
        let across = 1.0 + MISFIT_COURSE.powi(2) * strength;
        let along = across + (MISFIT_MASK + (MISFIT_PART - MISFIT_MASK) * unsure.min(1.0)).powi(2) * strength;
        let length = squared.sqrt().max(f64::MIN_POSITIVE);
        Self {
            scale: noise.iter().map(|n| 1.0 / (n * across).sqrt()).collect(),
            along: scaled.iter().map(|v| v / length).collect(),
            taken: 1.0 - (across / along).sqrt(),
        }
    }

    /// Share of the variance along the sample's own coefficients that is misfit.
    pub(super) fn misfit_share(&self) -> f64 {
        1.0 - (1.0 - self.taken).powi(2)
    }

    /// Scales coefficients to unit covariance in place.
    pub(super) fn apply(&self, values: &mut [f64]) {
        for (value, scale) in values.iter_mut().zip(&self.scale) {
            *value *= scale;
        }
        let along: f64 = values.iter().zip(&self.along).map(|(v, a)| v * a).sum();
        for (value, a) in values.iter_mut().zip(&self.along) {
            *value -= self.taken * along * a;
        }
    }
}
