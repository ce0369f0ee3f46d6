//! Time courses: those that the injection can have, and those of everything else.

use nalgebra::DVector;
use rayon::prelude::*;

use super::Other;
use crate::model::{Member, Response, ResponseModel};

/// A time course with the terms that go with it.
#[derive(Clone, Debug)]
pub(super) struct Course {
    /// `None`: the injection.
    pub(super) other: Option<Other>,
    /// Its form, where that is one of a continuum.
    pub(super) form: Option<Form>,
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
    let of_shift = |&shift_s: &f64| {
        let drive = model.drive.shifted(shift_s);
        let slow = drive.energy();
        let of_member = |member: &Member| {
            let h = drive.response(member.response);
            [Some(&slow), Some(&time), None].map(|beside| {
                let columns: Vec<_> = beside.into_iter().cloned().chain([h.clone()]).collect();
                let parameters = 1.0 + columns.len() as f64;
                Course { other: None, form: None, columns, parameters, shift_s }
            })
        };
        model.members.iter().flat_map(of_member).collect::<Vec<_>>()
    };
    shifts_s.par_iter().flat_map_iter(of_shift).collect()
}

/// The free form of another cause; times are in seconds from the first frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Form {
    /// Evens out from the first frame.
    Decay { tau_s: f64 },
    /// Comes or goes smoothly and stays.
    Step { from_s: f64, over_s: f64 },
    /// Comes and goes.
    Bump { middle_s: f64, width_s: f64 },
    /// Heat from outside that comes at once and runs out.
    Touch { from_s: f64, rise_s: f64, fall_s: f64 },
    /// The injection's own course, later or earlier.
    Late { shift_s: f64, tau_s: f64 },
}

impl Form {
    fn other(self) -> Other {
        match self {
            Self::Decay { .. } => Other::EvensOut,
            Self::Step { .. } | Self::Bump { .. } => Other::Passes,
            Self::Touch { .. } => Other::Touched,
            Self::Late { .. } => Other::AnotherTime,
        }
    }

    fn value(self, t: f64) -> f64 {
        match self {
            Self::Decay { tau_s } => (-t / tau_s).exp(),
            Self::Step { from_s, over_s } => {
                let share = ((t - from_s) / over_s).clamp(0.0, 1.0);
                share * share * (3.0 - 2.0 * share)
            }
            Self::Bump { middle_s, width_s } => (-0.5 * ((t - middle_s) / width_s).powi(2)).exp(),
            Self::Touch { from_s, rise_s, fall_s } => {
                let age = t - from_s;
                if age <= 0.0 {
                    0.0
                } else {
                    (-age / fall_s).exp() - if rise_s > 0.0 { (-age / rise_s).exp() } else { 0.0 }
                }
            }
            Self::Late { .. } => 0.0,
        }
    }

    pub(super) fn course(self, model: &ResponseModel) -> Course {
        let columns = match self {
            Self::Late { shift_s, tau_s } => {
                let drive = model.drive.shifted(shift_s);
                vec![drive.energy(), drive.response(Response::FirstOrder { tau_s })]
            }
            _ => {
                let time_s = &model.drive.time_s;
                let own = time_s.iter().map(|t| self.value(t - time_s[0]));
                vec![straight(model), DVector::from_iterator(time_s.len(), own)]
            }
        };
        let parameters = if matches!(self, Self::Decay { .. }) { 3.0 } else { 4.0 };
        Course { other: Some(self.other()), form: Some(self), columns, parameters, shift_s: 0.0 }
    }

    /// Forms between this one and its neighbours on the grid.
    pub(super) fn between(self, model: &ResponseModel) -> Vec<Self> {
        let span_s = span_s(model);
        let step_s = span_s / PLACES as f64;
        let shifts = (-3..=3).map(|i| f64::from(i) / 3.5 * step_s);
        let scales = |ratio: f64| (-2..=2).map(move |i| ratio.powf(f64::from(i) / 5.0));
        let ratio = |from: f64, to: f64, count: usize| (to / from).powf(1.0 / (count - 1) as f64);
        match self {
            Self::Decay { tau_s } => scales(4.0).map(|s| Self::Decay { tau_s: tau_s * s }).collect(),
            Self::Step { from_s, over_s } => shifts
                .flat_map(|d| scales(ratio(STEP_S.0, STEP_S.1, STEPS)).map(move |s| (d, s)))
                .map(|(d, s)| Self::Step { from_s: from_s + d, over_s: over_s * s })
                .collect(),
            Self::Bump { middle_s, width_s } => shifts
                .flat_map(|d| scales(ratio(BUMP_S.0, BUMP_S.1, BUMPS)).map(move |s| (d, s)))
                .map(|(d, s)| Self::Bump { middle_s: middle_s + d, width_s: width_s * s })
                .collect(),
            Self::Touch { from_s, rise_s, fall_s } => {
                shifts.map(|d| Self::Touch { from_s: from_s + d, rise_s, fall_s }).collect()
            }
            Self::Late { shift_s, tau_s } => shifts
                .flat_map(|d| scales(ratio(LATE_S.0, LATE_S.1, LATES)).map(move |s| (d, s)))
                .map(|(d, s)| Self::Late { shift_s: shift_s + d, tau_s: tau_s * s })
                .filter(|form| !form.near_onset(model))
                .collect(),
        }
    }

