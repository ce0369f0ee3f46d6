//! A millivolt survey of a hard short: a fixed current in at the rail, out at ground, and the drop to ground at points of
//! the rail. The drop falls along the way of the current and stays the same beyond the fault and on branches that carry
//! none, so the smallest drop is nearest the fault, and points that tie with it are as near as this meter can tell.

mod four_wire;

pub use four_wire::{Reversed, reversed};

/// A survey is for shorts below this; above it heat tells more. Common practice, no published source.
pub const BELOW_OHMS: f64 = 0.05;
/// The most current. Common practice, no published source: a trace or via in the way stays cool.
pub const MOST_AMPS: f64 = 1.0;
/// What a hand-held meter shows in its lowest range, in millivolts. Common practice, no published source.
pub const USUAL_RESOLUTION_MV: f64 = 0.1;

/// What the hands must know, while a survey is made.
pub const CAUTIONS: [&str; 4] = [
    "Battery and coin cell out, nothing else connected, capacitors discharged.",
    "Set the supply to at most 0.3 V and at most 1 A with its output off; attach; then output on.",
    "The meter only reads volts: its leads carry no current and do not touch the feeding tips.",
    "Stop when anything warms. Local rules and licensed practice come first.",
];

/// A point that was touched.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct SurveyPoint {
    /// The face that it is on.
    pub face: String,
    /// Right of the face's origin.
    pub x_mm: f64,
    /// Down from the face's origin.
    pub y_mm: f64,
    /// Drop to ground in millivolts; `None` while it was not measured.
    #[serde(default)]
    pub millivolts: Option<f64>,
}

/// Points that the meter cannot tell apart.
#[derive(Clone, Debug, PartialEq)]
pub struct TiedPoints {
    /// Indices of the points, in the order of their drops.
    pub points: Vec<usize>,
    /// Smallest drop among them.
    pub from_mv: f64,
    /// Largest drop among them.
    pub to_mv: f64,
    /// From these points to ground along the current, in ohms: at least this.
    pub from_ohms: f64,
    /// At most this.
    pub to_ohms: f64,
}

/// What a survey says.
#[derive(Clone, Debug, PartialEq)]
pub struct Surveyed {
    /// Groups, the nearest to the fault first. Points without a drop are in none.
    pub groups: Vec<TiedPoints>,
    /// What to do next or to bear in mind, a sentence each.
    pub notes: Vec<String>,
}

/// Ranks points by their drop. `resolution_mv` is the last figure of the meter.
///
/// # Errors
/// One line: the current is missing or above [`MOST_AMPS`], the resolution is not above zero, or a value is not finite.
pub fn surveyed(points: &[SurveyPoint], amps: f64, resolution_mv: f64) -> Result<Surveyed, String> {
    if !(amps.is_finite() && amps > 0.0) {
        return Err("current: type the amps that the supply holds, above zero".into());
    }
    if amps > MOST_AMPS {
        return Err(format!("current: {amps} A is more than {MOST_AMPS} A, turn the supply down"));
    }
    if !(resolution_mv.is_finite() && resolution_mv > 0.0) {
        return Err("meter resolution: type its last figure in millivolts, above zero".into());
    }
    for (i, point) in points.iter().enumerate() {
        let finite = [point.x_mm, point.y_mm, point.millivolts.unwrap_or(0.0)].iter().all(|v| v.is_finite());
        if !finite {
            return Err(format!("point {}: type numbers for place and millivolts", i + 1));
        }
    }
    let mut order: Vec<(usize, f64)> =
        points.iter().enumerate().filter_map(|(i, p)| Some((i, p.millivolts?))).collect();
    let mut notes = Vec::new();
    // All drops have one sign. Where most are negative, the meter's leads are the other way round.
    let negative = order.iter().filter(|(_, mv)| *mv < -resolution_mv).count();
    let positive = order.iter().filter(|(_, mv)| *mv > resolution_mv).count();
    if negative > positive {
        order.iter_mut().for_each(|(_, mv)| *mv = -*mv);
        notes.push("The drops are negative: the meter's leads were taken as the other way round.".to_owned());
    }
    if negative.min(positive) > 0 {
        notes.push(
            "Drops of both signs: one reading is wrong, or the feeding tips are on another rail. Measure again.".into(),
        );
    }
    order.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    let groups = groups(&order, amps, resolution_mv);
    notes.extend(advice(points, &order, &groups, resolution_mv, amps));
    Ok(Surveyed { groups, notes })
}

/// Two displays that differ by one step may stand for the same volts, so a group spans one step from its first point.
fn groups(order: &[(usize, f64)], amps: f64, resolution_mv: f64) -> Vec<TiedPoints> {
    // A hair more, so that 1.2 and 1.3 are one step of 0.1 apart in binary too.
    let step_mv = resolution_mv * (1.0 + 1e-6);
    let mut groups: Vec<TiedPoints> = Vec::new();
    for &(index, mv) in order {
        match groups.last_mut() {
            Some(group) if mv - group.from_mv <= step_mv => {
                group.points.push(index);
                group.to_mv = mv;
            }
            _ => {
                groups.push(TiedPoints { points: vec![index], from_mv: mv, to_mv: mv, from_ohms: 0.0, to_ohms: 0.0 });
            }
        }
    }
    let ohms = |mv: f64| (mv * 1e-3 / amps).max(0.0);
    for group in &mut groups {
        group.from_ohms = ohms(group.from_mv - 0.5 * resolution_mv);
        group.to_ohms = ohms(group.to_mv + 0.5 * resolution_mv);
    }
    groups
}

fn advice(
    points: &[SurveyPoint],
    order: &[(usize, f64)],
    groups: &[TiedPoints],
    resolution_mv: f64,
    amps: f64,
) -> Vec<String> {
    let (Some((first, _)), Some((last, most_mv)), Some(nearest)) = (order.first(), order.last(), groups.first()) else {
        return vec!["No point was measured yet: begin where the current is fed in.".to_owned()];
    };
    if order.len() < 3 {
        return vec!["Measure at least three points along the rail: fewer show no direction.".to_owned()];
    }
    let mut notes = Vec::new();
    if groups.len() == 1 {
        let remedy = if amps < MOST_AMPS { "raise the current to at most 1 A" } else { "take a finer meter, or film" };
        notes.push(format!("All points are within the meter's {resolution_mv} mV: {remedy}."));
        return notes;
    }
    if most_mv * 1e-3 / amps >= BELOW_OHMS {
        notes.push("More than 50 milliohms at the far end: filming may tell more.".to_owned());
    }
    if nearest.points.len() > 1 {
        notes.push(format!(
            "{} points tie: the fault is near one of them, or they lie beyond it or on a branch without current.",
            nearest.points.len()
        ));
    } else if same_face_and_outermost(points, *first, *last) {
        notes.push("The smallest drop is the outermost point: go on past it until the drop stops falling.".to_owned());
    }
    notes
}

/// Whether no measured point of the face lies further from the largest drop than the smallest one does.
fn same_face_and_outermost(points: &[SurveyPoint], smallest: usize, largest: usize) -> bool {
    let from = &points[largest];
    let distance = |p: &SurveyPoint| (p.x_mm - from.x_mm).hypot(p.y_mm - from.y_mm);
    let on_face = |p: &&SurveyPoint| p.face == from.face && p.millivolts.is_some();
    points[smallest].face == from.face
        && points.iter().filter(on_face).all(|p| distance(p) <= distance(&points[smallest]))
}

#[cfg(test)]
mod tests;
