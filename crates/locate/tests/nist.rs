//! Fits against the certified values of the NIST Statistical Reference Datasets (`tests/data/nist/ORIGIN.md`).

// Clippy sees tests only in functions marked so; the helpers here are part of them.
#![allow(clippy::unwrap_used)]

use std::{fs, path::Path};

use joulemark_locate::fit::{
    ExponentialRise, Moments, Noise,
    engine::{SeparableModel, TIGHTEST, Termination, jacobian, minimise, unit_covariance},
};
use nalgebra::{DMatrix, DVector};

/// A data set with its certified values.
struct Certified {
    y: Vec<f64>,
    x: Vec<f64>,
    /// Start 1, start 2, value, standard deviation of each parameter.
    parameters: Vec<[f64; 4]>,
    sum_of_squares: f64,
    degrees_of_freedom: usize,
}

fn text_of(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/data/nist").join(name);
    fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace().filter_map(|word| word.parse().ok()).collect()
}

fn columns_from_line_61(text: &str) -> (Vec<f64>, Vec<f64>) {
    text.lines().skip(60).map(numbers).filter(|n| n.len() == 2).map(|n| (n[0], n[1])).unzip()
}

impl Certified {
    fn read(name: &str) -> Self {
        let text = text_of(name);
        let (y, x) = columns_from_line_61(&text);
        let after = |label: &str| {
            let line = text.lines().find_map(|l| l.trim().strip_prefix(label)).unwrap();
            line.trim().parse::<f64>().unwrap()
        };
        let parameters = text.lines().skip(40).take(10).filter_map(|l| l.split_once('=')).map(|(_, l)| numbers(l));
        let set = Self {
            parameters: parameters.map(|n| n.try_into().unwrap()).collect(),
            sum_of_squares: after("Residual Sum of Squares:"),
            degrees_of_freedom: after("Degrees of Freedom:") as usize,
            y,
            x,
        };
        assert_eq!(set.y.len() as f64, after("Number of Observations:"), "{name}");
        assert_eq!(set.y.len() - set.parameters.len(), set.degrees_of_freedom, "{name}");
        set
    }
}

/// Digits of agreement, as NIST scores them.
fn assert_digits(what: &str, found: f64, certified: f64, least: f64) {
    let agreed = -((found - certified).abs() / certified.abs()).max(1e-16).log10();
    assert!(agreed >= least, "{what}: {found} against {certified}, {agreed:.1} digits");
}

/// Pass marks of the catalogue of outside checks: 6 digits on values, 5 on standard deviations.
fn assert_rise(name: &str) {
    let set = Certified::read(name);
    let [_, [start_1, start_2, rate, rate_deviation]] = set.parameters[..] else { panic!("{name}") };
    for start in [start_1, start_2] {
        let fit = ExponentialRise::fit(&set.x, &set.y, &Noise::FromResiduals, start).unwrap();
        assert_eq!(fit.termination, Termination::Converged, "{name} from {start}");
        assert_eq!(fit.degrees_of_freedom, set.degrees_of_freedom);
        assert_digits(name, fit.sum_of_squares, set.sum_of_squares, 6.0);
        assert_digits(name, fit.plateau.value, set.parameters[0][2], 6.0);
        assert_digits(name, fit.plateau.standard_error, set.parameters[0][3], 5.0);
        assert_digits(name, fit.rate.value, rate, 6.0);
        assert_digits(name, fit.rate.standard_error, rate_deviation, 5.0);
        // With the noise known, errors follow it alone: here twice the certified residual deviation.
        let noise = 2.0 * (set.sum_of_squares / set.degrees_of_freedom as f64).sqrt();
        let known = ExponentialRise::fit(&set.x, &set.y, &Noise::Same(noise), start).unwrap();
        assert_digits(name, known.rate.value, rate, 6.0);
        assert_digits(name, known.rate.standard_error, 2.0 * rate_deviation, 5.0);
    }
}

#[test]
fn misra1a_from_both_starts() {
    assert_rise("Misra1a.dat");
}

