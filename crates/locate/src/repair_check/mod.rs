//! The proof of a repair: a take before against a take after, in board millimetres.
//!
//! At the place where the heat started before, the rise after is tested for equivalence with none: "cleared" is said when it is below a
//! stated bound with 95 % confidence, never because a difference was not found (Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987)
//! 657). A repaired rail draws next to nothing; then current and meter readings decide and heat only confirms. Heat of another place spreads
//! to the old one: "still there" needs heat of that place's own.

mod electrical;
mod good_board;
mod heat;
mod judge;
mod place;
mod report;
mod site;
#[cfg(test)]
mod tests;

pub use electrical::{Electrical, Scaling};
pub use good_board::{AgainstGood, PartExcess, against_good};
pub use judge::{Verdict, VerdictKind};
pub use place::Measured;
pub use report::{ExcessEntry, PartEntry, Report, RiseEntry, SCHEMA, SiteEntry, SpotEntry};
pub use site::{PartRise, SiteRise, SpotRise};

use joulemark_frames::{Timeline, Unit};

use crate::{HotSpot, Located, Scene, SpotRole};

/// One take with its answer.
#[derive(Clone, Copy, Debug)]
pub struct Side<'a> {
    /// What was found in it.
    pub located: &'a Located,
    /// What it looks at.
    pub scene: &'a Scene<'a>,
    /// Its log.
    pub timeline: &'a Timeline,
}

/// Meter readings of the rail and what was done to the board.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bench {
    /// Resistance to ground before, leads taken off.
    pub ohms_before: Option<f64>,
    /// After.
    pub ohms_after: Option<f64>,
    /// Diode reading before, volts, red on ground.
    pub diode_before: Option<f64>,
    /// After.
    pub diode_after: Option<f64>,
    /// Parts that were lifted or replaced in between.
    pub repaired: Vec<String>,
    /// The supply's last digit of amps; a milliamp where not known.
    pub amps_resolution: Option<f64>,
}

/// What came out.
#[derive(Clone, Debug)]
pub struct RepairCheck {
    /// The answer.
    pub verdict: Verdict,
    /// Currents and how the takes were brought to the same power.
    pub electrical: Electrical,
    /// The place where the heat started before; `None` where nothing was found before or heat cannot be compared.
    pub site: Option<SiteRise>,
    /// A hot spot of the after-take that is not that place: its index there, and the part first suspected for it.
    pub moved: Option<(usize, Option<String>)>,
    /// Every hot spot of either take, with what both takes show there; those before first.
    pub spots: Vec<SpotRise>,
    /// Mean rise over each part, before and after, the largest change first.
    pub parts: Vec<PartRise>,
    /// Before less after, in board millimetres.
    pub difference: Option<Difference>,
    /// What the values mean.
    pub unit: Unit,
    /// What to bear in mind, one sentence each.
    pub notes: Vec<String>,
}

/// Maps of both takes and their difference over the face, indexed `[row, column]`; not a number outside the board or the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Board position of the first cell's centre.
    pub origin_mm: [f64; 2],
    /// From cell to cell.
    pub step_mm: f64,
    /// Rise before.
    pub before: ndarray::Array2<f32>,
    /// Rise after, brought to the power before.
    pub after: ndarray::Array2<f32>,
    /// Rise before less rise after, brought to the power before.
    pub rise: ndarray::Array2<f32>,
    /// Its standard error.
    pub se: ndarray::Array2<f32>,
}

/// Why the heat of two takes cannot be compared.
fn incomparable(before: &Side<'_>, after: &Side<'_>) -> Option<String> {
    let (b, a) = (before.located, after.located);
    if b.unit != a.unit {
        return Some("one take carries temperatures and the other does not: heat is not compared".into());
    }
    if b.unit == Unit::Relative {
        return Some("relative takes have no scale in common: heat is not compared".into());
    }
    if b.face != a.face {
        return Some(format!("the takes show different faces ({} and {}): heat is not compared", b.face, a.face));
    }
    if before.scene.rail != after.scene.rail {
        return Some(format!(
            "the takes inject different rails ({} and {}): heat is not compared",
            before.scene.rail, after.scene.rail
        ));
    }
    let pulsed = |l: &Located| l.hot_spots.iter().any(|s| s.pulse.is_some());
    if pulsed(b) != pulsed(a) && !a.hot_spots.is_empty() {
        return Some("one take is pulsed and the other is not: heat is not compared".into());
    }
    None
}

