//! Special functions behind the closed forms.

use std::f64::consts::PI;

use nalgebra::Complex;
use statrs::function::erf::erfc;

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

/// The modified Bessel function `K0(x)` for `x > 0`, to about 1e-13 relative. Infinite at zero, NaN below it.
///
/// Integral representation DLMF 10.32.9 (A&S 9.6.24); see [`bessel_k0_complex`].
pub fn bessel_k0(x: f64) -> f64 {
    if x == 0.0 {
        return f64::INFINITY;
    }
    bessel_k0_complex(Complex::new(x, 0.0)).re
}

/// The modified Bessel function `K0(z)` for a real part above zero and an argument within +-60 degrees, to about 1e-12
/// relative; NaN where the real part is not above zero.
///
/// DLMF 10.32.9: the integral of `exp(-z cosh t)` over `t` from 0 to infinity. The trapezoidal rule converges
/// exponentially on it (Trefethen & Weideman, SIAM Review 56 (2014) 385), so one formula serves all sizes of `z`.
pub fn bessel_k0_complex(z: Complex<f64>) -> Complex<f64> {
    if z.re.is_nan() || z.re <= 0.0 || z.im.is_nan() {
        return Complex::new(f64::NAN, f64::NAN);
    }
    // For large |z| the integrand is a Gaussian of width 1/sqrt(|z|), which the step has to resolve.
    let step = 0.1_f64.min(0.4 / z.norm().sqrt());
    let mut sum = Complex::new(0.5, 0.0);
    for n in 1.. {
        let half_sinh = (0.5 * step * f64::from(n)).sinh();
        // cosh t - 1 without cancellation; exp(-z) is taken out so that large z do not underflow early.
        let exponent = -z * (2.0 * half_sinh * half_sinh);
        if exponent.re < -42.0 {
            break;
        }
        sum += exponent.exp();
    }
    sum * step * (-z).exp()
}

/// The first integral of the complementary error function, `ierfc(x) = exp(-x^2)/sqrt(pi) - x erfc(x)`, for `x >= 0`.
///
/// A&S 7.2.1. statrs's `erfc` is good to about 1e-10 and the difference cancels as `x` grows: about 1e-9 relative up to
/// 1, 1e-8 up to 3.
pub fn ierfc(x: f64) -> f64 {
    (-x * x).exp() / PI.sqrt() - x * erfc(x)
}

/// The well function of a leaky aquifer, `W(u, b)`: the integral of `exp(-y - b^2/(4 y)) / y` over `y` from `u` to
/// infinity, to about 1e-11 relative. It is `E1(u)` at `b = 0` and tends to `2 K0(b)` as `u` tends to 0.
///
/// Hantush & Jacob, Trans. Am. Geophys. Union 36 (1955) 95; a warming plate that loses heat to the air obeys the same
/// equation. With `y = (b/2) exp(s)` the integrand becomes `exp(-b cosh s)`, integrated by Gauss-Legendre panels.
pub fn well_function(u: f64, b: f64) -> f64 {
    if u.is_nan() || b.is_nan() || u < 0.0 || b < 0.0 {
        return f64::NAN;
    }
    if b == 0.0 {
        return exponential_integral(u);
    }
    if u == 0.0 {
        return 2.0 * bessel_k0(b);
    }
    let from = (2.0 * u / b).ln();
    if from >= 0.0 { incomplete_k0(from, b) } else { 2.0 * bessel_k0(b) - incomplete_k0(-from, b) }
}

