//! Whether the injection explains a place's curve better than anything else that moves in such recordings.
//!
//! A peak of the search says that something changed; it does not say what. Its curve, centre less surround and every
//! frame of it, is fitted by the logged injection through all candidate responses, and by each of the other
//! [`courses`](courses) that recordings show: drifts, a cooling patch, a reflection that comes, goes or passes, a warm
//! probe, heat that starts at another time. The hypotheses are compared by Schwarz's criterion (Ann. Stat. 6 (1978) 461),
//! `chi^2 + parameters ln(frames)`.

mod courses;

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use crate::model::ResponseModel;
use courses::Course;

/// Curves are averaged down to this many values: nothing here is faster than that.
const MOST_VALUES: usize = 240;
/// No response is known to better than this share of the rise (real bodies are neither first order nor a plate): common
/// practice, no published source. It keeps strong spots from being judged by the model's small faults.
const MODEL_ERROR_SHARE: f64 = 0.03;

/// What else moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Other {
    /// Straight or bent drift, or a slow swing.
    Drift,
    /// Warm or cold from the start and evening out.
    EvensOut,
    /// Comes or goes within some seconds, or passes: a reflection.
    Passes,
    /// Touched by something warm whose heat runs out.
    Touched,
    /// Starts to warm at another time than the injection.
    AnotherTime,
}

impl Other {
    /// The end of a sentence that starts with a place.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Self::Drift => "drifts slowly rather than warms from the injection",
            Self::EvensOut => "evens out from the first frame: it was warm or cold before the injection",
            Self::Passes => "comes and goes on its own time, as a reflection does",
            Self::Touched => "was touched by something warm whose heat runs out",
            Self::AnotherTime => "starts to warm at another time than the injection",
        }
    }
}

/// The comparison for one curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Verdict {
    /// Criterion of the best other cause less that of the injection: positive speaks for the injection.
    pub(crate) margin: f64,
    /// The best other cause.
    pub(crate) other: Other,
    /// By how much the log lags the picture in the best fit, in seconds; positive: the heat starts later than logged.
    pub(crate) shift_s: f64,
    /// By how much that shift improves the criterion over none.
    pub(crate) shift_gain: f64,
    /// Chi-square per value of the injection's fit.
    pub(crate) misfit: f64,
}

/// The hypotheses of a recording, ready for any number of curves.
pub(crate) struct Causes<'a> {
    model: &'a ResponseModel,
    fixed: Vec<DVector<f64>>,
    bin: usize,
    injection: Vec<Hypothesis>,
    others: Vec<Hypothesis>,
    values: usize,
}

struct Hypothesis {
    course: Course,
    /// Orthonormal basis off the constant and the fixed terms: values x terms; the course itself comes last.
    basis: DMatrix<f64>,
    parameters: f64,
}

impl<'a> Causes<'a> {
    /// `shifts_s` are the shifts of the log that the injection may have.
    pub(crate) fn new(model: &'a ResponseModel, shifts_s: &[f64]) -> Self {
        let frames = model.drive.time_s.len();
        let bin = frames.div_ceil(MOST_VALUES);
        let fixed: Vec<DVector<f64>> =
            (1 + model.trends..model.background.ncols()).map(|j| model.background.column(j).into_owned()).collect();
        let ready = |courses: Vec<Course>| {
            courses.into_par_iter().filter_map(|course| Hypothesis::new(course, &fixed, bin)).collect::<Vec<_>>()
        };
        let injection = ready(courses::of_injection(model, shifts_s));
        let others = ready(courses::others(model));
        Self { model, fixed, bin, injection, others, values: frames.div_ceil(bin) }
    }

    /// Judges a curve with one value per frame and white noise of standard deviation `sigma` per frame.
    pub(crate) fn judge(&self, curve: &[f64], sigma: f64) -> Verdict {
        let values = binned(&DVector::from_column_slice(curve), self.bin);
        let mean = values.mean();
        let values = values.add_scalar(-mean);
        let total = values.norm_squared();
        let rest = |h: &Hypothesis| (total - h.basis.tr_mul(&values).norm_squared()).max(0.0);
        let size = values.max() - values.min();
        // The range of a noisy curve is noise as well; the model can only err by a share of what is not.
        let clean_size = (size - 5.0 * sigma / (self.bin as f64).sqrt()).max(0.0);
        let variance = sigma * sigma / self.bin as f64 + (MODEL_ERROR_SHARE * clean_size).powi(2);
        let penalty = (self.values as f64).ln();
        let criterion = |h: &Hypothesis| rest(h) / variance + h.parameters * penalty;
        let warms = |h: &&Hypothesis| h.last_coefficient(&values) > 0.0;
        let best_of = |hypotheses: &mut dyn Iterator<Item = &Hypothesis>| {
            hypotheses
                .map(|h| (criterion(h), h))
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .map(|(c, h)| (c, h.course.clone(), rest(h)))
        };
        let injected = best_of(&mut self.injection.iter().filter(warms));
        let unshifted = best_of(&mut self.injection.iter().filter(warms).filter(|h| h.course.shift_s == 0.0));
        let other = best_of(&mut self.others.iter());
        // The forms of other causes are a continuum, and a clear curve tells a form from its neighbour on the grid.
        let between: Vec<Hypothesis> = other
            .iter()
            .filter_map(|(_, course, _)| course.form)
            .flat_map(|form| form.between(self.model))
            .filter_map(|form| Hypothesis::new(form.course(self.model), &self.fixed, self.bin))
            .collect();
        let other = best_of(&mut between.iter()).into_iter().chain(other).min_by(|a, b| a.0.total_cmp(&b.0));
        match (injected, other) {
            (Some((own, course, left)), Some((others, best, _))) => Verdict {
                margin: others - own,
                other: best.other.unwrap_or(Other::Drift),
                shift_s: course.shift_s,
                shift_gain: unshifted.map_or(0.0, |(c, ..)| c - own),
                misfit: left / variance / self.values as f64,
            },
            _ => Verdict {
                margin: f64::NEG_INFINITY,
                other: Other::Drift,
                shift_s: 0.0,
                shift_gain: 0.0,
                misfit: f64::INFINITY,
            },
        }
    }
}

