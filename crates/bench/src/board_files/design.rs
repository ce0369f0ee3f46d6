//! What a design file says: parts, nets, outline. Millimetres, x right and y **up**, the board seen from the top.

use std::{collections::HashMap, path::Path};

use joulemark_locate::board::PartKind;

use super::{MOST_ITEMS, MOST_MM};
use crate::case::BadInput;

/// The content of one design file, or of several joined.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Design {
    /// The board's outline, not closed by a repeated corner.
    pub outline: Option<Vec<[f64; 2]>>,
    /// Closed shapes within the outline: holes and cut-outs.
    pub cutouts: Vec<Vec<[f64; 2]>>,
    /// Parts.
    pub parts: Vec<DesignPart>,
    /// Nets other than ground.
    pub nets: Vec<Net>,
    /// What was assumed or left out, in words.
    pub notes: Vec<String>,
}

/// A part as a design file has it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DesignPart {
    /// Reference designator.
    pub designator: String,
    /// Which side it is mounted on.
    pub side: Side,
    /// Centre.
    pub x_mm: f64,
    /// Centre, upwards.
    pub y_mm: f64,
    /// Along its own axes; `None` where the file does not tell.
    pub size_mm: Option<[f64; 2]>,
    /// Anticlockwise, seen from the top.
    pub rotation_deg: f64,
    /// By the letters of its designator.
    pub kind: PartKind,
    /// Nets it sits on, ground left out; empty where the file does not tell.
    pub nets: Vec<String>,
}

/// Which side of the board.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Side {
    /// Stated as top, or not stated.
    #[default]
    Top,
    /// Stated as bottom.
    Bottom,
}

/// A net and how many pins sit on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Net {
    /// Its name in the file.
    pub name: String,
    /// Pins of parts on it.
    pub pins: usize,
}

impl Net {
    /// Whether the name is that of a supply rather than a signal, by the customs of schematics (no published source):
    /// it opens with `+`, `-` or a V-word, or holds volts such as `3V3`.
    pub fn looks_like_supply(&self) -> bool {
        let name = self.name.trim_start_matches('/').to_ascii_uppercase();
        let volts = name
            .as_bytes()
            .windows(2)
            .any(|w| (w[0].is_ascii_digit() && w[1] == b'V') || (w[0] == b'V' && w[1].is_ascii_digit()));
        volts
            || name.starts_with(['+', '-'])
            || ["VCC", "VDD", "VBAT", "VIN", "VOUT", "VBUS", "VSYS", "PWR", "VREG", "VEE"]
                .iter()
                .any(|w| name.contains(w))
    }
}

/// Ground is not listed in a board: its usual names, any case, and the same with a leading slash.
pub(crate) fn is_ground(net: &str) -> bool {
    let name = net.trim_start_matches('/').to_ascii_uppercase();
    matches!(name.as_str(), "0" | "0V" | "VSS" | "EARTH" | "GROUND" | "CHASSIS" | "SHIELD_GND")
        || name.strip_suffix("GND").is_some_and(|head| head.len() <= 1)
        || name
            .strip_prefix("GND")
            .is_some_and(|tail| tail.is_empty() || tail.starts_with(['_', '-', '.', '/']) || tail.len() == 1)
}

impl Design {
    /// Bounds of outline and part centres: left, bottom, right, top.
    pub fn bounds_mm(&self) -> Option<[f64; 4]> {
        let outline = self.outline.iter().flatten().copied();
        let parts = self.parts.iter().map(|p| [p.x_mm, p.y_mm]);
        bounds(outline.chain(parts))
    }

