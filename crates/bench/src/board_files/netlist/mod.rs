//! IPC-D-356A netlists ("Bare Substrate Electrical Test Data Format", IPC 1998): nets, and parts from their pads.

mod parts;
mod record;

use std::{collections::HashMap, path::Path};

use record::{Feature, Parameter, Record};

use super::{
    Design, MOST_ITEMS, Net, contours,
    design::is_ground,
    text::{fault, text},
    units::{LengthUnit, UnitGuess},
};
use crate::case::BadInput;

/// Lengths are whole numbers of these, by the `P  UNITS` record (IPC-D-356A, parameter records): `CUST 0` and `CUST`
/// 0.0001 inch with degrees, `CUST 1` and `SI` 0.001 mm with degrees, `CUST 2` 0.0001 inch with radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    pub(super) mm: f64,
    pub(super) radians: bool,
}

impl Scale {
    fn of(unit: LengthUnit) -> Self {
        match unit {
            LengthUnit::Millimetre => Self { mm: 0.001, radians: false },
            LengthUnit::Mil | LengthUnit::Inch => Self { mm: 0.00254, radians: false },
        }
    }
}

/// Reads a netlist. The unit is the user's, the file's, or guessed from the span of the positions.
///
/// # Errors
/// A record whose columns are not those of the standard, with its line.
pub fn read(file: &Path, bytes: &[u8], unit: Option<LengthUnit>) -> anyhow::Result<Design> {
    let text = text(file, bytes)?;
    let mut stated = None;
    let mut aliases: HashMap<String, String> = HashMap::new();
    let (mut features, mut edges) = (Vec::new(), Vec::new());
    let (mut ended, mut unknown) = (false, 0);
    for (line, joined) in record::lines(&text) {
        if features.len() + edges.len() > MOST_ITEMS {
            return Err(fault(file, line, "more pads than a board has", "give one board's netlist"));
        }
        match record::parse(&joined).map_err(|(problem, remedy)| fault(file, line, problem, remedy))? {
            Record::Feature(feature) => features.push(feature),
            Record::Edge(pieces) => edges.extend(pieces),
            Record::Parameter(Parameter::Scale(scale)) => stated = Some(scale),
            Record::Parameter(Parameter::Alias(short, long)) => {
                aliases.insert(short, long);
            }
            Record::End => ended = true,
            Record::Unknown => unknown += 1,
            Record::Other => {}
        }
    }
    if features.is_empty() && edges.is_empty() {
        return Err(BadInput::at(file, "", "no test records (317, 327, 367) in it", "export the netlist again"));
    }
    let mut design = Design::default();
    let scale = match (unit, stated) {
        (Some(unit), _) => Scale::of(unit),
        (None, Some(scale)) => scale,
        (None, None) => {
            let guess = guess(&features);
            design.notes.extend(guess.note());
            Scale::of(guess.unit)
        }
    };
    for feature in &mut features {
        if let Some(long) = feature.net.as_ref().and_then(|n| aliases.get(n)) {
            feature.net = Some(long.clone());
        }
    }
    design.nets = nets(&features);
    parts::add(&mut design, &features, scale);
    let edges = edges.into_iter().map(|e| e.into_iter().map(|p| p.map(|v| v * scale.mm)).collect()).collect();
    contours::outline(&mut design, edges);
    if unknown > 0 {
        design.notes.push(format!("{unknown} records of a kind that is not known were left out"));
    }
    if !ended {
        design.notes.push("the end record (999) is missing: the file may be cut short".into());
    }
    Ok(design)
}

/// Nets with the pins of parts on them; ground and unconnected pads are none.
fn nets(features: &[Feature]) -> Vec<Net> {
    let mut nets: Vec<Net> = Vec::new();
    let mut at: HashMap<&str, usize> = HashMap::new();
    for feature in features.iter().filter(|f| f.part.is_some()) {
        let Some(name) = feature.net.as_deref().filter(|n| !is_ground(n)) else { continue };
        match at.get(name) {
            Some(&i) => nets[i].pins += 1,
            None => {
                at.insert(name, nets.len());
                nets.push(Net { name: name.to_owned(), pins: 1 });
            }
        }
    }
    nets
}

/// By the span as if it were 0.001 mm.
fn guess(features: &[Feature]) -> UnitGuess {
    let span = |get: fn(&Feature) -> f64| {
        let (low, high) =
            features.iter().map(get).fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        (high - low).max(0.0)
    };
    let span = span(|f| f.x).max(span(|f| f.y)) * 0.001;
    // In 0.0001 inch the same board spans 2.54 times less, which cannot be told from a smaller board.
    UnitGuess {
        unit: LengthUnit::Inch,
        reason: format!("0.0001 inch is the standard's own unit; in 0.001 mm the board would span {span:.0} mm"),
        stated: false,
    }
}
