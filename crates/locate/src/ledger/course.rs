//! What the model's time vectors see of heat that was set free some time ago, for the logged course of the power.
//!
//! The heat equation is linear and does not change with time, so every response to the injection is a flash response
//! integrated over its age, weighted by the power at that age. Projected on a vector `v`, the weight of the ages from `a` to
//! `b` is `sum_f v(f) [E(t_f - a) - E(t_f - b)]` with `E` the energy injected so far: exact for a power that holds from frame
//! to frame, for a step and for pulses alike.

use nalgebra::DMatrix;

use crate::model::Drive;

/// Ratio of neighbouring ages. A flash changes by less than this over one cell, and the cell's own weight is exact.
const AGE_RATIO: f64 = 1.12;
/// The first cell ends at this share of the frame interval.
const FIRST_CELL: f64 = 0.02;

/// Power over time: each value holds from its time to the next.
#[derive(Clone, Debug)]
pub(super) struct PowerCourse {
    /// Seconds, increasing.
    pub(super) from_s: Vec<f64>,
    /// Relative to the mean while injecting.
    pub(super) power: Vec<f64>,
}

impl PowerCourse {
    /// The logged injection.
    pub(super) fn of(drive: &Drive) -> Self {
        let mut power = 0.0;
        let steps = drive.steps();
        Self {
            from_s: steps.iter().map(|s| s.time_s).collect(),
            power: steps
                .iter()
                .map(|s| {
                    power += s.change;
                    power
                })
                .collect(),
        }
    }
}

/// The power after a first-order lag, and its energy, from the first change on.
struct Lagged<'a> {
    course: &'a PowerCourse,
    lag_s: f64,
    /// Energy and lagged power at the changes.
    energy: Vec<f64>,
    power: Vec<f64>,
}

impl<'a> Lagged<'a> {
    fn new(course: &'a PowerCourse, lag_s: f64) -> Self {
        let mut energy = vec![0.0];
        let mut power = vec![0.0];
        for (times, now) in course.from_s.windows(2).zip(&course.power) {
            let age_s = times[1] - times[0];
            energy.push(energy[energy.len() - 1] + now * age_s);
            power.push(relaxed(power[power.len() - 1], *now, age_s, lag_s));
        }
        Self { course, lag_s, energy, power }
    }

    /// Power at a time, lagged, and the energy that it has given since the start: `tau dp/dt = p_in - p` integrates to
    /// `E = E_in - tau p`.
    fn at(&self, time_s: f64) -> (f64, f64) {
        let after = self.course.from_s.partition_point(|t| *t <= time_s);
        let Some(i) = after.checked_sub(1) else { return (0.0, 0.0) };
        let age_s = time_s - self.course.from_s[i];
        let power = relaxed(self.power[i], self.course.power[i], age_s, self.lag_s);
        (power, self.energy[i] + self.course.power[i] * age_s - self.lag_s * power)
    }
}

fn relaxed(from: f64, to: f64, age_s: f64, lag_s: f64) -> f64 {
    if lag_s > 0.0 { to + (from - to) * (-age_s / lag_s).exp() } else { to }
}

/// Ages of heat with their weights on each vector.
#[derive(Clone, Debug)]
pub(super) struct Ages {
    /// Middle of each cell, seconds.
    pub(super) age_s: Vec<f64>,
    /// Joules per watt of mean power that are this old, as each vector sees it: ages x vectors.
    pub(super) weights: DMatrix<f64>,
}

/// Weights of the ages behind a first-order lag, as seen at `frame_s`. `vectors` are frames x m.
pub(super) fn ages(course: &PowerCourse, frame_s: &[f64], vectors: &DMatrix<f64>, lag_s: f64) -> Ages {
    let edges = edges(course, frame_s);
    let lagged = Lagged::new(course, lag_s);
    let seen: Vec<Vec<f64>> = edges
        .iter()
        .map(|edge| {
            let energy: Vec<f64> = frame_s.iter().map(|t| lagged.at(t - edge).1).collect();
            vectors.column_iter().map(|v| v.iter().zip(&energy).map(|(v, e)| v * e).sum()).collect()
        })
        .collect();
    Ages {
        age_s: edges.windows(2).map(|e| f64::midpoint(e[0], e[1])).collect(),
        weights: DMatrix::from_fn(edges.len() - 1, vectors.ncols(), |j, k| seen[j][k] - seen[j + 1][k]),
    }
}

/// What the vectors see of a lumped body that warms to 1 at mean power: its first-order response.
pub(super) fn body(course: &PowerCourse, frame_s: &[f64], vectors: &DMatrix<f64>, tau_s: f64) -> Vec<f64> {
    let lagged = Lagged::new(course, tau_s);
    let warm: Vec<f64> = frame_s.iter().map(|t| lagged.at(*t).0).collect();
    vectors.column_iter().map(|v| v.iter().zip(&warm).map(|(v, w)| v * w).sum()).collect()
}

fn edges(course: &PowerCourse, frame_s: &[f64]) -> Vec<f64> {
    let last = frame_s.last().copied().unwrap_or(0.0);
    let first = course.from_s.first().copied().unwrap_or(last);
    let interval = (last - frame_s.first().copied().unwrap_or(0.0)) / (frame_s.len().max(2) - 1) as f64;
    let oldest = (last - first).max(interval);
    let youngest = FIRST_CELL * interval;
    let cells = ((oldest / youngest).ln() / AGE_RATIO.ln()).ceil().max(1.0);
    let ratio = (oldest / youngest).powf(1.0 / cells);
    std::iter::once(0.0).chain((0..=cells as usize).map(|i| youngest * ratio.powi(i as i32))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plate::lumped_rise_k;

    /// Published check, section 2 "Lumped rise": P 0.5 W, R 40 K/W, tau 32 s; the power comes at the first frame.
    #[test]
    fn a_body_warms_as_published() {
        let time_s: Vec<f64> = (0..=96).map(f64::from).collect();
        let course = PowerCourse { from_s: vec![0.0], power: vec![1.0] };
        for (frame, wanted) in [(1, 0.615335), (10, 5.367687), (32, 12.642411), (96, 19.004259)] {
            let mut pick = DMatrix::zeros(time_s.len(), 1);
            pick[(frame, 0)] = 1.0;
            let found = 0.5 * 40.0 * body(&course, &time_s, &pick, 32.0)[0];
            // Six digits are printed behind the point.
            assert!((found - wanted).abs() < 1e-6, "{found} at {frame} s");
            assert!((found - lumped_rise_k(0.5, 40.0, 0.8, f64::from(frame as i32))).abs() < 1e-12);
        }
    }

    /// All energy that went in is some age: the weights of one frame sum to what was injected until then, lag or not
    /// (with a lag, less what the lag still holds).
    #[test]
    fn the_weights_hold_the_energy() {
        let time_s: Vec<f64> = (0..60).map(|i| 0.5 * f64::from(i)).collect();
        let course = PowerCourse { from_s: vec![5.2, 6.4, 9.0, 20.3], power: vec![1.5, 0.0, 0.7, 1.0] };
        let mut pick = DMatrix::zeros(60, 1);
        pick[(55, 0)] = 1.0;
        let injected = 1.5 * 1.2 + 0.7 * 11.3 + 27.5 - 20.3;
        // Exact but for rounding.
        assert!((ages(&course, &time_s, &pick, 0.0).weights.sum() - injected).abs() < 1e-9);
        let held = 2.0 * body(&course, &time_s, &pick, 2.0)[0];
        assert!((ages(&course, &time_s, &pick, 2.0).weights.sum() - (injected - held)).abs() < 1e-9);
    }
}