#[test]
fn boxbod_from_both_starts_of_which_the_first_is_a_trap() {
    // Plain Levenberg-Marquardt from (1, 1) runs to the flat region, at a sum of squares of 9771.5.
    assert_eq!(Certified::read("BoxBOD.dat").parameters[1][0], 1.0);
    assert_rise("BoxBOD.dat");
}

#[test]
fn neither_flat_nor_straight_lines_are_reported_as_rises() {
    let x = [1.0, 2.0, 3.0, 5.0, 7.0, 10.0];
    for y in [[200.0, 201.0, 199.0, 200.5, 199.5, 200.0], [10.0, 20.0, 30.0, 50.0, 70.0, 100.0]] {
        let fit = ExponentialRise::fit(&x, &y, &Noise::FromResiduals, 1.0).unwrap();
        assert_eq!(fit.termination, Termination::AtBound, "{fit:?}");
    }
}

/// A model given by a row of its columns, and of their derivatives.
struct Model<'a> {
    x: &'a [f64],
    bounds: Vec<(f64, f64)>,
    columns: fn(f64, &[f64]) -> Vec<f64>,
    derivatives: fn(f64, &[f64]) -> Vec<Vec<f64>>,
}

impl SeparableModel for Model<'_> {
    fn bounds(&self) -> &[(f64, f64)] {
        &self.bounds
    }

    fn columns(&self, p: &[f64]) -> DMatrix<f64> {
        let rows: Vec<Vec<f64>> = self.x.iter().map(|x| (self.columns)(*x, p)).collect();
        DMatrix::from_fn(rows.len(), rows[0].len(), |i, j| rows[i][j])
    }

    fn derivatives(&self, p: &[f64]) -> Vec<DMatrix<f64>> {
        let rows: Vec<Vec<Vec<f64>>> = self.x.iter().map(|x| (self.derivatives)(*x, p)).collect();
        (0..p.len()).map(|k| DMatrix::from_fn(rows.len(), rows[0][k].len(), |i, j| rows[i][k][j])).collect()
    }
}

/// A fit with the standard deviations of its parameters, linear ones first.
struct Solved {
    values: Vec<f64>,
    deviations: Vec<f64>,
    sum_of_squares: f64,
}

fn solve(model: &Model<'_>, y: &[f64], start: &[f64]) -> Solved {
    let fit = minimise(model, &DVector::from_column_slice(y), start, TIGHTEST);
    assert_eq!(fit.termination, Termination::Converged);
    let parameters = fit.linear.len() + fit.nonlinear.len();
    let covariance = unit_covariance(&jacobian(model, &fit.nonlinear, &fit.linear)).unwrap();
    let variance = fit.sum_of_squares / (y.len() - parameters) as f64;
    Solved {
        values: fit.linear.iter().chain(&fit.nonlinear).copied().collect(),
        deviations: (0..parameters).map(|i| (covariance[(i, i)] * variance).sqrt()).collect(),
        sum_of_squares: fit.sum_of_squares,
    }
}

#[test]
fn misra1b_from_both_starts() {
    let set = Certified::read("Misra1b.dat");
    let model = Model {
        x: &set.x,
        bounds: vec![(1e-6, 1e-2)],
        columns: |x, p| vec![1.0 - (1.0 + p[0] * x / 2.0).powi(-2)],
        derivatives: |x, p| vec![vec![x * (1.0 + p[0] * x / 2.0).powi(-3)]],
    };
    for start in 0..2 {
        let found = solve(&model, &set.y, &[set.parameters[1][start]]);
        assert_digits("sum", found.sum_of_squares, set.sum_of_squares, 6.0);
        for (i, [_, _, value, deviation]) in set.parameters.iter().enumerate() {
            assert_digits("value", found.values[i], *value, 6.0);
            assert_digits("deviation", found.deviations[i], *deviation, 5.0);
        }
    }
}

