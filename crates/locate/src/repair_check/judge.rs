//! The verdict, from heat, current and readings.

use serde::{Deserialize, Serialize};

use super::{Bench, Electrical, SiteRise, electrical::NO_CURRENT_SHARE};
use crate::stats::normal_quantile;

/// The bound of "no rise": this share of the rise before.
const BOUND_SHARE: f64 = 0.05;
/// And this many standard errors of the rise after.
const BOUND_ERRORS: f64 = 2.0;
/// Confidence of the one-sided tests.
const CONFIDENCE: f64 = 0.95;
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
    pub(super) electrical: &'a Electrical,
    pub(super) bench: &'a Bench,
    pub(super) moved: Option<&'a (usize, Option<String>)>,
    /// Whether heat can be compared at all.
    pub(super) heat: bool,
}

/// What one kind of evidence says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Says {
    Gone,
    Same,
    Unclear,
    Nothing,
}

pub(super) fn judge(known: &Known<'_>) -> Verdict {
    let mut because = Vec::new();
    let meter = meter(known.bench, &mut because);
    let heat = known.site.map(|site| equivalence(site, &mut because));
    let current = known.electrical.ratio;
    if let (Some(ratio), (Some(b), Some(a))) = (current, known.electrical.amps) {
        because.push(format!("{a:.3} A after against {b:.3} A before, {:.1} % at equal volts", 100.0 * ratio));
    }
    let heat_says = heat.as_ref().map_or(Says::Nothing, |h| h.says);
    let (kind, settle) = decide(known, meter, heat_says, current);
    because.extend(settle);
    if kind == VerdictKind::GoneWithoutRepair {
        because.push(
            "no repair is on record: whatever it was may come back; look for the cause before the device leaves".into(),
        );
    }
    if let (VerdictKind::Moved, Some((_, Some(part)))) = (kind, known.moved) {
        because.push(format!("another place warms now, {part} first suspected"));
    }
    Verdict { kind, because, bound: heat.as_ref().map(|h| h.bound), after_between: heat.as_ref().map(|h| h.between) }
}

fn gone(known: &Known<'_>) -> VerdictKind {
    if known.bench.repaired.is_empty() { VerdictKind::GoneWithoutRepair } else { VerdictKind::Cleared }
}

/// The verdict, and what would settle one that cannot be told.
fn decide(known: &Known<'_>, meter: Says, heat: Says, current: Option<f64>) -> (VerdictKind, Option<String>) {
    let cannot = |settle: &str| (VerdictKind::CannotTell, Some(settle.to_owned()));
    match current {
        Some(ratio) if ratio < NO_CURRENT_SHARE => match (meter, heat) {
            (Says::Same, _) => cannot(
                "next to no current, but the meter still reads the short: check that the leads touch the rail, and film again",
            ),
            (_, Says::Same) => cannot(
                "that place warms although next to no current flows: look for another source of heat, and film again",
            ),
            // Leads that touch nothing draw nothing either.
            (Says::Gone, _) => (gone(known), None),
            _ => cannot(
                "next to no current, which leads that touch nothing show as well: measure the rail's ohms or diode reading",
            ),
        },
        Some(ratio) => match (heat, meter) {
            (Says::Same, _) => (VerdictKind::StillThere, None),
            (Says::Gone, _) if known.moved.is_some() => (VerdictKind::Moved, None),
            (Says::Gone, Says::Same) => {
                cannot("that place is cold, but the meter still reads a short: film the other face")
            }
            (Says::Gone, _) if ratio > MUCH_CURRENT => {
                cannot("that place is cold, but most of the current still flows: film the other face, or nearer")
            }
            (Says::Gone, _) => (gone(known), None),
            (_, Says::Same) if ratio > MUCH_CURRENT => (VerdictKind::StillThere, None),
            (Says::Unclear, _) => {
                cannot("film longer, or at the next step of the plan: the rise is too near to its noise")
            }
            _ if !known.heat && ratio > MUCH_CURRENT => cannot(
                "the current still flows: film the same face with the same camera to see whether it is the same place",
            ),
            _ => cannot("film the same part of the board again, or measure the rail"),
        },
        None => match (heat, meter) {
            (Says::Same, _) => (VerdictKind::StillThere, None),
            (Says::Gone, _) if known.moved.is_some() => (VerdictKind::Moved, None),
            (Says::Gone, Says::Gone) => (gone(known), None),
            (_, Says::Same) => (VerdictKind::StillThere, None),
            _ => cannot("log volts and amps in both takes, or measure the rail before and after"),
        },
    }
}

/// What resistance and diode reading say together; where they differ, nothing.
fn meter(bench: &Bench, because: &mut Vec<String>) -> Says {
    let ohms = match (bench.ohms_before, bench.ohms_after) {
        (Some(b), Some(a)) => {
            because.push(format!("{} ohm after against {} ohm before", plain(a), plain(b)));
            if a >= OHMS_CLEARED * b {
                Says::Gone
            } else if a <= OHMS_SAME * b {
                Says::Same
            } else {
                Says::Unclear
            }
        }
        _ => Says::Nothing,
    };
    let diode = match (bench.diode_before, bench.diode_after) {
        (Some(b), Some(a)) => {
            because.push(format!("diode reading {a:.3} V after against {b:.3} V before"));
            if a >= b + DIODE_CLEARED {
                Says::Gone
            } else if (a - b).abs() <= DIODE_SAME {
                Says::Same
            } else {
                Says::Unclear
            }
        }
        _ => Says::Nothing,
    };
    match (ohms, diode) {
        (one, Says::Nothing) | (Says::Nothing, one) => one,
        (one, other) if one == other => one,
        _ => Says::Unclear,
    }
}

fn plain(value: f64) -> String {
    if value.is_finite() { format!("{value:.3}") } else { "OL".to_owned() }
}

struct Equivalence {
    says: Says,
    bound: f64,
    between: (f64, f64),
}

/// One-sided tests against the bound on both sides of it.
fn equivalence(site: &SiteRise, because: &mut Vec<String>) -> Equivalence {
    let half = normal_quantile(CONFIDENCE) * site.after_se;
    let between = (site.after - half, site.after + half);
    let bound = (BOUND_SHARE * site.before).max(BOUND_ERRORS * site.after_se);
    // A place that was no warmer than its own noise proves nothing by being cold.
    let was_warm = site.before - normal_quantile(CONFIDENCE) * site.before_se > bound;
    let says = if between.0 > bound {
        Says::Same
    } else if between.1 < bound && was_warm {
        Says::Gone
    } else {
        Says::Unclear
    };
    because.push(format!(
        "rise there {:.3} \u{b1}{:.3} after against {:.3} \u{b1}{:.3} before; between {:.3} and {:.3} with 95 % confidence on each side, none \
         is below {bound:.3}",
        site.after, site.after_se, site.before, site.before_se, between.0, between.1
    ));
    Equivalence { says, bound, between }
}
