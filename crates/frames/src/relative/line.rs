//! A straight line through one frame against the reference frame, by clipped least squares.

/// Residuals beyond this many robust standard deviations are left out. Of Gaussian noise that is 0.006 %, which makes
/// the remaining variance 0.1 % too small: 1 - 8 φ(4) / (2 Φ(4) - 1).
const CLIP: f64 = 4.0;
/// Rounds of clipping; more change nothing but the last digits.
const ROUNDS: usize = 5;
/// Scales the median absolute deviation of Gaussian noise to its standard deviation: 1 / Φ⁻¹(3/4).
const MAD_SCALE: f64 = 1.482_602_218_505_602;

/// `value = level + slope · (reference - centre)`, with the variances of both; around the centre they are uncorrelated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    pub slope: f64,
    pub level: f64,
    pub centre: f64,
    pub slope_variance: f64,
    pub level_variance: f64,
}

impl Line {
    /// The value at reference zero.
    pub fn intercept(&self) -> f64 {
        self.level - self.slope * self.centre
    }
}

/// Fits a line, or with `slope_fixed` a shift only (slope 1). `None` when fewer than three points are left, or the
/// reference does not vary at all.
pub(super) fn fit(reference: &[f64], values: &[f32], slope_fixed: bool) -> Option<Line> {
    let mut shifts: Vec<f64> = reference.iter().zip(values).map(|(r, &v)| f64::from(v) - r).collect();
    // The start must not be led astray by a hand in the picture: slope 1 and the median shift.
    let shift = median(&mut shifts)?;
    let mut line = Line { slope: 1.0, level: shift, centre: 0.0, slope_variance: 0.0, level_variance: 0.0 };
    let mut deviations = vec![0.0; values.len()];
    for _ in 0..ROUNDS {
        let residual = |r: f64, v: f32, line: &Line| f64::from(v) - line.level - line.slope * (r - line.centre);
        for ((d, &r), &v) in deviations.iter_mut().zip(reference).zip(values) {
            *d = residual(r, v, &line).abs();
        }
        // Values without any noise must not lose the points that rounding moves.
        let floor = f64::from(f32::EPSILON) * (line.level.abs() + line.slope.abs() * 1e-3) + f64::MIN_POSITIVE;
        let bound = CLIP * (MAD_SCALE * median(&mut deviations.clone())?).max(floor);
        let kept = || {
            deviations.iter().zip(reference).zip(values).filter(|((d, _), _)| **d <= bound).map(|((_, &r), &v)| (r, v))
        };
        line = least_squares(kept, slope_fixed)?;
    }
    Some(line)
}

/// Ordinary least squares about the centre of gravity, so that level and slope are uncorrelated.
fn least_squares<I: Iterator<Item = (f64, f32)>>(points: impl Fn() -> I, slope_fixed: bool) -> Option<Line> {
    let count = points().count();
    if count < 3 {
        return None;
    }
    let n = count as f64;
    let centre = points().map(|(r, _)| r).sum::<f64>() / n;
    let level = points().map(|(_, v)| f64::from(v)).sum::<f64>() / n;
    let (sxx, sxy) = points().fold((0.0, 0.0), |(sxx, sxy), (r, v)| {
        let x = r - centre;
        (sxx + x * x, sxy + x * (f64::from(v) - level))
    });
    if !slope_fixed && sxx <= 0.0 {
        return None;
    }
    let slope = if slope_fixed { 1.0 } else { sxy / sxx };
    let squares: f64 = points().map(|(r, v)| (f64::from(v) - level - slope * (r - centre)).powi(2)).sum();
    let variance = squares / (n - if slope_fixed { 1.0 } else { 2.0 });
    Some(Line {
        slope,
        level,
        centre,
        slope_variance: if slope_fixed { 0.0 } else { variance / sxx },
        level_variance: variance / n,
    })
}

/// The median; reorders. `None` of nothing.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    let middle = values.len() / 2;
    if values.is_empty() {
        return None;
    }
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The textbook case worked by hand: x = 1..5, y = 2, 4, 5, 4, 5 give slope 0.6 and intercept 2.2; the residual
    /// variance is 2.4 / 3, so the slope's variance is 0.8 / 10.
    #[test]
    fn a_line_worked_by_hand() {
        let line = fit(&[1.0, 2.0, 3.0, 4.0, 5.0], &[2.0, 4.0, 5.0, 4.0, 5.0], false).expect("fits");
        // Exact but for rounding in double precision.
        assert!((line.slope - 0.6).abs() < 1e-12 && (line.intercept() - 2.2).abs() < 1e-12, "{line:?}");
        assert!((line.slope_variance - 0.08).abs() < 1e-12 && (line.level_variance - 0.16).abs() < 1e-12, "{line:?}");
    }

    #[test]
    fn a_few_wild_points_change_nothing() {
        let reference: Vec<f64> = (0..100).map(|i| f64::from(i) * 0.1).collect();
        // A pattern of ±0.01 stands in for noise; every tenth point is off by 50.
        let values: Vec<f32> = (0..100_u16)
            .map(|i| {
                3.0 + 1.2 * f32::from(i) * 0.1
                    + if i % 2 == 0 { 0.01 } else { -0.01 }
                    + if i % 10 == 5 { 50.0 } else { 0.0 }
            })
            .collect();
        let line = fit(&reference, &values, false).expect("fits");
        // The slope's standard error is 0.01 / (√90 · 2.9), 0.0004.
        assert!((line.slope - 1.2).abs() < 0.0015, "{line:?}");
    }

    #[test]
    fn too_little_is_no_line() {
        assert_eq!(fit(&[1.0, 2.0], &[1.0, 2.0], false), None);
        assert_eq!(fit(&[1.0; 5], &[1.0, 2.0, 3.0, 2.0, 1.0], false), None);
        assert_eq!(fit(&[], &[], true), None);
    }
}
