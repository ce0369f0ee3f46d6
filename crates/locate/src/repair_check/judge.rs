//! The verdict, from heat, current and readings.

use serde::{Deserialize, Serialize};

use super::{
    Bench, Electrical, SiteRise,
    electrical::NO_CURRENT_SHARE,
    heat::{self, Heat},
};

/// Resistance that is this many times what it was: no longer the short. And that is less than this: still the short.
const OHMS_CLEARED: f64 = 10.0;
const OHMS_SAME: f64 = 2.0;
/// A diode reading that rose by this: no longer the short; that changed by less than this: the same. Volts.
const DIODE_CLEARED: f64 = 0.1;
const DIODE_SAME: f64 = 0.02;
/// With more of the current than this, something still draws it.
const MUCH_CURRENT: f64 = 0.5;

/// What was decided.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VerdictKind {
    /// The short is gone.
    Cleared,
    /// It is still where it was.
    StillThere,
    /// That place is cold, and another one warms.
    Moved,
    /// It is gone, and nobody did anything: expect it back.
    GoneWithoutRepair,
    /// This does not settle it.
    #[default]
    CannotTell,
}

impl VerdictKind {
    /// In words, as the report prints it.
    pub fn words(self) -> &'static str {
        match self {
            Self::Cleared => "cleared",
            Self::StillThere => "still there",
            Self::Moved => "moved",
            Self::GoneWithoutRepair => "gone without a repair",
            Self::CannotTell => "cannot tell",
        }
    }
}

/// The verdict with its numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// What was decided.
    pub kind: VerdictKind,
    /// Why, one sentence each; for "cannot tell" the last says what would settle it.
    pub because: Vec<String>,
    /// The rise that counts as none, where heat was compared.
    pub bound: Option<f64>,
    /// One-sided 95 % bounds of the rise after: lowest and highest.
    pub after_between: Option<(f64, f64)>,
}

/// What the verdict is made from.
pub(super) struct Known<'a> {
    pub(super) site: Option<&'a SiteRise>,
    /// Whether the take after has a hot spot of its own at the site.
    pub(super) own_spot: bool,
    pub(super) electrical: &'a Electrical,
    pub(super) bench: &'a Bench,
    pub(super) moved: Option<&'a (usize, Option<String>)>,
    /// Whether that other place warmed before already.
    pub(super) warm_before: bool,
    /// Whether heat can be compared at all.
    pub(super) heat: bool,
}

/// What the meter says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Meter {
    /// The rail reads as a rail does.
    Clear,
    /// It reads the short as before.
    Same,
    /// It reads higher than before, and lower than a cleared rail.
    Higher,
    /// Ohms and diode reading contradict each other.
    Contradicts,
    /// Not read before and after.
    NotRead,
}

pub(super) fn judge(known: &Known<'_>) -> Verdict {
    let mut because = Vec::new();
    let meter = meter(known.bench, &mut because);
    let told = known.site.map(|site| heat::told(site, known.own_spot, known.moved.is_some(), &mut because));
    let current = known.electrical.ratio;
    if let (Some(ratio), (Some(b), Some(a))) = (current, known.electrical.amps) {
        because.push(format!("{a:.3} A after against {b:.3} A before, {:.1} % at equal volts", 100.0 * ratio));
    }
    let heat = told.as_ref().map_or(Heat::NotCompared, |t| t.heat);
    let (kind, settle) = decide(known, meter, heat, current);
    if kind == VerdictKind::GoneWithoutRepair {
        because.push(
            "no repair is on record: whatever it was may come back; look for the cause before the device leaves".into(),
        );
    }
    if let Some((_, Some(part))) = known.moved {
        match kind {
            VerdictKind::Moved if known.warm_before => because.push(format!(
                "another place goes on warming, {part} first suspected: a second short beside the one that is gone"
            )),
            VerdictKind::Moved => because.push(format!("another place warms now, {part} first suspected")),
            VerdictKind::Cleared | VerdictKind::GoneWithoutRepair => because.push(format!(
                "what is left of the current warms another place, {part} first suspected: compare with a good board"
            )),
            _ => {}
        }
    }
    because.extend(settle);
    Verdict { kind, because, bound: told.as_ref().map(|t| t.bound), after_between: told.as_ref().map(|t| t.between) }
}

fn gone(known: &Known<'_>) -> VerdictKind {
    if known.bench.repaired.is_empty() { VerdictKind::GoneWithoutRepair } else { VerdictKind::Cleared }
}

type Decision = (VerdictKind, Option<String>);

fn cannot(settle: &str) -> Decision {
    (VerdictKind::CannotTell, Some(settle.to_owned()))
}

/// The verdict, and what would settle one that cannot be told.
fn decide(known: &Known<'_>, meter: Meter, heat: Heat, current: Option<f64>) -> Decision {
    match current {
        Some(ratio) if ratio < NO_CURRENT_SHARE => without_current(known, meter, heat),
        _ => match heat {
            Heat::Own => (VerdictKind::StillThere, None),
            Heat::None | Heat::Spread => with_a_cold_site(known, meter, heat, current),
            Heat::Unclear | Heat::NotCompared => without_heat(known, meter, heat, current),
        },
    }
}

