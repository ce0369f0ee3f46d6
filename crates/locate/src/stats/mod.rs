//! Two means compared when their spreads may differ, and the quantiles that intervals need.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use crate::fit::Moments;

/// Quantile of the standard normal distribution; minus and plus infinity at 0 and 1, NaN outside.
pub fn normal_quantile(probability: f64) -> f64 {
    if !(0.0..=1.0).contains(&probability) {
        return f64::NAN;
    }
    Normal::standard().inverse_cdf(probability)
}

/// Quantile of Student's distribution with `degrees_of_freedom`, which need not be whole; NaN when these are not above zero or
/// `probability` lies outside 0 to 1.
pub fn student_quantile(probability: f64, degrees_of_freedom: f64) -> f64 {
    if !(0.0..=1.0).contains(&probability) {
        return f64::NAN;
    }
    let Ok(law) = StudentsT::new(0.0, 1.0, degrees_of_freedom) else { return f64::NAN };
    let start = law.inverse_cdf(probability);
    if !start.is_finite() || start == 0.0 {
        return start;
    }
    // Two steps of Newton's method bring it to the accuracy of the distribution itself.
    (0..2).fold(start, |t, _| {
        let density = statrs::distribution::Continuous::pdf(&law, t);
        if density > 0.0 { t - (law.cdf(t) - probability) / density } else { t }
    })
}

/// Difference of two means, first less second, by Welch's test (Biometrika 34 (1947) 28).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Welch {
    /// Difference of the means, in the values' unit.
    pub difference: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Difference over standard error.
    pub t: f64,
    /// After Welch and Satterthwaite; not whole.
    pub degrees_of_freedom: f64,
    /// Probability, both sides, of a `t` at least this far from zero if the means are equal.
    pub p_value: f64,
}

impl Welch {
    /// Compares two samples. `None` unless both have at least two values and one of them scatters.
    pub fn new(first: &Moments, second: &Moments) -> Option<Self> {
        let parts = [first, second].map(|m| m.standard_deviation().map(|sd| (sd * sd / m.count() as f64, m.count())));
        let [Some((a, n)), Some((b, m))] = parts else { return None };
        let variance = a + b;
        if !(variance > 0.0 && variance.is_finite()) {
            return None;
        }
        let degrees_of_freedom = variance * variance / (a * a / (n - 1) as f64 + b * b / (m - 1) as f64);
        let difference = first.mean() - second.mean();
        let standard_error = variance.sqrt();
        let t = difference / standard_error;
        let law = StudentsT::new(0.0, 1.0, degrees_of_freedom).ok()?;
        Some(Self { difference, standard_error, t, degrees_of_freedom, p_value: 2.0 * law.cdf(-t.abs()) })
    }

    /// Lower and upper end of the interval that covers the true difference with this probability.
    pub fn interval(&self, confidence: f64) -> [f64; 2] {
        let half = student_quantile(f64::midpoint(1.0, confidence), self.degrees_of_freedom) * self.standard_error;
        [self.difference - half, self.difference + half]
    }
}

/// Two one-sided tests that a value is no further from zero than a bound (Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Equivalence {
    /// Probability of a value this high if the true one lay at minus the bound.
    pub p_above_low: f64,
    /// Probability of a value this low if the true one lay at the bound.
    pub p_below_high: f64,
}

impl Equivalence {
    /// Tests a value whose error is known. `None` unless error and bound are above zero and all are finite.
    pub fn of(value: f64, standard_error: f64, bound: f64) -> Option<Self> {
        Self::by(&Normal::standard(), value, standard_error, bound)
    }

    /// Tests the difference of two means by Welch's test.
    pub fn of_means(welch: &Welch, bound: f64) -> Option<Self> {
        let law = StudentsT::new(0.0, 1.0, welch.degrees_of_freedom).ok()?;
        Self::by(&law, welch.difference, welch.standard_error, bound)
    }

