//! Special functions behind the closed forms.

const EULER_GAMMA: f64 = 0.577_215_664_901_532_9;

/// The exponential integral `E1(x)`, the integral of `exp(-s) / s` from `x` to infinity, to about 1e-14 relative.
///
/// Infinite at zero, NaN below it. Series: Abramowitz & Stegun 5.1.11; continued fraction: 5.1.22 in the even form that
/// the modified Lentz method evaluates.
pub fn exponential_integral(x: f64) -> f64 {
    if x.is_nan() || x < 0.0 {
        return f64::NAN;
    }
    if x == 0.0 {
        return f64::INFINITY;
    }
    // statrs has this function too, but it asks its continued fraction for equality with 1 to the last bit and gives up
    // where rounding never grants that.
    if x <= 1.0 {
        let (mut sum, mut term) = (0.0, -1.0);
        for n in 1..40 {
            let n = f64::from(n);
            term *= -x / n;
            sum += term / n;
            if (term / n).abs() < 1e-17 {
                break;
            }
        }
        return sum - EULER_GAMMA - x.ln();
    }
    let mut b = x + 1.0;
    let (mut c, mut d) = (1e300, 1.0 / b);
    let mut h = d;
    for n in 1..200 {
        let a = -f64::from(n * n);
        b += 2.0;
        d = 1.0 / (a * d + b);
        c = b + a / c;
        h *= c * d;
        if (c * d - 1.0).abs() < 1e-15 {
            break;
        }
    }
    h * (-x).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published check, section 2 "Continuous line source": A&S chapter 5, values computed with mpmath 1.4.1.
    /// The page prints nine decimals, hence half a unit of the last one.
    #[test]
    fn exponential_integral_has_its_tabulated_values() {
        for (x, wanted) in [(1.0, 0.219_383_934), (0.01, 4.037_929_577)] {
            assert!((exponential_integral(x) - wanted).abs() < 6e-10, "E1({x})");
        }
    }

    /// `d E1 / dx = -exp(-x)/x` (A&S 5.1.26 with n = 1) ties values on both sides of the switch between series and
    /// fraction. Central difference of step 1e-4 x: its own error is about 1e-8 relative.
    #[test]
    fn exponential_integral_has_its_derivative() {
        for x in [1e-3, 0.1, 0.9999, 1.0, 1.0001, 2.0, 7.3, 30.0] {
            let h = 1e-4 * x;
            let slope = (exponential_integral(x + h) - exponential_integral(x - h)) / (2.0 * h);
            let wanted = -(-x).exp() / x;
            assert!((slope / wanted - 1.0).abs() < 1e-5, "slope at {x}: {slope} against {wanted}");
        }
    }

    #[test]
    fn exponential_integral_marks_what_it_cannot_do() {
        assert!(exponential_integral(0.0).is_infinite());
        assert!(exponential_integral(-1.0).is_nan());
        assert_eq!(exponential_integral(1e4), 0.0);
    }
}