/// Compares two takes of one device, or of two devices of the same board model.
pub fn check(before: &Side<'_>, after: &Side<'_>, bench: &Bench) -> RepairCheck {
    let mut notes = Vec::new();
    let electrical = Electrical::of(before, after, bench, &mut notes);
    let blocked = incomparable(before, after);
    notes.extend(blocked.clone());
    let leading = repaired_spot(before, bench).or_else(|| before.located.leading().map(|(i, _)| i));
    let leading = leading.filter(|_| blocked.is_none());
    let scale = electrical.scaling.factor();
    let spot = leading.map(|i| &before.located.hot_spots[i]);
    let site = spot.and_then(|spot| site::site(before, after, before, spot, scale));
    if spot.is_some() && site.is_none() {
        notes.push("the place is outside the after-take's picture: film the same part of the board".into());
    }
    let moved = spot.and_then(|spot| elsewhere(after, spot));
    let warm_before =
        moved.as_ref().is_some_and(|(j, _)| warmed_already(before, after, &after.located.hot_spots[*j], scale));
    let own_spot = spot.and_then(|spot| at_place(after, spot));
    if let (Some(i), Some(j)) = (leading, own_spot) {
        notes.extend(another_suspect(before, i, after, j));
    }
    let heat = blocked.is_none();
    let spots = if heat { site::spots(before, after, scale) } else { Vec::new() };
    let parts = if heat { site::parts(before, after, scale) } else { Vec::new() };
    let difference = if heat { site::difference(before, after, scale) } else { None };
    let verdict = judge::judge(&judge::Known {
        site: site.as_ref(),
        own_spot: own_spot.is_some(),
        electrical: &electrical,
        bench,
        moved: moved.as_ref(),
        warm_before,
        heat,
    });
    RepairCheck { verdict, electrical, site, moved, spots, parts, difference, unit: before.located.unit, notes }
}

/// Hot spots that are more likely the short than nothing, and neither the feeding track nor the probe's contact; strongest first.
fn shorts<'a>(side: &Side<'a>) -> impl Iterator<Item = (usize, &'a HotSpot)> {
    let located = side.located;
    let short = |i: usize| {
        let answer = &located.answers[i];
        answer.nothing_probability < 0.5 && matches!(answer.role, SpotRole::Own | SpotRole::End)
    };
    located.hot_spots.iter().enumerate().filter(move |(i, _)| short(*i))
}

/// The take's hot spot that a repaired part is first suspected for: the place that the repair is to be proven at. Loads and a second short may
/// well be warmer.
fn repaired_spot(before: &Side<'_>, bench: &Bench) -> Option<usize> {
    // A repair may be told in words, "C12 replaced".
    let named = |part: &str| {
        let is_word = |c: char| c.is_alphanumeric() || c == '_';
        bench.repaired.iter().any(|r| r == part || r.split(|c| !is_word(c)).any(|word| word == part))
    };
    shorts(before).map(|(i, _)| i).find(|&i| before.located.answers[i].suspects.first().is_some_and(|s| named(&s.part)))
}

/// Less than this share of its heat after is no heat of the place's own before.
const NEW_SHARE: f64 = 0.25;

/// Whether the place of a hot spot after made heat before as well, compared as filmed.
fn warmed_already(before: &Side<'_>, after: &Side<'_>, spot: &HotSpot, scale: f64) -> bool {
    let Some(rise) = site::site(before, after, after, spot, scale) else { return false };
    let (Some(old), Some(new)) = (rise.own_before, rise.own_after) else { return false };
    old.value - 2.0 * old.se > NEW_SHARE * new.value / scale
}

/// The after-take's own hot spot at the site.
fn at_place(after: &Side<'_>, site: &HotSpot) -> Option<usize> {
    shorts(after).find(|(_, spot)| site::same_place(spot, site)).map(|(i, _)| i)
}

/// The strongest hot spot of the after-take that is not at the site, and the part first suspected for it.
fn elsewhere(after: &Side<'_>, site: &HotSpot) -> Option<(usize, Option<String>)> {
    shorts(after)
        .find(|(_, spot)| !site::same_place(spot, site))
        .map(|(i, _)| (i, after.located.answers[i].suspects.first().map(|s| s.part.clone())))
}

/// Says so where the same place now points to another part: two that stand closer than the takes can tell.
fn another_suspect(before: &Side<'_>, i: usize, after: &Side<'_>, j: usize) -> Option<String> {
    let first = |side: &Side<'_>, i: usize| side.located.answers[i].suspects.first().map(|s| s.part.clone());
    let (old, new) = (first(before, i)?, first(after, j)?);
    (old != new).then(|| format!("{new} is first suspected there now, {old} was before: look at both"))
}