/// The integral of `exp(-b cosh s)` from `from >= 0` to infinity.
fn incomplete_k0(from: f64, b: f64) -> f64 {
    // Five-point Gauss-Legendre nodes and weights, A&S table 25.4.
    const NODES: [f64; 5] =
        [-0.906_179_845_938_664, -0.538_469_310_105_683_1, 0.0, 0.538_469_310_105_683_1, 0.906_179_845_938_664];
    const WEIGHTS: [f64; 5] = [
        0.236_926_885_056_189_1,
        0.478_628_670_499_366_5,
        0.568_888_888_888_888_9,
        0.478_628_670_499_366_5,
        0.236_926_885_056_189_1,
    ];
    let lowest = from.cosh();
    // Beyond this the integrand has fallen to exp(-40) of its start.
    let to = (lowest + 40.0 / b).acosh();
    let panels = ((to - from) / 0.3).ceil().max(8.0);
    let half = 0.5 * (to - from) / panels;
    let mut sum = 0.0;
    for panel in 0..panels as usize {
        let middle = from + half * (2 * panel + 1) as f64;
        for (node, weight) in NODES.iter().zip(WEIGHTS) {
            sum += weight * (-b * ((middle + half * node).cosh() - lowest)).exp();
        }
    }
    sum * half * (-b * lowest).exp()
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

    /// Published check, section 2 "Bessel values": A&S table 9.8; DLMF chapter 10; mpmath 1.4.1. The page asks for
    /// 1e-8 relative but prints nine decimals, so half a unit of the last one is allowed on top.
    #[test]
    fn bessel_k0_has_its_tabulated_values() {
        let table = [
            (0.1, 2.427_069_025),
            (0.5, 0.924_419_071),
            (1.0, 0.421_024_438),
            (2.0, 0.113_893_873),
            (5.0, 0.003_691_098),
        ];
        for (x, wanted) in table {
            let found = bessel_k0(x);
            assert!((found - wanted).abs() < 1e-8 * wanted + 5e-10, "K0({x}) = {found}");
        }
    }

    /// mpmath 1.4.1, `besselk(0, z)` at 30 digits; 1e-12 relative is what the doc promises.
    #[test]
    fn bessel_k0_agrees_with_mpmath_over_its_range() {
        let table = [
            (1e-4, 0.0, 9.326_271_913_450_275, 0.0),
            (30.0, 0.0, 2.132_477_496_463_056_4e-14, 0.0),
            (0.1, 0.1, 2.075_847_681_823_04, -0.770_033_553_127_903_2),
            (1.0, 1.0, 0.080_197_726_946_517_82, -0.357_277_459_285_330_2),
            (5.0, 5.0, 0.001_945_163_072_457_718_5, 0.002_460_604_699_954_409),
            (30.0, 30.0, 9.322_985_743_958_032e-15, 1.536_019_358_972_377_5e-14),
            (0.001, 0.0009, 6.727_024_068_801_684, -0.732_811_659_434_581_9),
            (3.0, 0.2, 0.033_782_454_251_530_27, -0.007_950_730_370_725_49),
        ];
        for (re, im, wanted_re, wanted_im) in table {
            let (found, wanted) = (bessel_k0_complex(Complex::new(re, im)), Complex::new(wanted_re, wanted_im));
            assert!((found - wanted).norm() < 1e-12 * wanted.norm(), "K0({re} + {im}i) = {found}");
        }
    }

    /// Published check, section 2 "Energy check": the integral of `x K0(x)` is 1. Simpson on 0..45 with `x = s^2`;
    /// 1e-6 is the rule's own error at this step.
    #[test]
    fn bessel_k0_holds_unit_energy() {
        let (n, top) = (2000, 45.0_f64.sqrt());
        let h = top / f64::from(n);
        let f = |i: i32| {
            let s = h * f64::from(i);
            if i == 0 { 0.0 } else { 2.0 * s.powi(3) * bessel_k0(s * s) }
        };
        let sum: f64 = (0..=n).map(|i| f(i) * if i == 0 || i == n { 1.0 } else { f64::from(2 + 2 * (i % 2)) }).sum();
        assert!((sum * h / 3.0 - 1.0).abs() < 1e-6, "{}", sum * h / 3.0);
    }

    /// mpmath 1.4.1 at 30 digits: `exp(-x*x)/sqrt(pi) - x*erfc(x)`; tolerances are those the doc promises.
    #[test]
    fn ierfc_agrees_with_mpmath() {
        let table = [
            (0.0, 0.564_189_583_547_756_3, 1e-14),
            (0.5, 0.199_641_228_374_245_67, 1e-9),
            (1.0, 0.050_254_541_660_012_22, 1e-9),
            (2.0, 9.780_227_149_514_953e-4, 1e-8),
            (3.0, 3.355_034_977_617_603e-6, 1e-8),
        ];
        for (x, wanted, tolerance) in table {
            assert!((ierfc(x) / wanted - 1.0).abs() < tolerance, "ierfc({x}) = {}", ierfc(x));
        }
    }

    /// mpmath 1.4.1 at 30 digits: `quad(lambda y: exp(-y - b*b/(4*y))/y, [u, ..., inf])`; both branches.
    #[test]
    fn well_function_agrees_with_mpmath() {
        let table = [
            (0.01, 0.1, 3.815_016_520_680_862),
            (1.0, 0.5, 0.210_313_749_778_796_5),
            (0.001, 1.0, 0.842_048_876_481_416_7),
            (5.0, 0.01, 0.001_148_290_608_941_087_5),
            (0.2, 2.0, 0.226_822_186_282_836_15),
            (1e-4, 0.03, 7.212_299_721_085_072),
            (2.0, 3.0, 0.020_990_156_779_148_618),
            (0.5, 5.0, 0.007_382_022_742_578_895),
        ];
        for (u, b, wanted) in table {
            let found = well_function(u, b);
            assert!((found / wanted - 1.0).abs() < 1e-10, "W({u}, {b}) = {found}");
        }
        assert_eq!(well_function(0.3, 0.0), exponential_integral(0.3));
        assert!((well_function(1e-12, 0.7) / (2.0 * bessel_k0(0.7)) - 1.0).abs() < 1e-12);
    }
}