    /// Joins what several files of one design say: the first outline, all parts (what a later file adds to a part of
    /// the same designator fills gaps), all nets, all notes.
    pub fn join(designs: impl IntoIterator<Item = Self>) -> Self {
        let mut all = Self::default();
        let (mut part_at, mut net_at) = (HashMap::new(), HashMap::new());
        for design in designs {
            if all.outline.is_none() && design.outline.is_some() {
                all.outline = design.outline;
                all.cutouts = design.cutouts;
            }
            for part in design.parts {
                match part_at.get(&part.designator) {
                    Some(&at) => DesignPart::fill(&mut all.parts[at], part),
                    None => {
                        part_at.insert(part.designator.clone(), all.parts.len());
                        all.parts.push(part);
                    }
                }
            }
            for net in design.nets {
                match net_at.get(&net.name) {
                    Some(&at) => {
                        let known: &mut Net = &mut all.nets[at];
                        known.pins = known.pins.max(net.pins);
                    }
                    None => {
                        net_at.insert(net.name.clone(), all.nets.len());
                        all.nets.push(net);
                    }
                }
            }
            all.notes.extend(design.notes);
        }
        all
    }

    /// Refuses more than a board can hold and coordinates that no board has.
    pub(super) fn check(&self, file: &Path) -> anyhow::Result<()> {
        let corners = self.outline.as_ref().map_or(0, Vec::len) + self.cutouts.iter().map(Vec::len).sum::<usize>();
        if self.parts.len().max(self.nets.len()).max(corners) > MOST_ITEMS {
            return Err(BadInput::at(
                file,
                "",
                "more parts, nets or corners than a board has",
                "give one board's file",
            ));
        }
        let numbers =
            self.parts.iter().flat_map(|p| [p.x_mm, p.y_mm].into_iter().chain(p.size_mm.into_iter().flatten()));
        let corners = self.outline.iter().chain(&self.cutouts).flatten().flatten().copied();
        if let Some(bad) = numbers.chain(corners).find(|v| !v.is_finite() || v.abs() > MOST_MM) {
            return Err(BadInput::at(
                file,
                "",
                format!("a coordinate of {bad:.0} mm is on no board"),
                "state the right unit",
            ));
        }
        Ok(())
    }
}

impl DesignPart {
    fn fill(&mut self, other: Self) {
        self.size_mm = self.size_mm.or(other.size_mm);
        if self.kind == PartKind::Other {
            self.kind = other.kind;
        }
        for net in other.nets {
            if !self.nets.contains(&net) {
                self.nets.push(net);
            }
        }
    }
}

/// Left, bottom, right, top of points.
pub(super) fn bounds(points: impl IntoIterator<Item = [f64; 2]>) -> Option<[f64; 4]> {
    points.into_iter().fold(None, |b: Option<[f64; 4]>, [x, y]| {
        let [l, d, r, u] = b.unwrap_or([x, y, x, y]);
        Some([l.min(x), d.min(y), r.max(x), u.max(y)])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ground_and_supplies_are_known_by_name() {
        for ground in ["GND", "gnd", "/GND", "AGND", "PGND", "0V", "VSS", "GND_RF", "GNDA"] {
            assert!(is_ground(ground), "{ground}");
        }
        for other in ["SIGND2", "V12", "ENGINE_GND_SENSE", "BEGND", "GNDSENSE"] {
            assert!(!is_ground(other), "{other}");
        }
        let supply = |name: &str| Net { name: name.into(), pins: 2 }.looks_like_supply();
        assert!(["V12", "+3V3", "/V5", "VBAT_SW", "1V8", "-5V"].iter().all(|n| supply(n)));
        assert!(["SDA", "N$12", "RESET", "RXD"].iter().all(|n| !supply(n)));
    }

    #[test]
    fn joining_fills_gaps_and_keeps_the_first_word() {
        let part = |x_mm: f64, size: Option<[f64; 2]>, nets: &[&str]| DesignPart {
            designator: "C1".into(),
            x_mm,
            size_mm: size,
            nets: nets.iter().map(|n| (*n).to_owned()).collect(),
            ..DesignPart::default()
        };
        let a = Design { parts: vec![part(1.0, None, &[])], ..Design::default() };
        let b = Design { parts: vec![part(2.0, Some([1.0, 0.5]), &["V12"])], ..Design::default() };
        let all = Design::join([a, b]);
        assert_eq!(all.parts, [part(1.0, Some([1.0, 0.5]), &["V12"])]);
    }
}