/// Leads that touch nothing draw nothing either: the meter has to say it.
fn without_current(known: &Known<'_>, meter: Meter, heat: Heat) -> Decision {
    match (meter, heat) {
        (Meter::Same, _) => cannot(
            "next to no current, but the meter still reads the short: check that the leads touch the rail, and film again",
        ),
        (_, Heat::Own) => cannot(
            "that place warms although next to no current flows: look for another source of heat, and film again",
        ),
        (Meter::Clear, _) => (gone(known), None),
        _ => cannot(
            "next to no current, which leads that touch nothing show as well: measure the rail's ohms or diode reading",
        ),
    }
}

/// The old place makes no heat: gone, gone elsewhere, or out of sight?
fn with_a_cold_site(known: &Known<'_>, meter: Meter, heat: Heat, current: Option<f64>) -> Decision {
    let much = current.is_some_and(|ratio| ratio > MUCH_CURRENT);
    if known.moved.is_some() {
        return match meter {
            Meter::Same | Meter::Higher => (VerdictKind::Moved, None),
            Meter::NotRead if much && !known.warm_before => (VerdictKind::Moved, None),
            Meter::Clear if !much => (gone(known), None),
            Meter::Clear => cannot(
                "the meter reads the rail as clear, yet most of the current flows at another place: film again at the plan's first step, where \
                 silicon does not conduct",
            ),
            Meter::Contradicts => {
                cannot("ohms and diode reading contradict each other: measure again, leads taken off")
            }
            Meter::NotRead => cannot(
                "another place warms, which a second short does as well as a healthy part: measure the rail's ohms or diode reading",
            ),
        };
    }
    match (meter, heat) {
        (Meter::Same, _) => cannot("that place is cold, but the meter still reads a short: film the other face"),
        (Meter::Contradicts, _) => {
            cannot("ohms and diode reading contradict each other: measure again, leads taken off")
        }
        _ if much => cannot("that place is cold, but most of the current still flows: film the other face, or nearer"),
        (Meter::Clear, _) => (gone(known), None),
        (Meter::Higher, _) => cannot(
            "that place is cold, but the rail still reads low: film the other face, or compare with a good board",
        ),
        (Meter::NotRead, Heat::None) if current.is_some() && known.site.is_some_and(would_show) => (gone(known), None),
        (Meter::NotRead, Heat::None) if current.is_some() => cannot(
            "that place is cold, but what still draws current could warm another one too little to be seen: measure the rail's ohms or diode reading",
        ),
        (Meter::NotRead, _) if current.is_none() => {
            cannot("log volts and amps in both takes, or measure the rail before and after")
        }
        (Meter::NotRead, _) => cannot("that place is warmed from elsewhere: measure the rail's ohms or diode reading"),
    }
}

/// A short elsewhere that warms its place by a watt as the old one did would stand out from the noise by this many standard errors.
const WOULD_SHOW: f64 = 20.0;

fn would_show(site: &SiteRise) -> bool {
    site.before > WOULD_SHOW * site.after_se
}

/// The picture does not tell whether the old place makes heat.
fn without_heat(known: &Known<'_>, meter: Meter, heat: Heat, current: Option<f64>) -> Decision {
    let much = current.is_none_or(|ratio| ratio > MUCH_CURRENT);
    match (meter, heat) {
        // The same short as far as meter and supply tell, and the picture shows no other place.
        (Meter::Same, _) if much && known.moved.is_none() => (VerdictKind::StillThere, None),
        (Meter::Same, _) => cannot(
            "the rail is still shorted; whether at the same place the takes do not tell: film nearer, or at the next step of the plan",
        ),
        (_, Heat::Unclear) if known.moved.is_some() => {
            cannot("another place warms too near to the old one to tell them apart: film nearer")
        }
        (_, Heat::Unclear) => cannot("film longer, or at the next step of the plan: the rise is too near to its noise"),
        _ if current.is_none() => cannot("log volts and amps in both takes, or measure the rail before and after"),
        _ if !known.heat && much => cannot(
            "the current still flows: film the same face with the same camera to see whether it is the same place",
        ),
        _ => cannot("film the same part of the board again, or measure the rail"),
    }
}

/// What resistance and diode reading say together; where they say different things, that.
fn meter(bench: &Bench, because: &mut Vec<String>) -> Meter {
    let ohms = match (bench.ohms_before, bench.ohms_after) {
        (Some(b), Some(a)) => {
            because.push(format!("{} ohm after against {} ohm before", plain(a), plain(b)));
            if a >= OHMS_CLEARED * b {
                Meter::Clear
            } else if a <= OHMS_SAME * b {
                Meter::Same
            } else {
                Meter::Higher
            }
        }
        _ => Meter::NotRead,
    };
    let diode = match (bench.diode_before, bench.diode_after) {
        (Some(b), Some(a)) => {
            because.push(format!("diode reading {a:.3} V after against {b:.3} V before"));
            if a >= b + DIODE_CLEARED {
                Meter::Clear
            } else if (a - b).abs() <= DIODE_SAME {
                Meter::Same
            } else {
                Meter::Higher
            }
        }
        _ => Meter::NotRead,
    };
    match (ohms, diode) {
        (one, Meter::NotRead) | (Meter::NotRead, one) => one,
        (one, other) if one == other => one,
        (Meter::Higher, _) | (_, Meter::Higher) => Meter::Higher,
        _ => Meter::Contradicts,
    }
}

fn plain(value: f64) -> String {
    if !value.is_finite() {
        return "OL".to_owned();
    }
    // No meter reads a kilohm to the milliohm.
    let decimals = if value >= 100.0 { 0 } else { 3 };
    format!("{value:.decimals$}")
}
