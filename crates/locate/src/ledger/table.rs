//! Radial tables of what the time vectors see around a source of one watt in a thin plate.

use nalgebra::DMatrix;

use super::course::Ages;
use crate::plate::ThinPlate;

/// Rows of the table per natural logarithm of the distance, and per standard deviation of the source's blur near it: linear
/// interpolation is then good to a few parts in a thousand where there is any heat.
const ROWS: f64 = 12.0;

/// Distances of a table's rows: even near the source, in even ratios further out. One grid serves all boards, so places
/// are looked up once.
#[derive(Clone, Copy, Debug)]
pub(super) struct RadialGrid {
    sigma_mm: f64,
    rows: usize,
}

impl RadialGrid {
    /// For sources of that blur, as far as `reach_mm`.
    pub(super) fn new(sigma_mm: f64, reach_mm: f64) -> Self {
        Self { sigma_mm, rows: ((reach_mm / sigma_mm).asinh() * ROWS).ceil() as usize + 2 }
    }

    /// Where a distance lies, in rows.
    pub(super) fn row(&self, distance_mm: f64) -> f64 {
        (distance_mm / self.sigma_mm).asinh() * ROWS
    }

    fn distance_m(&self, row: usize) -> f64 {
        (row as f64 / ROWS).sinh() * self.sigma_mm * 1e-3
    }
}

/// Coefficients per watt against distance.
#[derive(Clone, Debug)]
pub(super) struct RadialTable {
    vectors: usize,
    /// Row per distance.
    values: Vec<f64>,
}

impl RadialTable {
    /// The rise of a plate at a distance from a Gaussian source of standard deviation `sigma_mm` (point spread and
    /// the source's own size), one table per course of the power, all with the same ages: a flash at age `a` is
    /// `exp(-r^2/(2 s) - a h/C) / (2 pi C s)` with `s = sigma^2 + 2 alpha a` (Carslaw & Jaeger section 10.3), summed over the ages.
    pub(super) fn all(courses: &[Ages], plate: &ThinPlate, sigma_mm: f64, grid: &RadialGrid) -> Vec<Self> {
        let Some(first) = courses.first() else { return Vec::new() };
        let vectors = first.weights.ncols();
        let sigma2_m2 = (sigma_mm * 1e-3).powi(2);
        let ages: Vec<(f64, f64)> = first
            .age_s
            .iter()
            .map(|a| {
                let s = sigma2_m2 + 2.0 * plate.diffusivity_m2_per_s() * a;
                let kept = (-a * plate.loss_w_per_m2k / plate.areal_capacity_j_per_m2k).exp();
                (s, kept / (std::f64::consts::TAU * plate.areal_capacity_j_per_m2k * s))
            })
            .collect();
        // Rows of weights lie together.
        let weights: Vec<DMatrix<f64>> = courses.iter().map(|c| c.weights.transpose()).collect();
        let mut tables = vec![Self { vectors, values: vec![0.0; grid.rows * vectors] }; courses.len()];
        for row in 0..grid.rows {
            let r2_m2 = grid.distance_m(row).powi(2);
            for (j, (s, amplitude)) in ages.iter().enumerate() {
                let exponent = r2_m2 / (2.0 * s);
                if exponent > 30.0 {
                    continue;
                }
                let flash = amplitude * (-exponent).exp();
                for (table, weights) in tables.iter_mut().zip(&weights) {
                    let values = &mut table.values[row * vectors..(row + 1) * vectors];
                    for (value, w) in values.iter_mut().zip(&weights.as_slice()[j * vectors..(j + 1) * vectors]) {
                        *value += flash * w;
                    }
                }
            }
        }
        tables
    }

    /// Adds the coefficients at a place on the grid, times `weight`, to `out`; nothing beyond the grid.
    pub(super) fn add(&self, row: f64, weight: f64, out: &mut [f64]) {
        let i = row as usize;
        let start = i * self.vectors;
        let Some(rows) = self.values.get(start..start + 2 * self.vectors) else { return };
        let (low, high) = rows.split_at(self.vectors);
        let part = row - i as f64;
        for ((o, l), h) in out.iter_mut().zip(low).zip(high) {
            *o += weight * (l + part * (h - l));
        }
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::DMatrix;

    use super::super::course::{PowerCourse, ages};
    use super::*;

    /// Rise at a distance, some time after a watt was switched on.
    fn step_rise_k(plate: &ThinPlate, distance_mm: f64, time_s: f64) -> f64 {
        // Frames close enough for the youngest heat to be resolved at 1 mm.
        let frames = 6001;
        let times: Vec<f64> = (0..frames).map(|i| time_s * i as f64 / (frames - 1) as f64).collect();
        let mut pick = DMatrix::zeros(frames, 1);
        pick[(frames - 1, 0)] = 1.0;
        let course = PowerCourse { from_s: vec![0.0], power: vec![1.0] };
        let mut out = [0.0];
        // A source far narrower than the distances asked for.
        let grid = RadialGrid::new(0.1, 100.0);
        let courses = [ages(&course, &times, &pick, 0.0)];
        RadialTable::all(&courses, plate, 0.1, &grid)[0].add(grid.row(distance_mm), 1.0, &mut out);
        out[0]
    }

    /// Published check, section 2 "Continuous line source": FR-4 of 1.6 mm, 0.1 W, 2 mm, 60 s: 14.03395 K.
    #[test]
    fn a_step_without_loss_is_the_published_one() {
        let sheet = 1.059 * 1.6e-3;
        let plate =
            ThinPlate { sheet_w_per_k: sheet, areal_capacity_j_per_m2k: sheet / 5.724324e-7, loss_w_per_m2k: 0.0 };
        let found = 0.1 * step_rise_k(&plate, 2.0, 60.0);
        // Cells of age are 12 % wide, which costs 0.1 %; interpolation some more.
        assert!((found / 14.03395 - 1.0).abs() < 3e-3, "{found}");
    }

    /// Published check, section 2 "Thin plate with loss", steady: 22.03089, 15.72163, 8.045767, 3.499737, 0.866466 K at 1,
    /// 2, 5, 10, 20 mm for 0.1 W; with copper 2.015558 to 0.478347 K. After ten loss times exp(-10) is missing.
    #[test]
    fn a_long_step_with_loss_ends_at_the_published_steady_state() {
        let bare = ThinPlate { sheet_w_per_k: 1.059 * 1.6e-3, areal_capacity_j_per_m2k: 2960.0, loss_w_per_m2k: 20.0 };
        let copper = ThinPlate { sheet_w_per_k: 0.0297644, ..bare };
        let tables = [
            (bare, [22.03089, 15.72163, 8.045767, 3.499737, 0.866466]),
            (copper, [2.015558, 1.645957, 1.161641, 0.806164, 0.478347]),
        ];
        for (plate, wanted) in tables {
            for (distance_mm, wanted) in [1.0, 2.0, 5.0, 10.0, 20.0].into_iter().zip(wanted) {
                let found = 0.1 * step_rise_k(&plate, distance_mm, 10.0 * plate.loss_time_s());
                assert!((found / wanted - 1.0).abs() < 5e-3, "{found} against {wanted} at {distance_mm} mm");
            }
        }
    }
}