    fn by(law: &impl ContinuousCDF<f64, f64>, value: f64, standard_error: f64, bound: f64) -> Option<Self> {
        let sound = [value, standard_error, bound].iter().all(|v| v.is_finite()) && standard_error > 0.0 && bound > 0.0;
        sound.then(|| Self {
            p_above_low: law.cdf(-(value + bound) / standard_error),
            p_below_high: law.cdf((value - bound) / standard_error),
        })
    }

    /// The larger of the two: below 0.05 the value lies within the bound with 95 % confidence on each side.
    pub fn p_value(&self) -> f64 {
        self.p_above_low.max(self.p_below_high)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: one and two standard errors from the bounds; 15.87 and 2.275 % of a normal distribution lie beyond (standard table).
    #[test]
    fn equivalence_is_two_one_sided_tests() {
        let told = Equivalence::of(0.5, 1.0, 1.5).unwrap();
        assert!((told.p_above_low - 0.022_750_13).abs() < 1e-7 && (told.p_below_high - 0.158_655_25).abs() < 1e-7);
        assert_eq!(told.p_value(), told.p_below_high);
        let mirrored = Equivalence::of(-0.5, 1.0, 1.5).unwrap();
        assert_eq!((mirrored.p_above_low, mirrored.p_below_high), (told.p_below_high, told.p_above_low));
        for (value, error, bound) in [(0.0, 0.0, 1.0), (0.0, 1.0, 0.0), (f64::NAN, 1.0, 1.0), (0.0, f64::INFINITY, 1.0)]
        {
            assert_eq!(Equivalence::of(value, error, bound), None);
        }
    }

    /// Student's sleep data (Biometrika 6 (1908) 1); expected values computed with SciPy 1.17.1.
    #[test]
    fn the_sleep_data_give_the_published_values() {
        let first: Moments = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0].into_iter().collect();
        let second: Moments = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4].into_iter().collect();
        let welch = Welch::new(&first, &second).unwrap();
        let [low, high] = welch.interval(0.95);
        let pairs = [
            (welch.t, -1.860_813_47),
            (welch.degrees_of_freedom, 17.776_473_52),
            (welch.p_value, 0.079_394_14),
            (low, -3.365_483_23),
            (high, 0.205_483_23),
        ];
        // The published digits end at 5e-9; the smallest value is 0.08.
        for (got, wanted) in pairs {
            assert!((got / wanted - 1.0).abs() < 1e-7, "{got} against {wanted}");
        }
    }

    /// Standard tables, computed with SciPy 1.17.1 to 1e-8.
    #[test]
    fn quantiles_agree_with_the_tables() {
        let student = [
            (0.975, 1.0, 12.706_204_7),
            (0.975, 2.0, 4.302_652_73),
            (0.975, 4.0, 2.776_445_11),
            (0.975, 5.0, 2.570_581_84),
            (0.975, 10.0, 2.228_138_85),
            (0.975, 30.0, 2.042_272_46),
            (0.975, 100.0, 1.983_971_52),
            (0.995, 4.0, 4.604_094_87),
            (0.995, 10.0, 3.169_272_67),
            (0.995, 30.0, 2.749_995_65),
        ];
        for (p, df, wanted) in student {
            assert!((student_quantile(p, df) - wanted).abs() < 1e-7, "{p}, {df}");
            assert!((student_quantile(1.0 - p, df) + wanted).abs() < 1e-7, "{p}, {df}");
        }
        for (p, wanted) in [(0.975, 1.959_963_98), (0.995, 2.575_829_30)] {
            assert!((normal_quantile(p) - wanted).abs() < 1e-7);
        }
        assert_eq!(student_quantile(0.5, 3.0), 0.0);
        assert!(student_quantile(1.2, 3.0).is_nan() && student_quantile(0.9, 0.0).is_nan());
        assert!(normal_quantile(-0.1).is_nan());
    }

    #[test]
    fn too_little_to_compare_is_no_answer() {
        let one: Moments = [1.0].into_iter().collect();
        let same: Moments = [2.0, 2.0].into_iter().collect();
        assert_eq!(Welch::new(&one, &same), None);
        assert_eq!(Welch::new(&same, &same), None);
    }
}
