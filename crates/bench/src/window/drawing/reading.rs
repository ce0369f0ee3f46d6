//! What is known about a part or near a hot spot: rails, limits, watts, distances.

use egui::{RichText, Ui};
use joulemark_locate::board::{Board, Footprint, Part};
use nalgebra::Point2;

use super::super::session::Session;
use crate::{
    case::reading::{Quantity, shown},
    theme::{Palette, SMALL},
};

/// Parts listed near a hot spot.
const NEAREST: usize = 3;

/// What is known about a part, one fact a line.
pub fn facts(session: &Session, part: &Part) -> Vec<String> {
    let mut said = vec![format!("{}, {}", part.designator, part.kind.words())];
    for name in &part.rails {
        let volts = session.board.rail(name).and_then(|r| r.nominal_volts);
        said.push(format!("on {name}, {}", volts.map_or("nominal unknown".to_owned(), |v| format!("nominal {v} V"))));
        said.extend(measured(session, name));
    }
    if part.rails.is_empty() {
        said.push("on no rail that is drawn".to_owned());
    }
    if part.series {
        said.push("joins its rails at DC".to_owned());
    }
    if let Some(volts) = part.max_volts {
        said.push(format!("bears at most {volts} V"));
    }
    let located = session.view().and_then(|v| v.located.as_ref());
    let ledger = located.and_then(|l| l.ledger.as_ref());
    if let Some(entry) = ledger.and_then(|l| l.entries.iter().find(|e| e.part == part.designator)) {
        said.push(format!("gives off {}", super::super::words::measured(entry.watts, entry.watts_se, "W")));
    }
    if let Some((spot, suspect)) = session.view().and_then(|v| v.suspect(&part.designator)) {
        let percent = super::super::words::percent(suspect.probability);
        said.push(format!("{percent} suspected of hot spot {}", spot + 1));
    }
    said
}

/// The latest readings of a rail: "V12 reads 0.2 ohms; 4 mV, diode, red on ground".
fn measured(session: &Session, rail: &str) -> Option<String> {
    let case = &session.document.case;
    let latest = |quantity: Quantity| {
        let value = case.latest_to_ground(rail, quantity, u32::MAX).first()?.value;
        let text = shown(value, quantity);
        let told =
            if quantity == Quantity::Ohms && value.is_some() { text } else { format!("{text}, {}", quantity.words()) };
        Some(told)
    };
    let told: Vec<String> = Quantity::ALL.into_iter().filter_map(latest).collect();
    (!told.is_empty()).then(|| format!("{rail} reads {}", told.join("; ")))
}

/// The same, for the panel and under the pointer.
pub fn part(ui: &mut Ui, session: &Session, part: &Part) {
    for (i, fact) in facts(session, part).into_iter().enumerate() {
        let text = RichText::new(fact).size(SMALL);
        ui.label(if i == 0 { text.strong() } else { text.color(Palette::of(ui).weak) });
    }
}

/// The parts nearest to a point of a face, with their distances; those that cover it have none.
pub fn nearest(board: &Board, face: &str, at_mm: Point2<f64>) -> Vec<(String, f64)> {
    let parts = board.face(face).into_iter().flat_map(|f| &f.parts);
    let mut all: Vec<(String, f64)> =
        parts.map(|p| (p.designator.clone(), Footprint::from(p).distance_mm(at_mm))).collect();
    all.sort_by(|a, b| a.1.total_cmp(&b.1));
    all.truncate(NEAREST);
    all
}

/// "C12 0.0 mm, C13 2.1 mm".
pub fn nearest_in_words(near: &[(String, f64)]) -> String {
    near.iter().map(|(name, mm)| format!("{name} {mm:.1} mm")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use joulemark_locate::board::Face;

    use super::*;

    #[test]
    fn distances_are_to_the_edge_and_sorted() {
        let part =
            |name: &str, x_mm| Part { designator: name.into(), x_mm, width_mm: 2.0, height_mm: 2.0, ..Part::default() };
        let face = Face { name: "top".into(), parts: vec![part("C2", 9.0), part("C1", 0.0)], ..Face::default() };
        let board = Board { faces: vec![face], ..Board::default() };
        let near = nearest(&board, "top", Point2::new(5.0, 0.0));
        assert_eq!(near, [("C2".to_owned(), 3.0), ("C1".to_owned(), 4.0)]);
        assert_eq!(nearest_in_words(&near), "C2 3.0 mm, C1 4.0 mm");
    }
}