#[test]
fn mgh09_from_the_near_start() {
    // b1 (x^2 + b2 x) / (x^2 + b3 x + b4) is linear in b1 and in b1 b2.
    let set = Certified::read("MGH09.dat");
    let model = Model {
        x: &set.x,
        bounds: vec![(1e-4, 60.0), (1e-4, 60.0)],
        columns: |x, p| {
            let d = x * x + p[0] * x + p[1];
            vec![x * x / d, x / d]
        },
        derivatives: |x, p| {
            let d2 = (x * x + p[0] * x + p[1]).powi(2);
            vec![vec![-x.powi(3) / d2, -x * x / d2], vec![-x * x / d2, -x / d2]]
        },
    };
    let found = solve(&model, &set.y, &[set.parameters[2][1], set.parameters[3][1]]);
    assert_digits("sum", found.sum_of_squares, set.sum_of_squares, 5.0);
    let [b1, b1_b2, b3, b4] = found.values[..] else { panic!() };
    // Pass mark of the catalogue: 5 digits. The deviation of b2 is not one of these parameters.
    for (i, value) in [b1, b1_b2 / b1, b3, b4].into_iter().enumerate() {
        assert_digits("value", value, set.parameters[i][2], 5.0);
    }
    for i in [0, 2, 3] {
        assert_digits("deviation", found.deviations[i], set.parameters[i][3], 5.0);
    }
}

#[test]
fn mgh17_from_the_near_start() {
    let set = Certified::read("MGH17.dat");
    let model = Model {
        x: &set.x,
        bounds: vec![(1e-4, 0.5), (1e-4, 0.5)],
        columns: |x, p| vec![1.0, (-p[0] * x).exp(), (-p[1] * x).exp()],
        derivatives: |x, p| vec![vec![0.0, -x * (-p[0] * x).exp(), 0.0], vec![0.0, 0.0, -x * (-p[1] * x).exp()]],
    };
    let found = solve(&model, &set.y, &[set.parameters[3][1], set.parameters[4][1]]);
    assert_digits("sum", found.sum_of_squares, set.sum_of_squares, 5.0);
    for (i, [_, _, value, deviation]) in set.parameters.iter().enumerate() {
        // Pass mark of the catalogue: 5 digits.
        assert_digits("value", found.values[i], *value, 5.0);
        assert_digits("deviation", found.deviations[i], *deviation, 5.0);
    }
}

#[test]
fn norris_is_a_straight_line() {
    let text = text_of("Norris.dat");
    let (y, x) = columns_from_line_61(&text);
    assert_eq!(y.len(), 36);
    let model = Model { x: &x, bounds: Vec::new(), columns: |x, _| vec![1.0, x], derivatives: |_, _| Vec::new() };
    let found = solve(&model, &y, &[]);
    let certified = |label: &str| numbers(text.lines().find(|l| l.trim().starts_with(label)).unwrap());
    for (i, label) in ["B0", "B1"].into_iter().enumerate() {
        let line = certified(label);
        assert_digits(label, found.values[i], line[0], 9.0);
        assert_digits(label, found.deviations[i], line[1], 9.0);
    }
    let residual = text.lines().filter_map(|l| l.trim().strip_prefix("Standard Deviation")).map(numbers);
    let residual: Vec<f64> = residual.flatten().collect();
    assert_digits("residual deviation", (found.sum_of_squares / 34.0).sqrt(), residual[0], 9.0);
}

/// The patterns of the sets NumAcc3 and NumAcc4 (from memory): 1001 values around a large mean, deviation exactly 0.1.
#[test]
fn small_deviations_of_large_values_survive() {
    for base in [1_000_000.0, 10_000_000.0] {
        let (middle, low, high) = (base + 0.2, base + 0.1, base + 0.3);
        let values: Vec<f64> = [middle].into_iter().chain([low, high].repeat(500)).collect();
        let all: Moments = values.iter().copied().collect();
        let mut merged: Moments = values[..333].iter().copied().collect();
        merged.merge(&values[333..].iter().copied().collect());
        for found in [all, merged] {
            assert_eq!(found.count(), 1001);
            // Writing decimals beside 10^7 rounds the data themselves: 6e-9 relative (computed for the catalogue).
            assert!((found.standard_deviation().unwrap() / 0.1 - 1.0).abs() < 1e-8, "{found:?}");
            assert!((found.mean() / middle - 1.0).abs() < 1e-15, "{found:?}");
        }
    }
}
