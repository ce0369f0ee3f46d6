//! Radial tables of what the time vectors see around a source of one watt in a thin plate.

use super::course::Ages;
use crate::plate::ThinPlate;

/// Steps of the table per standard deviation of the source's own blur: linear interpolation is then good to 1 %.
const STEPS_PER_SIGMA: f64 = 3.0;
/// Beyond this many standard deviations of the oldest heat there is none.
const REACH_SIGMAS: f64 = 4.5;
/// Longest table.
const MOST_STEPS: usize = 4000;

/// Coefficients per watt against distance.
#[derive(Clone, Debug)]
pub(super) struct RadialTable {
    step_mm: f64,
    vectors: usize,
    /// Row per distance.
    values: Vec<f64>,
}

impl RadialTable {
    /// The rise of a plate at a distance from a Gaussian source of standard deviation `sigma_mm` (point spread and
    /// the source's own size): a flash at age `a` is `exp(-r^2/(2 s) - a h/C) / (2 pi C s)` with `s = sigma^2 + 2 alpha a`
    /// (Carslaw & Jaeger section 10.3), summed over the ages.
    pub(super) fn new(ages: &Ages, plate: &ThinPlate, sigma_mm: f64) -> Self {
        let vectors = ages.weights.ncols();
        let sigma2_m2 = (sigma_mm * 1e-3).powi(2);
        let spreads: Vec<f64> = ages.age_s.iter().map(|a| sigma2_m2 + 2.0 * plate.diffusivity_m2_per_s() * a).collect();
        let amplitudes: Vec<f64> = ages
            .age_s
            .iter()
            .zip(&spreads)
            .map(|(a, s)| {
                let kept = (-a * plate.loss_w_per_m2k / plate.areal_capacity_j_per_m2k).exp();
                kept / (std::f64::consts::TAU * plate.areal_capacity_j_per_m2k * s)
            })
            .collect();
        let reach_mm = REACH_SIGMAS * spreads.iter().copied().fold(0.0, f64::max).sqrt() * 1e3;
        let steps = ((reach_mm / sigma_mm * STEPS_PER_SIGMA).ceil() as usize).clamp(2, MOST_STEPS);
        let step_mm = reach_mm / steps as f64;
        let mut values = vec![0.0; (steps + 1) * vectors];
        for (i, row) in values.chunks_exact_mut(vectors).enumerate().take(steps) {
            let r2_m2 = (i as f64 * step_mm * 1e-3).powi(2);
            for (j, (s, amplitude)) in spreads.iter().zip(&amplitudes).enumerate() {
                let exponent = r2_m2 / (2.0 * s);
                if exponent < 30.0 {
                    let flash = amplitude * (-exponent).exp();
                    for (k, value) in row.iter_mut().enumerate() {
                        *value += flash * ages.weights[(j, k)];
                    }
                }
            }
        }
        Self { step_mm, vectors, values }
    }

    /// Adds the coefficients at a distance, times `weight`, to `out`.
    pub(super) fn add(&self, distance_mm: f64, weight: f64, out: &mut [f64]) {
        let at = distance_mm / self.step_mm;
        let i = at as usize;
        let start = i * self.vectors;
        let Some(rows) = self.values.get(start..start + 2 * self.vectors) else { return };
        let (low, high) = rows.split_at(self.vectors);
        let part = at - i as f64;
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
        let power = vec![1.0; frames];
        let mut pick = DMatrix::zeros(frames, 1);
        pick[(frames - 1, 0)] = 1.0;
        let course = PowerCourse { time_s: &times, power: &power };
        let mut out = [0.0];
        // A source far narrower than the distances asked for.
        RadialTable::new(&ages(course, &pick, 0.0), plate, 0.1).add(distance_mm, 1.0, &mut out);
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
