//! What the search finds in the recording's own null: how strong its best place is when nothing warms.

use statrs::function::erf::erfc_inv;

/// Euler-Mascheroni constant, the mean of the standard Gumbel distribution.
const EULER: f64 = 0.577_215_664_901_532_9;

/// Distribution of the maximum over a search region, a Gumbel law (Gumbel, Statistics of Extremes, 1958, ch. 5).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct MaximumLaw {
    location: f64,
    width: f64,
}

impl MaximumLaw {
    /// Fits location and width by moments. A dozen maxima leave the width uncertain by a quarter, so it is averaged with
    /// that of a Gaussian field's maximum, `1/location` (Adler, The Geometry of Random Fields, 1981). The location is
    /// never below what `independent` Gaussian tests would give: a region of a few pixels has hardly any null of its own.
    pub(super) fn fit(maxima: &[f64], independent: f64) -> Self {
        let n = maxima.len().max(1) as f64;
        let mean = maxima.iter().sum::<f64>() / n;
        let variance = maxima.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
        // Median of the maximum of N Gaussian values: the quantile at 1 - ln(2)/N.
        let tail = (std::f64::consts::LN_2 / independent.max(2.0)).min(0.5);
        let gaussian = std::f64::consts::SQRT_2 * erfc_inv(2.0 * tail);
        let width_gaussian = 1.0 / mean.max(gaussian).max(2.0);
        let width_moments = (6.0 * variance).sqrt() / std::f64::consts::PI;
        let width = f64::midpoint(width_moments.powi(2), width_gaussian.powi(2)).sqrt();
        Self { location: (mean - EULER * width).max(gaussian + width * std::f64::consts::LN_2.ln()), width }
    }

    /// Probability that the maximum under the null is at least `z`.
    pub(super) fn p_value(&self, z: f64) -> f64 {
        let rate = (-(z - self.location) / self.width).exp();
        -(-rate).exp_m1()
    }
}

/// Benjamini-Hochberg adjusted p-values, in the order given (J. R. Stat. Soc. B 57 (1995) 289).
pub(super) fn benjamini_hochberg(p: &[f64]) -> Vec<f64> {
    let n = p.len();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| p[b].total_cmp(&p[a]));
    let mut q = vec![0.0; n];
    let mut running: f64 = 1.0;
    for (from_largest, &i) in order.iter().enumerate() {
        let rank = (n - from_largest) as f64;
        running = running.min(p[i] * n as f64 / rank);
        q[i] = running;
    }
    q
}

#[cfg(test)]
mod tests {
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, StandardNormal};

    use super::*;

    /// Maxima of 2000 independent Gaussian values, judged by a law fitted to a dozen of them.
    #[test]
    fn p_values_of_gaussian_maxima_are_honest() {
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let mut maximum = || (0..2000).map(|_| -> f64 { StandardNormal.sample(&mut random) }).fold(f64::MIN, f64::max);
        let mut small = 0;
        let trials = 400;
        for _ in 0..trials {
            let fitted: Vec<f64> = (0..12).map(|_| maximum()).collect();
            let law = MaximumLaw::fit(&fitted, 2000.0);
            small += usize::from(law.p_value(maximum()) < 0.05);
        }
        let share = small as f64 / f64::from(trials);
        // 0.05 with a standard error of 0.011 over 400 trials; conservative is allowed, liberal is not.
        assert!(share < 0.05 + 3.0 * 0.011, "{share}");
        assert!(share > 0.005, "{share}");
    }

    /// scipy.stats.false_discovery_control([0.01, 0.04, 0.03, 0.005]) of SciPy 1.17.1 gives
    /// [0.02, 0.04, 0.04, 0.02].
    #[test]
    fn adjusted_values_agree_with_scipy() {
        let q = benjamini_hochberg(&[0.01, 0.04, 0.03, 0.005]);
        for (got, wanted) in q.iter().zip([0.02, 0.04, 0.04, 0.02]) {
            assert!((got - wanted).abs() < 1e-12);
        }
    }
}
