//! The board's constants: sheet conductance from the recording, heat capacity and loss from what boards are made of.

use nalgebra::DVector;
use rayon::prelude::*;

use super::board_constants::Boards;
use super::equations::{BLOCKS, Equations, Reduced, Solution};
use crate::plate::ThinPlate;

/// Sheet conductance from thin bare laminate (0.0015 W/K) to several heavy planes (0.08 W/K); one ounce of copper (35 um) all over is
/// 0.014 W/K.
const SHEET_W_PER_K: (f64, f64) = (0.0015, 0.08);
/// Boards have one to four planes: what is known beforehand of the logarithm, where the recording says nothing.
const USUAL_SHEET_W_PER_K: f64 = 0.016;
const USUAL_SPREAD: f64 = 0.8;
/// Neighbouring places share their misfit; so many count as one.
const SHARED: f64 = 12.0;
/// Grid points over that range, in equal ratios, then as many again between the best one's neighbours.
const COARSE: usize = 8;
const FINE: usize = 4;

/// Watts over a grid of sheet conductances.
pub(super) struct Profile {
    /// By sheet conductance, increasing; at least three.
    points: Vec<Point>,
    columns: usize,
}

struct Point {
    log_sheet: f64,
    reduced: Reduced,
    without: Vec<Reduced>,
    solution: Solution,
}

/// Makes the normal equations for a board of given constants.
pub(super) type Build<'a> = dyn Fn(&ThinPlate) -> Equations + Sync + 'a;

impl Profile {
    /// `boards` gives the constants that are not profiled; a sheet conductance `near_w_per_k` narrows the grid.
    pub(super) fn new(build: &Build<'_>, boards: Boards, near_w_per_k: Option<f64>) -> Self {
        let point = |log_sheet: f64| {
            let equations = build(&boards.board(log_sheet.exp()));
            let reduced = equations.reduced(None);
            let all: Vec<usize> = (0..reduced.moment.len()).collect();
            let solution = reduced.solve_among(&all);
            let without = (0..BLOCKS).map(|b| equations.reduced(Some(b))).collect();
            Point { log_sheet, reduced, without, solution }
        };
        let (low, high) = (SHEET_W_PER_K.0.ln(), SHEET_W_PER_K.1.ln());
        let step = (high - low) / (COARSE - 1) as f64;
        let around = |centre: f64| -> Vec<f64> {
            let centre = centre.clamp(low, high);
            (0..FINE).map(|i| centre + step * (2.0 * (i as f64 + 0.5) / FINE as f64 - 1.0)).collect()
        };
        let first: Vec<f64> = match near_w_per_k {
            Some(near) => around(near.ln()),
            None => (0..COARSE).map(|i| low + step * i as f64).collect(),
        };
        let mut points: Vec<Point> = first.into_par_iter().map(point).collect();
        if near_w_per_k.is_none() {
            let centre = points[best_of(&points)].log_sheet;
            points.extend(around(centre).into_par_iter().map(point).collect::<Vec<_>>());
            points.sort_by(|a, b| a.log_sheet.total_cmp(&b.log_sheet));
        }
        let columns = points[0].reduced.moment.len();
        Self { points, columns }
    }

    /// Watts per column at the most probable sheet conductance, between the grid points, and that conductance; without one
    /// block of places where asked for.
    pub(super) fn at_best(&self, without: Option<usize>) -> (DVector<f64>, f64) {
        let three = self.three(without);
        let at = three.vertex;
        let weights = lagrange(&three.log_sheet, at);
        let watts = three.watts.iter().zip(weights).fold(DVector::zeros(self.columns), |sum, (s, w)| sum + s * w);
        (watts.map(|w| w.max(0.0)), at.exp())
    }

    /// How far the watts per column move over one standard error of the logarithm of the sheet conductance.
    pub(super) fn sheet_error(&self) -> DVector<f64> {
        let three = self.three(None);
        let spread = if three.curvature > 0.0 { (self.variance() / three.curvature).sqrt() } else { USUAL_SPREAD };
        let slope = (&three.watts[2] - &three.watts[0]) / (three.log_sheet[2] - three.log_sheet[0]);
        slope * spread.min(USUAL_SPREAD)
    }

