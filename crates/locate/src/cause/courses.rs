//! Time courses: those that the injection can have, and those of everything else.

use nalgebra::DVector;

use super::Other;
use crate::model::{Response, ResponseModel};

/// A time course with the terms that go with it.
#[derive(Clone, Debug)]
pub(super) struct Course {
    /// `None`: the injection.
    pub(super) other: Option<Other>,
    /// Columns over the frames, the course itself last.
    pub(super) columns: Vec<DVector<f64>>,
    /// Parameters that are free, those of the form included.
    pub(super) parameters: f64,
    /// Shift of the log.
    pub(super) shift_s: f64,
}

/// Starts and middles per recording.
const PLACES: usize = 28;
/// Slow swings: turns over the recording.
const TURNS: [f64; 12] = [0.3, 0.45, 0.6, 0.8, 1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.3, 2.6];
/// A swing that one place alone makes, beyond what the whole board's scatter allows (the search has weighed that), is rarer
/// than its parameters say: it counts as so many more. Common practice, no published source; set on simulated boards.
const LOCAL_SWING: f64 = 1.5;
/// Heat that starts nearer to the logged onset than this is the injection's: frame intervals, and share of the injection.
/// A fit on two time scales can be off by some frames.
const NEAR_INTERVALS: f64 = 4.0;
const NEAR_SHARE: f64 = 0.06;

/// All candidate responses, each with a slow share of the injected energy (the board around a part warms for longer than
/// the part) or a straight drift.
pub(super) fn of_injection(model: &ResponseModel, shifts_s: &[f64]) -> Vec<Course> {
    let time = straight(model);
    let mut courses = Vec::new();
    for &shift_s in shifts_s {
        let drive = model.drive.shifted(shift_s);
        let slow = drive.energy();
        for member in &model.members {
            let h = drive.response(member.response);
            for beside in [Some(&slow), Some(&time), None] {
                let columns: Vec<_> = beside.into_iter().cloned().chain([h.clone()]).collect();
                let parameters = 1.0 + columns.len() as f64;
                courses.push(Course { other: None, columns, parameters, shift_s });
            }
        }
    }
    courses
}

/// Everything else.
pub(super) fn others(model: &ResponseModel) -> Vec<Course> {
    let time_s = &model.drive.time_s;
    let (first, last) = (time_s[0], time_s[time_s.len() - 1]);
    let span_s = (last - first).max(f64::MIN_POSITIVE);
    let of = |f: &dyn Fn(f64) -> f64| DVector::from_iterator(time_s.len(), time_s.iter().map(|&t| f(t - first)));
    let time = straight(model);
    let places = move || (0..PLACES).map(move |i| span_s * i as f64 / PLACES as f64);
    let mut courses = Vec::new();
    let mut add = |other: Other, columns: Vec<DVector<f64>>, parameters: f64| {
        courses.push(Course { other: Some(other), columns, parameters, shift_s: 0.0 });
    };
    for degree in 1..=4 {
        let powers = (1..=degree).map(|d| of(&|t| (2.0 * t / span_s - 1.0).powi(d))).collect();
        add(Other::Drift, powers, f64::from(degree) + if degree > 2 { LOCAL_SWING } else { 0.0 });
    }
    for turns in TURNS {
        let angle = |t: f64| std::f64::consts::TAU * turns * t / span_s;
        add(Other::Drift, vec![time.clone(), of(&|t| angle(t).cos()), of(&|t| angle(t).sin())], 4.0 + LOCAL_SWING);
    }
    for tau_s in geometric(span_s / 40.0, 2.0 * span_s, 9) {
        add(Other::EvensOut, vec![time.clone(), of(&|t| (-t / tau_s).exp())], 3.0);
    }
    for over_s in geometric(span_s / 60.0, 1.2 * span_s, 9) {
        for from_s in places().chain([-0.25 * span_s, -0.12 * span_s]) {
            let smooth = |t: f64| {
                let share = ((t - from_s) / over_s).clamp(0.0, 1.0);
                share * share * (3.0 - 2.0 * share)
            };
            add(Other::Passes, vec![time.clone(), of(&smooth)], 4.0);
        }
    }
    for width_s in geometric(span_s / 60.0, 0.5 * span_s, 8) {
        for middle_s in places().chain([span_s]) {
            add(Other::Passes, vec![time.clone(), of(&|t| (-0.5 * ((t - middle_s) / width_s).powi(2)).exp())], 4.0);
        }
    }
    for from_s in places() {
        for (rise_s, fall_s) in
            [(0.0, 0.05), (0.0, 0.15), (0.0, 0.4), (0.02, 0.1), (0.02, 0.3), (0.06, 0.2), (0.06, 0.5)]
        {
            let (rise_s, fall_s) = (rise_s * span_s, fall_s * span_s);
            let touched = |t: f64| {
                let age = t - from_s;
                if age <= 0.0 {
                    0.0
                } else {
                    (-age / fall_s).exp() - if rise_s > 0.0 { (-age / rise_s).exp() } else { 0.0 }
                }
            };
            add(Other::Touched, vec![time.clone(), of(&touched)], 4.0);
        }
    }
    let near_s = (NEAR_INTERVALS * model.drive.interval_s()).max(NEAR_SHARE * model.drive.duration_s());
    let taus: Vec<f64> = geometric(span_s / 100.0, span_s, 7).collect();
    for shift_s in places().map(|from_s| first + from_s - model.drive.onset_s()).filter(|s| s.abs() > near_s) {
        let drive = model.drive.shifted(shift_s);
        for &tau_s in &taus {
            let h = drive.response(Response::FirstOrder { tau_s });
            add(Other::AnotherTime, vec![drive.energy(), h], 4.0);
        }
    }
    courses
}

/// Time over -1..1.
fn straight(model: &ResponseModel) -> DVector<f64> {
    let time_s = &model.drive.time_s;
    let (first, last) = (time_s[0], time_s[time_s.len() - 1]);
    let half = ((last - first) / 2.0).max(f64::MIN_POSITIVE);
    DVector::from_iterator(time_s.len(), time_s.iter().map(|t| (t - f64::midpoint(first, last)) / half))
}

fn geometric(from: f64, to: f64, count: usize) -> impl Iterator<Item = f64> {
    (0..count).map(move |i| from * (to / from).powf(i as f64 / (count - 1) as f64))
}
