//! Filters, peaks and statistics against SciPy, scikit-image and statsmodels on the same arrays in the same run
//! (`tests/reference/maps_and_statistics.py`). Needs the Python environment that `tests/run` sets up.

#[path = "../../../tests/reference/launch.rs"]
mod launch;

use rand::{RngExt as _, SeedableRng, rngs::ChaCha8Rng};
use rand_distr::{Distribution, StandardNormal};
use serde_json::{Value, json};

use crate::{
    fit::Moments,
    maps::Plane,
    peaks::reference::{adjusted, blobs, maxima},
    stats::{Equivalence, Welch, normal_quantile, student_quantile},
};

fn reference(problem: &Value) -> Value {
    let input = problem.to_string();
    serde_json::from_slice(&launch::run("maps_and_statistics.py", &[], input.as_bytes())).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn rows(plane: &Plane) -> Vec<&[f32]> {
    plane.values.chunks_exact(plane.width).collect()
}

fn noise(width: usize, height: usize, seed: u64) -> Plane {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    Plane::new(width, (0..width * height).map(|_| StandardNormal.sample(&mut random)).collect())
}

/// Borders mirrored about the outer pixel edge (SciPy's `reflect`), kernels cut at four standard deviations. The last one is
/// wider than the picture is high.
#[test]
fn gaussian_filters_agree_with_scipy() {
    let plane = noise(53, 37, 1);
    for sigma in [0.8, 1.0, 1.5, 3.3, 12.0] {
        let theirs = reference(&json!({"kind": "gaussian", "image": rows(&plane), "sigma": sigma}));
        let ours = plane.smoothed(sigma);
        for (a, b) in ours.values.iter().zip(numbers(&theirs["values"])) {
            // Sums of up to 97 products in f32 of values near 1.
            assert!((f64::from(*a) - b).abs() < 2e-6, "sigma {sigma}: {a} against {b}");
        }
    }
}

/// Spots of known width among faint noise: the place and scale where our space answers strongest against scikit-image's.
/// `blob_dog` also subtracts Gaussians, with ratio 1.6 where we have 2; `blob_log` has the Laplacian itself.
#[test]
fn blobs_lie_where_scikit_image_finds_them() {
    let (width, height) = (160, 128);
    let mut random = ChaCha8Rng::seed_from_u64(2);
    for sigma in [2.0, 3.0, 4.5, 6.5] {
        let (x, y) = (random.random_range(50.0..110.0), random.random_range(45.0..80.0));
        let mut plane = noise(width, height, 3);
        for (p, value) in plane.values.iter_mut().enumerate() {
            let (dx, dy) = ((p % width) as f64 - x, (p / width) as f64 - y);
            *value = 0.005 * *value + (-0.5 * (dx * dx + dy * dy) / (sigma * sigma)).exp() as f32;
        }
        let theirs = reference(&json!({"kind": "blobs", "image": rows(&plane)}));
        let (at, scale) = blobs(&plane);
        for name in ["log", "dog"] {
            let [row, column, their_sigma] = numbers(&theirs[name])[..] else { panic!("no blob") };
            // Ours lies on a grid of half its scale at the coarsest, theirs on whole pixels.
            let apart = (at.x - column).hypot(at.y - row);
            assert!(apart <= 1.0 + 0.5 * scale, "{name}, sigma {sigma}: {apart} px apart at scale {scale}");
            // Our centre Gaussian answers strongest at 0.7 to 1.6 of the spot's width (levels are 1.41 apart); theirs find
            // the width to 20 %.
            assert!((their_sigma / sigma - 1.0).abs() < 0.2, "{name}: {their_sigma} for {sigma}");
            let ratio = scale / their_sigma;
            assert!((0.7..=1.7).contains(&ratio), "{name}: scale {scale} against {their_sigma}");
        }
    }
}

/// Our places are maxima of 3 x 3 pixels (eight neighbours); equal neighbours all count, borders have what neighbours there
/// are. Nothing of ours labels areas: on the same picture, the maxima that touch are one label with eight neighbours and may
/// be several with four, SciPy's default.
#[test]
fn maxima_agree_with_scipy_and_touch_by_eight_neighbours() {
    let mut plane = noise(61, 47, 4);
    // Coarse steps give plateaus.
    plane.values.iter_mut().for_each(|v| *v = 3.0 + (2.0 * *v).round().max(0.0));
    let theirs = reference(&json!({"kind": "maxima", "image": rows(&plane)}));
    let ours: Vec<f64> = maxima(&plane).into_iter().map(|p| p as f64).collect();
    assert_eq!(ours, numbers(&theirs["places"]));
    let count = |name: &str| theirs[name].as_u64().unwrap();
    assert_eq!(count("scipy_eight"), count("skimage_eight"));
    assert_eq!(count("scipy_four"), count("skimage_four"));
    assert!(count("scipy_four") > count("scipy_eight") && count("scipy_eight") < ours.len() as u64);
}

/// The example of Benjamini & Hochberg, J. R. Stat. Soc. B 57 (1995) 289, section 3, and 200 random values.
#[test]
fn adjusted_values_agree_with_scipy_and_statsmodels() {
    let published = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590,
        1.000,
    ];
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let drawn: Vec<f64> = (0..200).map(|_| random.random::<f64>().powi(3)).collect();
    for p in [&published[..], &drawn] {
        let theirs = reference(&json!({"kind": "multiple_tests", "p": p}));
        for name in ["scipy", "statsmodels"] {
            for (a, b) in adjusted(p).iter().zip(numbers(&theirs[name])) {
                assert!((a - b).abs() < 1e-12, "{name}: {a} against {b}");
            }
        }
    }
    let q = adjusted(&published);
    assert_eq!(q.iter().filter(|q| **q <= 0.05).count(), 4);
    assert!((q[3] - 0.035_625).abs() < 1e-8 && (q[9] - 0.486).abs() < 1e-8);
}

