//! Fits against SciPy, OpenCV and scikit-image on the same bytes in the same run (`tests/reference/fit_curves.py`).
//! Needs the Python environment that `tests/run` sets up.

// Clippy sees tests only in functions marked so; the helpers here are part of them.
#![allow(clippy::unwrap_used)]

#[path = "../../../tests/reference/launch.rs"]
mod launch;

use joulemark_locate::{
    align::{Alignment, AlignmentKind, PointPair},
    fit::{
        ExponentialRise, Moments, Noise, non_negative,
        rise::{Drive, RiseProblem, fit_rise},
        spot::{SpotStart, fit_spot},
    },
};
use nalgebra::{DMatrix, DVector, Matrix3, Point2};
use ndarray::Array2;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
use rand_distr::{Distribution, Normal};
use serde_json::{Value, json};

/// Sends problems to the reference libraries; one answer each.
fn reference(problems: &[Value]) -> Vec<Value> {
    let input = serde_json::to_vec(problems).unwrap();
    let answer: Value = serde_json::from_slice(&launch::run("fit_curves.py", &[], &input)).unwrap();
    println!("compared with {}", answer["versions"]);
    let answers = answer["answers"].as_array().unwrap().clone();
    assert_eq!(answers.len(), problems.len());
    answers
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn rows(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().flat_map(numbers).collect()
}

/// Compares values in units of their errors, and errors in proportion.
fn assert_agree(what: &str, ours: &[(f64, f64)], theirs: &Value, tolerance: f64) {
    let (values, errors) = (numbers(&theirs["values"]), numbers(&theirs["errors"]));
    assert_eq!(values.len(), ours.len());
    for (i, (value, error)) in ours.iter().enumerate() {
        let apart = (value - values[i]).abs() / errors[i];
        assert!(apart < tolerance, "{what} {i}: {value} against {}, {apart:e} errors apart", values[i]);
        let ratio = error / errors[i];
        assert!((ratio - 1.0).abs() < tolerance, "{what} {i}: error {error} against {}", errors[i]);
    }
}

fn normal(sigma: f64, rng: &mut ChaCha8Rng) -> f64 {
    Normal::new(0.0, sigma).unwrap().sample(rng)
}

/// Eight points seen through slight perspective, clicked with 0.7 px.
fn pairs(rng: &mut ChaCha8Rng) -> Vec<PointPair> {
    let truth = Matrix3::new(7.0, 0.9, 40.0, -0.7, 7.4, 60.0, 3e-4, 1e-3, 1.0);
    (0..8)
        .map(|_| {
            let mm = Point2::new(rng.random_range(0.0..80.0), rng.random_range(0.0..50.0));
            let px = Point2::from_homogeneous(truth * mm.to_homogeneous()).unwrap();
            PointPair { x_px: px.x + normal(0.7, rng), y_px: px.y + normal(0.7, rng), x_mm: mm.x, y_mm: mm.y }
        })
        .collect()
}

#[test]
fn alignments_agree_with_opencv_scikit_image_and_numpy() {
    let mut rng = ChaCha8Rng::seed_from_u64(40);
    // The mapping that is fitted takes board to picture, because the clicks are what is uncertain.
    let kinds = [
        // OpenCV stops its refinement early: its own sum of squares is above the least by some 1e-9.
        (AlignmentKind::Homography, "homography", 1e-3),
        (AlignmentKind::Similarity, "similarity", 1e-9),
        (AlignmentKind::Affine, "affine", 1e-9),
    ];
    let sets: Vec<Vec<PointPair>> = (0..10).map(|_| pairs(&mut rng)).collect();
    for (kind, name, tolerance_px) in kinds {
        let problems: Vec<Value> = sets
            .iter()
            .map(|set| {
                let px: Vec<[f64; 2]> = set.iter().map(|p| [p.x_px, p.y_px]).collect();
                let mm: Vec<[f64; 2]> = set.iter().map(|p| [p.x_mm, p.y_mm]).collect();
                json!({"kind": name, "px": px, "mm": mm})
            })
            .collect();
        for (set, answer) in sets.iter().zip(reference(&problems)) {
            let ours = Alignment::fit_kind(kind, set).unwrap();
            let theirs = Matrix3::from_row_slice(&rows(&answer["matrix"]));
            let (mut our_sum, mut their_sum) = (0.0, 0.0);
            for p in set {
                let (px, mm) = (Point2::new(p.x_px, p.y_px), Point2::new(p.x_mm, p.y_mm));
                let there = Point2::from_homogeneous(theirs * mm.to_homogeneous()).unwrap();
                let apart = (ours.to_image(mm) - there).norm();
                assert!(apart < tolerance_px, "{name}: {apart} px apart");
                our_sum += (ours.to_image(mm) - px).norm_squared();
                their_sum += (there - px).norm_squared();
            }
            assert!(our_sum <= their_sum * (1.0 + 1e-9), "{name}: {our_sum} above {their_sum}");
        }
    }
}

#[test]
fn rises_agree_with_scipy_under_both_conventions() {
    let mut rng = ChaCha8Rng::seed_from_u64(41);
    // Gain, tau, delay. The noise is small, because the sum of squares has a kink wherever the onset passes a frame, and
    // one start from SciPy can stay at it.
    let truths = [(5.0, 8.0, 0.23), (-1.0, 3.0, 0.51), (2.0, 1.2, -0.17), (6.0, 14.0, 1.13)];
    let mut problems = Vec::new();
    let mut records = Vec::new();
    for (gain, tau_s, delay_s) in truths {
        // Uneven frame times; one long step, then two pulses.
        let mut time_s = vec![0.0_f64];
        for i in 1..300 {
            time_s.push(time_s[i - 1] + 0.1 + rng.random_range(-0.02..0.02));
        }
        let on = |i: usize| (60..200).contains(&i) || (230..250).contains(&i) || (270..300).contains(&i);
        let drive: Vec<f64> = (0..300).map(|i| if on(i) { 1.0 + 0.1 * (i as f64 / 300.0) } else { 0.0 }).collect();
        let background = DMatrix::from_fn(300, 3, |i, k| (time_s[i] / 30.0).powi(k as i32));
        let sigma: Vec<f64> = (0..300).map(|i| 0.02 + 0.01 * (i as f64 / 300.0)).collect();
        let mut value: Vec<f64> =
            (0..300).map(|i| 20.0 - 0.3 * background[(i, 1)] + normal(sigma[i], &mut rng)).collect();
        Drive { time_s: &time_s, power: &drive }.response(tau_s, delay_s, &time_s, |i, r| value[i] += gain * r.value);
        let terms: Vec<Vec<f64>> = background.row_iter().map(|r| r.iter().copied().collect()).collect();
        problems.push(json!({"kind": "rise", "time": time_s, "value": value, "drive": drive, "sigma": sigma,
            "background": terms, "start": [gain, tau_s, delay_s]}));
        records.push((time_s, value, drive, background, sigma));
    }
    for ((time_s, value, drive, background, sigma), answer) in records.iter().zip(reference(&problems)) {
        for (noise, name) in [(Noise::Each(sigma), "known"), (Noise::FromResiduals, "from_residuals")] {
            let problem = RiseProblem { time_s, value, noise, background, drive, delay_range_s: None };
            let fit = fit_rise(&problem).unwrap();
            assert!(fit.converged);
            let injected = drive.iter().position(|d| *d > 0.0).unwrap();
            let delay = fit.onset_s.value - time_s[injected];
            let ours = [
                (fit.gain.value, fit.gain.standard_error),
                (fit.tau_s.value, fit.tau_s.standard_error),
                (delay, fit.onset_s.standard_error),
            ];
            // SciPy's derivatives are differences, good to some eight digits.
            assert_agree(name, &ours, &answer[name], 1e-5);
            assert!(fit.chi_square <= answer[name]["chi_square"].as_f64().unwrap() * (1.0 + 1e-9));
        }
    }
}

#[test]
fn exponential_rises_agree_with_scipy_under_both_conventions() {
    let mut rng = ChaCha8Rng::seed_from_u64(42);
    let x: Vec<f64> = (1..=40).map(|i| 0.5 * f64::from(i)).collect();
    let y: Vec<f64> = x.iter().map(|x| -3.0 * (-0.2 * x).exp_m1() + normal(0.05, &mut rng)).collect();
    let problem = json!({"kind": "exponential", "x": x, "y": y, "sigma": 0.05, "start": [2.0, 0.3]});
    let answer = &reference(&[problem])[0];
    for (noise, name) in [(Noise::Same(0.05), "known"), (Noise::FromResiduals, "from_residuals")] {
        let fit = ExponentialRise::fit(&x, &y, &noise, 0.3).unwrap();
        let ours = [(fit.plateau.value, fit.plateau.standard_error), (fit.rate.value, fit.rate.standard_error)];
        // Both have analytic derivatives and stop at rounding.
        assert_agree(name, &ours, &answer[name], 1e-6);
    }
}

#[test]
fn spots_agree_with_scipy() {
    let mut rng = ChaCha8Rng::seed_from_u64(43);
    let mut problems = Vec::new();
    let mut windows = Vec::new();
    for _ in 0..6 {
        let (cx, cy) = (rng.random_range(6.0..8.0), rng.random_range(6.0..8.0));
        let window = Array2::from_shape_fn((15, 16), |(y, x)| {
            let (dx, dy) = (x as f64 - cx, y as f64 - cy);
            let spot = (-0.5 * (0.2 * dx * dx + 0.1 * dx * dy + 0.25 * dy * dy)).exp();
            (spot + 0.4 + 0.003 * x as f64 + normal(0.05, &mut rng)) as f32
        });
        let rows: Vec<Vec<f32>> = window.rows().into_iter().map(|r| r.to_vec()).collect();
        problems.push(json!({"kind": "spot", "window": rows, "sigma": 0.05, "start": [7.0, 7.0], "scale": 2.0}));
        windows.push(window);
    }
    for (window, answer) in windows.iter().zip(reference(&problems)) {
        let start = SpotStart { centre_px: Point2::new(7.0, 7.0), scale_px: 2.0 };
        let fit = fit_spot(window.view(), 0.05, start);
        assert!(fit.converged);
        let (centre, covariance) = (numbers(&answer["centre"]), rows(&answer["covariance"]));
        let chi_square = answer["reduced_chi_square"].as_f64().unwrap();
        // SciPy's derivatives are differences; both stop far below the noise.
        assert!((fit.reduced_chi_square / chi_square - 1.0).abs() < 1e-6);
        assert!((fit.centre_px.x - centre[0]).hypot(fit.centre_px.y - centre[1]) < 1e-5);
        assert!((fit.amplitude.value / answer["height"].as_f64().unwrap() - 1.0).abs() < 1e-5);
        for (ours, theirs) in fit.covariance_px2.iter().zip(&covariance) {
            let scale = covariance[0].max(covariance[3]);
            assert!((ours - theirs * chi_square.max(1.0)).abs() < 1e-4 * scale, "{ours} {theirs}");
        }
    }
}

#[test]
fn moments_agree_with_numpy() {
    let mut rng = ChaCha8Rng::seed_from_u64(44);
    let values: Vec<f64> = (0..5000).map(|_| 29_815.0 + normal(0.05, &mut rng)).collect();
    let answer = &reference(&[json!({"kind": "moments", "values": values})])[0];
    let ours: Moments = values.iter().copied().collect();
    // NumPy's two passes and ours differ by rounding of the values' own last digits.
    assert!((ours.mean() / answer["mean"].as_f64().unwrap() - 1.0).abs() < 1e-14);
    assert!((ours.standard_deviation().unwrap() / answer["sd"].as_f64().unwrap() - 1.0).abs() < 1e-9);
}

#[test]
fn non_negative_least_squares_agree_with_scipy() {
    let mut rng = ChaCha8Rng::seed_from_u64(45);
    // Tall, square and wide-ish; the templates of neighbouring parts are alike, hence columns that differ by a tenth.
    let systems: Vec<(DMatrix<f64>, DVector<f64>)> = [(200, 12, 1.0), (60, 30, 1.0), (400, 40, 0.1), (25, 25, 1.0)]
        .into_iter()
        .map(|(rows, columns, apart)| {
            let common = DVector::from_fn(rows, |_, _| rng.random_range(0.0..1.0));
            let a =
                DMatrix::from_fn(rows, columns, |i, _| (1.0 - apart) * common[i] + apart * rng.random_range(-0.5..1.0));
            let b = DVector::from_fn(rows, |i, _| common[i] + rng.random_range(-1.0..1.0));
            (a, b)
        })
        .collect();
    let problems: Vec<Value> = systems
        .iter()
        .map(|(a, b)| {
            let matrix: Vec<Vec<f64>> = a.row_iter().map(|r| r.iter().copied().collect()).collect();
            json!({"kind": "non_negative", "matrix": matrix, "right": b.as_slice()})
        })
        .collect();
    for ((a, b), answer) in systems.iter().zip(reference(&problems)) {
        let ours = non_negative(&a.tr_mul(a), &a.tr_mul(b));
        let theirs = DVector::from_vec(numbers(&answer["x"]));
        // Normal equations square the condition number, about 1e3 here: 1e-16 becomes 1e-10, with the ridge of 1e-12 less than 1e-6.
        assert!((&ours - &theirs).norm() < 1e-6 * theirs.norm(), "{} apart", (&ours - &theirs).norm());
        let residual = (a * &ours - b).norm();
        assert!((residual / answer["residual"].as_f64().unwrap() - 1.0).abs() < 1e-9);
        assert!(theirs.iter().any(|x| *x == 0.0) && theirs.iter().any(|x| *x > 0.0), "both kinds occur");
    }
}
