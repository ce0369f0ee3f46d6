//! A take with its answer, and two takes with their repair check.

use joulemark_frames::Progress;
use joulemark_locate::{
    LocateError, Located, Settings, locate,
    repair_check::{self, Bench, RepairCheck, Side},
};

use super::{
    BadInput, Case,
    intervention::Intervention,
    load::{self, Loaded, TakeSource},
};

/// A take with its answer.
#[derive(Clone, Debug)]
pub struct Told {
    /// What was loaded.
    pub loaded: Loaded,
    /// What was found.
    pub located: Located,
}

impl Told {
    /// Loads a take and locates in it.
    ///
    /// # Errors
    /// When a file cannot be read or says too little, or the work is cancelled.
    pub fn of(source: &TakeSource, progress: &dyn Progress) -> anyhow::Result<Self> {
        let loaded = load::load(source, progress)?;
        let settings =
            Settings { mask_not_a_number: source.mask_nan, period_s: loaded.period_s, ..Settings::default() };
        let located = locate(&loaded.take, &loaded.scene(), &settings, progress).map_err(|e| name_file(e, source))?;
        Ok(Self { loaded, located })
    }
}

/// Holds a take after against a take before.
pub fn compare(before: &Told, after: &Told, bench: &Bench) -> RepairCheck {
    let (before_scene, after_scene) = (before.loaded.scene(), after.loaded.scene());
    repair_check::check(
        &Side { located: &before.located, scene: &before_scene, timeline: &before.loaded.take.timeline },
        &Side { located: &after.located, scene: &after_scene, timeline: &after.loaded.take.timeline },
        bench,
    )
}

/// What a case holds about a repair between two of its stages, or between one of its stages and one of another device.
pub fn bench(case: &Case, before: u32, other: Option<&Case>, after: u32) -> Bench {
    let rail = &case.rail;
    let ohms = |case: &Case, until: u32| {
        let open = case.reads_open(rail, until).then_some(f64::INFINITY);
        case.net_ohms(rail, until).map(|n| n.ohms).or(open)
    };
    let last = other.unwrap_or(case);
    let between = |i: &&Intervention| other.is_some() || (i.number > before && i.number <= after);
    // A reading counts as after only where it was taken at a later stage than the one before.
    let later = other.is_some() || after > before;
    Bench {
        ohms_before: ohms(case, before),
        ohms_after: ohms(last, after).filter(|_| later),
        diode_before: case.diode_volts(rail, before),
        diode_after: last.diode_volts(rail, after).filter(|_| later),
        repaired: last.interventions.iter().filter(between).map(Intervention::words).collect(),
        ..Bench::default()
    }
}

/// The library does not know files; each fault is the frames' own, except where it is the board's.
pub fn name_file(error: LocateError, source: &TakeSource) -> anyhow::Error {
    match error {
        LocateError::Cancelled => error.into(),
        LocateError::Board(_) | LocateError::NoSuchRail { .. } | LocateError::NoSuchFace { .. } => {
            BadInput::in_file(&source.board, &error)
        }
        // The log's marks are what is wrong, unless a flag or the case set them aside.
        LocateError::TooFewFrames { .. } if source.inject_from.is_none() => {
            BadInput::in_file(source.log.as_ref().unwrap_or(&source.frames), &error)
        }
        _ => BadInput::in_file(&source.frames, &error),
    }
}

/// Those of loading and those of locating, each once.
pub fn warnings(loaded: &Loaded, located: &Located) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for warning in loaded.warnings.iter().chain(&located.warnings) {
        if !all.contains(warning) {
            all.push(warning.clone());
        }
    }
    all
}