#[test]
fn welch_and_quantiles_agree_with_scipy() {
    let mut random = ChaCha8Rng::seed_from_u64(6);
    let mut sample = |n: usize, spread: f64| -> Vec<f64> {
        (0..n).map(|_| 5.0 + spread * Distribution::<f64>::sample(&StandardNormal, &mut random)).collect()
    };
    for (n, m, ratio) in [(2, 3, 1.0), (10, 10, 3.0), (60, 7, 0.1), (300, 400, 1.5)] {
        let (a, b) = (sample(n, 1.0), sample(m, ratio));
        let theirs = reference(&json!({"kind": "welch", "a": a, "b": b}));
        let ours = Welch::new(&a.iter().copied().collect::<Moments>(), &b.iter().copied().collect()).unwrap();
        let [low, high] = ours.interval(0.95);
        let got = [ours.t, ours.degrees_of_freedom, ours.p_value, low, high];
        for (got, wanted) in got.iter().zip(numbers(&theirs["values"])) {
            // Both evaluate the incomplete beta function to some ten digits.
            assert!((got - wanted).abs() <= 1e-8 * wanted.abs().max(1e-3), "{got} against {wanted}");
        }
    }
    let p = [1e-6, 0.001, 0.025, 0.1, 0.4, 0.7, 0.95, 0.995, 0.99999];
    let df = [1.0, 2.0, 3.5, 17.776_473_52, 120.0, 3000.0];
    let theirs = reference(&json!({"kind": "quantiles", "p": p, "df": df}));
    for (p, wanted) in p.iter().zip(numbers(&theirs["normal"])) {
        assert!((normal_quantile(*p) / wanted - 1.0).abs() < 1e-9, "normal {p}");
    }
    for (df, row) in df.iter().zip(theirs["student"].as_array().unwrap()) {
        for (p, wanted) in p.iter().zip(numbers(row)) {
            let got = student_quantile(*p, *df);
            assert!((got / wanted - 1.0).abs() < 1e-8, "{p}, {df}: {got} against {wanted}");
        }
    }
}

/// The repair check's test: Welch's version against statsmodels' `ttost_ind` and SciPy's one-sided `ttest_ind`, the version for a known error
/// against statsmodels' `ztost` on one sample with its own standard error. Bounds from far too narrow to ample.
#[test]
fn equivalence_agrees_with_statsmodels_and_scipy() {
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut sample = |n: usize, middle: f64, spread: f64| -> Vec<f64> {
        (0..n).map(|_| middle + spread * Distribution::<f64>::sample(&StandardNormal, &mut random)).collect()
    };
    for (n, m, ratio) in [(5, 8, 1.0), (12, 12, 3.0), (60, 7, 0.2), (300, 400, 1.5)] {
        let (a, b) = (sample(n, 0.2, 1.0), sample(m, 0.0, ratio));
        let (first, second): (Moments, Moments) = (a.iter().copied().collect(), b.iter().copied().collect());
        let welch = Welch::new(&first, &second).unwrap();
        let error = first.standard_deviation().unwrap() / (n as f64).sqrt();
        for bound in [0.05, 0.3, 1.0, 2.0] {
            let theirs = reference(&json!({"kind": "equivalence", "a": a, "b": b, "bound": bound}));
            let means = Equivalence::of_means(&welch, bound).unwrap();
            let known = Equivalence::of(first.mean(), error, bound).unwrap();
            let compared = [("statsmodels", means), ("scipy", means), ("known_error", known)];
            for (name, ours) in compared {
                let ours = [ours.p_above_low, ours.p_below_high, ours.p_value()];
                for (ours, theirs) in ours.iter().zip(numbers(&theirs[name])) {
                    // Both evaluate the same distributions to some ten digits; far in a tail only the absolute size counts.
                    assert!((ours - theirs).abs() <= 1e-8 * theirs + 1e-13, "{name}, {bound}: {ours} against {theirs}");
                }
            }
        }
    }
}
