//! Mean and standard deviation in one pass.

/// Mean and standard deviation in one pass, also of values that differ little from a large mean.
///
/// Welford, Technometrics 4 (1962) 419, on differences from the first value, which are exact or nearly so; merging by
/// Chan, Golub & LeVeque, Am. Stat. 37 (1983) 242 (both from memory).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Moments {
    count: usize,
    shift: f64,
    shifted_mean: f64,
    sum_of_squares: f64,
}

impl Moments {
    /// Takes in one value.
    pub fn push(&mut self, value: f64) {
        if self.count == 0 {
            self.shift = value;
        }
        self.count += 1;
        let shifted = value - self.shift;
        let before = shifted - self.shifted_mean;
        self.shifted_mean += before / self.count as f64;
        self.sum_of_squares += before * (shifted - self.shifted_mean);
    }

    /// Takes in all values that another has seen.
    pub fn merge(&mut self, other: &Self) {
        if self.count == 0 {
            *self = *other;
        }
        if self.count == 0 || other.count == 0 || std::ptr::eq(self, other) {
            return;
        }
        let (n, m) = (self.count as f64, other.count as f64);
        let apart = (other.shift - self.shift) + (other.shifted_mean - self.shifted_mean);
        self.sum_of_squares += other.sum_of_squares + apart * apart * n * m / (n + m);
        self.shifted_mean += apart * m / (n + m);
        self.count += other.count;
    }

    /// How many values.
    pub fn count(&self) -> usize {
        self.count
    }

    /// Mean; zero of no values.
    pub fn mean(&self) -> f64 {
        self.shift + self.shifted_mean
    }

    /// Standard deviation with `n - 1`; `None` below two values.
    pub fn standard_deviation(&self) -> Option<f64> {
        (self.count > 1).then(|| (self.sum_of_squares / (self.count - 1) as f64).sqrt())
    }
}

impl FromIterator<f64> for Moments {
    fn from_iter<I: IntoIterator<Item = f64>>(values: I) -> Self {
        values.into_iter().fold(Self::default(), |mut all, value| {
            all.push(value);
            all
        })
    }
}
