//! The proof of a repair: a take before against a take after, in board millimetres.
//!
//! At the place where the heat started before, the rise after is tested for equivalence with none: "cleared" is said when it is below a
//! stated bound with 95 % confidence, never because a difference was not found (Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987)
//! 657). A repaired rail draws next to nothing; then current and meter readings decide and heat only confirms.

mod electrical;
mod judge;
mod report;
mod site;
#[cfg(test)]
mod tests;

pub use electrical::{Electrical, Scaling};
pub use judge::{Verdict, VerdictKind};
pub use report::{PartEntry, Report, SCHEMA, SiteEntry};
pub use site::{PartRise, SiteRise};

use joulemark_frames::{Timeline, Unit};
use nalgebra::Point2;

use crate::{Located, Scene};

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
    /// Mean rise over each part, before and after, the largest change first.
    pub parts: Vec<PartRise>,
    /// Before less after, in board millimetres.
    pub difference: Option<Difference>,
    /// What the values mean.
    pub unit: Unit,
    /// What to bear in mind, one sentence each.
    pub notes: Vec<String>,
}

/// Map of the difference over the face, indexed `[row, column]`; not a number outside the board or either picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    /// Board position of the first cell's centre.
    pub origin_mm: [f64; 2],
    /// From cell to cell.
    pub step_mm: f64,
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
    let leading = before.located.leading().map(|(i, _)| i).filter(|_| blocked.is_none());
    let scale = electrical.scaling.factor();
    let spot = leading.map(|i| &before.located.hot_spots[i]);
    let site = spot.and_then(|spot| site::site(before, after, spot, scale));
    if spot.is_some() && site.is_none() {
        notes.push("the place is outside the after-take's picture: film the same part of the board".into());
    }
    let moved = spot.and_then(|spot| moved(after, spot.centre_mm, spot.covariance_mm2.trace().sqrt()));
    let parts = if blocked.is_none() { site::parts(before, after, scale) } else { Vec::new() };
    let difference = if blocked.is_none() { site::difference(before, after, scale) } else { None };
    let verdict = judge::judge(&judge::Known {
        site: site.as_ref(),
        electrical: &electrical,
        bench,
        moved: moved.as_ref(),
        heat: blocked.is_none(),
    });
    RepairCheck { verdict, electrical, site, moved, parts, difference, unit: before.located.unit, notes }
}

/// A hot spot nearer than this to the site is the same one, millimetres.
const SAME_PLACE_MM: f64 = 1.5;

/// The strongest hot spot of the after-take that is not the site, and that is more likely the short than nothing.
fn moved(after: &Side<'_>, site_mm: Point2<f64>, site_sigma_mm: f64) -> Option<(usize, Option<String>)> {
    let spots = after.located.hot_spots.iter().zip(&after.located.answers).enumerate();
    spots
        .filter(|(_, (_, answer))| answer.nothing_probability < 0.5)
        .find(|(_, (spot, _))| {
            let doubt_mm = site_sigma_mm.hypot(spot.covariance_mm2.trace().sqrt());
            (spot.centre_mm - site_mm).norm() > SAME_PLACE_MM.max(3.0 * doubt_mm)
        })
        .map(|(i, (_, answer))| (i, answer.suspects.first().map(|s| s.part.clone())))
}