    fn near_onset(self, model: &ResponseModel) -> bool {
        let near_s = (NEAR_INTERVALS * model.drive.interval_s()).max(NEAR_SHARE * model.drive.duration_s());
        matches!(self, Self::Late { shift_s, .. } if shift_s.abs() <= near_s)
    }
}

/// Shortest and longest, in lengths of the recording, and how many: steps, bumps, time constants of late heat.
const STEP_S: (f64, f64) = (1.0 / 60.0, 1.2);
const STEPS: usize = 9;
const BUMP_S: (f64, f64) = (1.0 / 60.0, 0.5);
const BUMPS: usize = 8;
const LATE_S: (f64, f64) = (0.01, 1.0);
const LATES: usize = 7;

fn span_s(model: &ResponseModel) -> f64 {
    let time_s = &model.drive.time_s;
    (time_s[time_s.len() - 1] - time_s[0]).max(f64::MIN_POSITIVE)
}

/// Everything else.
pub(super) fn others(model: &ResponseModel) -> Vec<Course> {
    let time_s = &model.drive.time_s;
    let first = time_s[0];
    let span_s = span_s(model);
    let of = |f: &dyn Fn(f64) -> f64| DVector::from_iterator(time_s.len(), time_s.iter().map(|&t| f(t - first)));
    let time = straight(model);
    let places = move || (0..PLACES).map(move |i| span_s * i as f64 / PLACES as f64);
    let mut courses = Vec::new();
    let mut add = |columns: Vec<DVector<f64>>, parameters: f64| {
        courses.push(Course { other: Some(Other::Drift), form: None, columns, parameters, shift_s: 0.0 });
    };
    for degree in 1..=4 {
        let powers = (1..=degree).map(|d| of(&|t| (2.0 * t / span_s - 1.0).powi(d))).collect();
        add(powers, f64::from(degree) + if degree > 2 { LOCAL_SWING } else { 0.0 });
    }
    for turns in TURNS {
        let angle = |t: f64| std::f64::consts::TAU * turns * t / span_s;
        add(vec![time.clone(), of(&|t| angle(t).cos()), of(&|t| angle(t).sin())], 4.0 + LOCAL_SWING);
    }
    let mut forms: Vec<Form> = Vec::new();
    forms.extend(geometric(span_s / 40.0, 2.0 * span_s, 9).map(|tau_s| Form::Decay { tau_s }));
    for over_s in geometric(STEP_S.0 * span_s, STEP_S.1 * span_s, STEPS) {
        let from = places().chain([-0.25 * span_s, -0.12 * span_s]);
        forms.extend(from.map(|from_s| Form::Step { from_s, over_s }));
    }
    for width_s in geometric(BUMP_S.0 * span_s, BUMP_S.1 * span_s, BUMPS) {
        forms.extend(places().chain([span_s]).map(|middle_s| Form::Bump { middle_s, width_s }));
    }
    for from_s in places() {
        for (rise, fall) in [(0.0, 0.05), (0.0, 0.15), (0.0, 0.4), (0.02, 0.1), (0.02, 0.3), (0.06, 0.2), (0.06, 0.5)] {
            forms.push(Form::Touch { from_s, rise_s: rise * span_s, fall_s: fall * span_s });
        }
    }
    for shift_s in places().map(|from_s| first + from_s - model.drive.onset_s()) {
        let late = geometric(LATE_S.0 * span_s, LATE_S.1 * span_s, LATES);
        forms.extend(late.map(|tau_s| Form::Late { shift_s, tau_s }).filter(|form| !form.near_onset(model)));
    }
    courses.par_extend(forms.into_par_iter().map(|form| form.course(model)));
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