impl Hypothesis {
    /// `None` when the course does not move at all in this recording.
    fn new(course: Course, fixed: &[DVector<f64>], bin: usize) -> Option<Self> {
        let mut basis: Vec<DVector<f64>> = Vec::new();
        for column in fixed.iter().chain(&course.columns) {
            let mut rest = binned(column, bin);
            let mean = rest.mean();
            rest.add_scalar_mut(-mean);
            let before = rest.norm();
            for _ in 0..2 {
                for b in &basis {
                    rest -= b * b.dot(&rest);
                }
            }
            if rest.norm() > 1e-6 * before.max(f64::MIN_POSITIVE) {
                basis.push(rest.normalize());
            } else if std::ptr::eq(column, course.columns.last()?) {
                return None;
            }
        }
        let parameters = course.parameters;
        Some(Self { course, basis: DMatrix::from_columns(&basis), parameters })
    }

    /// Coefficient of the course itself, which comes last; its sign is that of the change.
    fn last_coefficient(&self, values: &DVector<f64>) -> f64 {
        self.basis.column(self.basis.ncols() - 1).dot(values)
    }
}

/// Means of `bin` successive values.
fn binned(values: &DVector<f64>, bin: usize) -> DVector<f64> {
    let means: Vec<f64> = values.as_slice().chunks(bin).map(|c| c.iter().sum::<f64>() / c.len() as f64).collect();
    DVector::from_vec(means)
}

#[cfg(test)]
mod tests {
    use joulemark_frames::Timeline;
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, Normal};

    use super::*;
    use crate::model::Drive;

    fn model() -> ResponseModel {
        let mut timeline = Timeline::steady(180, 9.0);
        timeline.inject_from(45);
        ResponseModel::new(Drive::from_timeline(&timeline, 0.0), &[])
    }

    /// Verdict on a course of unit size at ten standard deviations of noise per frame or another ratio.
    fn judged(course: impl Fn(f64) -> f64, ratio: f64, seed: u64) -> Verdict {
        let model = model();
        let causes = Causes::new(&model, &[0.0]);
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let noise = Normal::new(0.0, 1.0 / ratio).unwrap();
        let curve: Vec<f64> = model.drive.time_s.iter().map(|t| course(*t) + noise.sample(&mut random)).collect();
        causes.judge(&curve, 1.0 / ratio)
    }

    /// The slowest at the weakest is all but a bent line; it is left out.
    #[test]
    fn heat_from_the_onset_is_the_injection() {
        for (i, tau_s) in [0.5, 2.0, 5.0, 12.0].into_iter().enumerate() {
            let heat = |t: f64| if t > 4.95 { 1.0 - (-(t - 4.95) / tau_s).exp() } else { 0.0 };
            for ratio in [3.0, 10.0, 1000.0].into_iter().filter(|r| tau_s < 10.0 || *r > 5.0) {
                let verdict = judged(heat, ratio, i as u64);
                assert!(verdict.margin > 0.0, "{tau_s} s at {ratio}: {verdict:?}");
            }
        }
    }

    /// Clear curves are told from the injection although no course of the grid fits them to their noise.
    #[test]
    fn a_clear_reflection_near_the_onset_is_told_from_it() {
        for (i, (from_s, over_s)) in [(4.7, 1.3), (5.3, 0.9), (4.4, 2.2), (5.9, 3.1)].into_iter().enumerate() {
            let step = |t: f64| {
                let share = ((t - from_s) / over_s).clamp(0.0, 1.0);
                share * share * (3.0 - 2.0 * share)
            };
            let verdict = judged(step, 60.0, 10 + i as u64);
            assert!(verdict.margin < 0.0, "from {from_s} s over {over_s} s: {verdict:?}");
        }
    }

    #[test]
    fn what_else_moves_is_told_from_it() {
        let cooling = |t: f64| -(1.0 - (-t / 8.0).exp());
        let warming = |t: f64| 1.0 - (-t / 6.0).exp();
        let passing = |t: f64| (-0.5 * ((t - 9.0) / 1.5_f64).powi(2)).exp();
        let swing = |t: f64| (t / 20.0 * std::f64::consts::TAU * 1.2 + 2.0).sin();
        let late = |t: f64| if t > 8.0 { 1.0 - (-(t - 8.0) / 3.0).exp() } else { 0.0 };
        for (name, margin) in [
            ("cooling", judged(cooling, 5.0, 1).margin),
            ("warming", judged(warming, 5.0, 2).margin),
            ("passing", judged(passing, 5.0, 3).margin),
            ("swing", judged(swing, 5.0, 4).margin),
            ("late", judged(late, 5.0, 5).margin),
        ] {
            assert!(margin < 0.0, "{name}: {margin}");
        }
    }
}
