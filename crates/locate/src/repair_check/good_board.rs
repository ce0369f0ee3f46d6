//! A board against a good one of the same model, both powered up alike: which parts warm more here.
//!
//! Nothing is scaled: at the same volts a healthy part takes the same power on both. Nothing of this proves a repair.

use joulemark_frames::Unit;
use nalgebra::Point2;

use super::{
    Difference, Electrical, Side,
    electrical::differ,
    incomparable,
    place::{Measured, Place, Scatter},
    site::{self, part_sigma_mm},
};
use crate::stats::normal_quantile;

/// Healthy boards of one model, and cameras set to other emissivities, differ by up to this share of a rise (common practice, no published
/// source).
const HEALTHY_SHARE: f64 = 0.2;
/// Confidence that none of the parts is named by chance.
const CONFIDENCE: f64 = 0.95;

/// A part on both boards.
#[derive(Clone, Debug, PartialEq)]
pub struct PartExcess {
    /// Designator.
    pub part: String,
    /// Mean rise over it here.
    pub here: Measured,
    /// On the good board.
    pub good: Measured,
    /// Here less there.
    pub excess: Measured,
    /// Of the excess, what the part makes itself: the ring around it taken off on both boards; `None` where a ring is outside the picture.
    pub own_excess: Option<Measured>,
    /// It warms more than on the good board, beyond what healthy boards differ by, and by heat of its own.
    pub more: bool,
}

/// What came out.
#[derive(Clone, Debug)]
pub struct AgainstGood {
    /// Amps here and on the good board.
    pub amps: (Option<f64>, Option<f64>),
    /// Volts here and on the good board.
    pub volts: (Option<f64>, Option<f64>),
    /// Every part in both pictures: those that warm more first, then by excess.
    pub parts: Vec<PartExcess>,
    /// This board less the good one; its `before` is this board, its `after` the good one.
    pub difference: Option<Difference>,
    /// What the values mean.
    pub unit: Unit,
    /// What it comes to, one sentence each.
    pub told: Vec<String>,
    /// What to bear in mind, one sentence each.
    pub notes: Vec<String>,
}

/// Compares a board with a good one. Boards that were not filmed at the same volts are not compared.
pub fn against_good(here: &Side<'_>, good: &Side<'_>) -> AgainstGood {
    let mut notes = Vec::new();
    let (amps, volts) = Electrical::readings(here, good);
    let mut blocked = incomparable(here, good);
    match volts {
        (Some(h), Some(g)) if blocked.is_none() && differ(h, g) => {
            blocked = Some(format!(
                "this board was filmed at {h:.2} V and the good one at {g:.2} V: film both at the same volts, heat is not compared"
            ));
        }
        (Some(_), Some(_)) => {}
        _ => notes.push("volts are not logged in both takes: the comparison holds at the same volts only".into()),
    }
    let comparable = blocked.is_none();
    let parts = if comparable { excesses(here, good) } else { Vec::new() };
    let difference = if comparable { site::difference(here, good, 1.0) } else { None };
    let told = told(&parts, amps, comparable);
    notes.extend(blocked);
    AgainstGood { amps, volts, parts, difference, unit: here.located.unit, told, notes }
}

fn excesses(here: &Side<'_>, good: &Side<'_>) -> Vec<PartExcess> {
    let Some(face) = here.scene.board.face(here.scene.face) else { return Vec::new() };
    let errors = normal_quantile(1.0 - (1.0 - CONFIDENCE) / face.parts.len().max(1) as f64);
    let mut rows: Vec<PartExcess> = face
        .parts
        .iter()
        .filter_map(|part| {
            let at = Point2::new(part.x_mm, part.y_mm);
            let sigma_mm = part_sigma_mm(part, [here, good]);
            let place = |side: &Side<'_>| Place::at(side, at, sigma_mm, Scatter::of(side, sigma_mm, at));
            let (h, g) = (place(here)?, place(good)?);
            let less = |a: Measured, b: Measured| Measured { value: a.value - b.value, se: a.se.hypot(b.se) };
            let excess = less(h.rise, g.rise);
            let own_excess = h.own.zip(g.own).map(|(h, g)| less(h, g));
            let healthy = HEALTHY_SHARE * g.rise.value.max(0.0);
            let more = excess.within(errors).0 > healthy && own_excess.is_none_or(|own| own.within(errors).0 > 0.0);
            Some(PartExcess { part: part.designator.clone(), here: h.rise, good: g.rise, excess, own_excess, more })
        })
        .collect();
    rows.sort_by(|a, b| b.more.cmp(&a.more).then(b.excess.value.total_cmp(&a.excess.value)));
    rows
}

fn told(parts: &[PartExcess], amps: (Option<f64>, Option<f64>), comparable: bool) -> Vec<String> {
    let mut told = Vec::new();
    if let (Some(h), Some(g)) = amps {
        told.push(format!("{h:.3} A here against {g:.3} A on the good board"));
    }
    let more: Vec<&str> = parts.iter().filter(|p| p.more).map(|p| p.part.as_str()).collect();
    told.push(match more[..] {
        _ if !comparable => "the heat of the two boards is not compared".to_owned(),
        [] => "no part warms more than on the good board, beyond what healthy boards differ by".to_owned(),
        [one] => format!("{one} warms more than on the good board"),
        [ref first @ .., last] => format!("{} and {last} warm more than on the good board", first.join(", ")),
    });
    told.push("this names what differs from one good board; it proves no repair".to_owned());
    told
}