    /// The grid points around the most probable one.
    fn three(&self, without: Option<usize>) -> Three {
        let all: Vec<usize> = (0..self.columns).collect();
        let variance = self.variance();
        let solved: Vec<(f64, Solution)> = self
            .points
            .iter()
            .map(|p| {
                let solution = without.map_or_else(|| p.solution.clone(), |b| p.without[b].solve_among(&all));
                (p.objective(solution.chi_square, variance), solution)
            })
            .collect();
        let best = (0..solved.len()).min_by(|&a, &b| solved[a].0.total_cmp(&solved[b].0)).unwrap_or(0);
        let from = best.clamp(1, solved.len() - 2) - 1;
        let log_sheet = [0, 1, 2].map(|i| self.points[from + i].log_sheet);
        let (vertex, curvature) = vertex(&log_sheet, &[0, 1, 2].map(|i| solved[from + i].0));
        let watts = [0, 1, 2].map(|i| solved[from + i].1.watts.clone());
        Three { log_sheet, watts, vertex: vertex.clamp(log_sheet[0], log_sheet[2]), curvature }
    }

    /// Variance of the residuals, where the noise says 1, and places share their misfit.
    fn variance(&self) -> f64 {
        SHARED * self.reduced_chi_square().max(1.0)
    }

    /// Sum of squares per row at the best point.
    pub(super) fn reduced_chi_square(&self) -> f64 {
        let p = &self.points[best_of(&self.points)];
        p.solution.chi_square / p.reduced.rows.max(1.0)
    }
}

/// Three neighbouring grid points, and the parabola through them.
struct Three {
    log_sheet: [f64; 3],
    watts: [DVector<f64>; 3],
    /// Where it is lowest.
    vertex: f64,
    /// Half its second derivative.
    curvature: f64,
}

impl Point {
    /// Sum of squares with what is known beforehand.
    fn objective(&self, chi_square: f64, variance: f64) -> f64 {
        chi_square + variance * ((self.log_sheet - USUAL_SHEET_W_PER_K.ln()) / USUAL_SPREAD).powi(2)
    }
}

fn best_of(points: &[Point]) -> usize {
    (0..points.len())
        .min_by(|&a, &b| points[a].solution.chi_square.total_cmp(&points[b].solution.chi_square))
        .unwrap_or(0)
}

/// Where the parabola through three points is lowest (the lowest end where it opens downwards), and half its second
/// derivative.
fn vertex(x: &[f64], y: &[f64]) -> (f64, f64) {
    let (a, b) = (x[1] - x[0], x[2] - x[1]);
    let (low, high) = ((y[1] - y[0]) / a, (y[2] - y[1]) / b);
    let curvature = (high - low) / (a + b);
    if curvature <= 0.0 {
        return (if y[0] < y[2] { x[0] } else { x[2] }, curvature);
    }
    // Slope at the middle point, from both sides.
    let slope = (low * b + high * a) / (a + b);
    (x[1] - slope / (2.0 * curvature), curvature)
}

/// Weights of quadratic interpolation.
fn lagrange(x: &[f64], at: f64) -> [f64; 3] {
    let l = |i: usize, j: usize, k: usize| (at - x[j]) * (at - x[k]) / ((x[i] - x[j]) * (x[i] - x[k]));
    [l(0, 1, 2), l(1, 0, 2), l(2, 0, 1)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_is_found_back_from_three_points() {
        let f = |x: f64| 3.0 * (x - 0.7).powi(2) + 2.0;
        let x = [0.0, 0.5, 1.3];
        let (at, curvature) = vertex(&x, &x.map(f));
        assert!((at - 0.7).abs() < 1e-12 && (curvature - 3.0).abs() < 1e-12);
        let weights = lagrange(&x, 0.9);
        let found: f64 = weights.iter().zip(x).map(|(w, x)| w * f(x)).sum();
        assert!((found - f(0.9)).abs() < 1e-12);
    }
}
