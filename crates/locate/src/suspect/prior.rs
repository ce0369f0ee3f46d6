//! How likely each part is the short before the picture is looked at.
//!
//! The weights are common practice with no published source: on a shorted rail ceramic capacitors, protection diodes and
//! chips are found far more often than coils or connectors.

use std::collections::BTreeMap;

use super::earlier::{EarlierCases, TABLE_CASES, smoothed};
use crate::board::{Board, JoinedRail, PartKind};

/// Prior probability of something that is not on the drawing.
const OFF_DRAWING: f64 = 0.05;
/// Weight of a part on the face behind against the same part in front: it would have to be seen through the board.
pub(super) const BEHIND: f64 = 0.1;
/// Weight of a part on a rail joined at DC, per part between.
const JOINED: f64 = 0.8;
/// Weight of a part that sits on no rail which the current can reach: the drawing would have to be wrong.
const OFF_RAIL: f64 = 0.01;

/// Prior of one part.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Prior {
    pub(super) weight: f64,
    pub(super) on_rail: bool,
}

fn of_kind(kind: PartKind) -> f64 {
    match kind {
        PartKind::Capacitor => 1.0,
        PartKind::Diode | PartKind::Ic => 0.8,
        PartKind::Transistor => 0.7,
        PartKind::Module => 0.5,
        PartKind::Connector | PartKind::Other => 0.2,
        PartKind::Resistor | PartKind::Crystal => 0.1,
        PartKind::Inductor | PartKind::Ferrite | PartKind::Fuse | PartKind::Shield => 0.05,
        PartKind::TestPoint => 0.02,
    }
}

/// Priors of all parts, and of something that is on no drawing. They sum to 1.
pub(super) struct Priors<'a> {
    /// By designator: in an order of their own, so that sums come out the same on every run.
    pub(super) parts: BTreeMap<&'a str, Prior>,
    pub(super) off_drawing: f64,
}

impl<'a> Priors<'a> {
    /// From what kind of part it is and where it sits, and from what was found in earlier cases.
    pub(super) fn of_board(board: &'a Board, joined: &[JoinedRail], earlier: &EarlierCases) -> Self {
        let mut parts: BTreeMap<&str, Prior> = BTreeMap::new();
        for part in board.faces.iter().flat_map(|f| &f.parts) {
            let steps = joined.iter().filter(|j| part.rails.contains(&j.rail)).map(|j| j.via.len()).min();
            let reach = steps.map_or(OFF_RAIL, |n| JOINED.powi(n as i32));
            parts.insert(&part.designator, Prior { weight: reach * of_kind(part.kind), on_rail: steps.is_some() });
        }
        let total: f64 = parts.values().map(|p| p.weight).sum();
        if total > 0.0 {
            for prior in parts.values_mut() {
                prior.weight *= (1.0 - OFF_DRAWING) / total;
            }
        }
        let mut priors = Self { parts, off_drawing: OFF_DRAWING };
        if total > 0.0 && earlier.cases > 0 {
            priors.learn(earlier);
        }
        priors
    }

    fn learn(&mut self, earlier: &EarlierCases) {
        let on_drawing: Vec<f64> = self.parts.keys().map(|part| earlier.share(part)).collect();
        // A part that was found before and is not on this drawing counts for what is not on the drawing.
        let elsewhere = (earlier.cases as f64 - on_drawing.iter().sum::<f64>()).max(0.0);
        let weights: Vec<f64> = self.parts.values().map(|p| p.weight).chain([self.off_drawing]).collect();
        let counts: Vec<f64> = on_drawing.into_iter().chain([elsewhere]).collect();
        let learnt = smoothed(&weights, &counts, TABLE_CASES);
        for (prior, weight) in self.parts.values_mut().zip(&learnt) {
            prior.weight = *weight;
        }
        self.off_drawing = learnt.last().copied().unwrap_or(self.off_drawing);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::{Face, Part};

    fn board() -> Board {
        let part = |designator: &str, kind, rail: &str| Part {
            designator: designator.into(),
            kind,
            rails: vec![rail.into()],
            ..Part::default()
        };
        let parts = vec![
            part("C12", PartKind::Capacitor, "V12"),
            part("C13", PartKind::Capacitor, "V12"),
            part("L1", PartKind::Inductor, "V12"),
            part("U9", PartKind::Ic, "V3"),
        ];
        Board { faces: vec![Face { parts, ..Face::default() }], ..Board::default() }
    }

    fn priors(cases: &[&[&str]]) -> (BTreeMap<String, f64>, f64) {
        let board = board();
        let cases: Vec<Vec<String>> = cases.iter().map(|c| c.iter().map(|p| (*p).to_owned()).collect()).collect();
        let earlier = EarlierCases::of(cases.iter().map(Vec::as_slice));
        let priors = Priors::of_board(&board, &board.joined_rails("V12"), &earlier);
        (priors.parts.iter().map(|(part, p)| ((*part).to_owned(), p.weight)).collect(), priors.off_drawing)
    }

    /// By hand: weights 1, 1, 0.05 and 0.8 x 0.01 make 2.058, so C12 has 0.95 / 2.058; three cases against ten.
    #[test]
    fn earlier_cases_move_the_table_and_the_sum_stays() {
        let (table, off) = priors(&[]);
        let c12 = 0.95 / 2.058;
        assert!((table["C12"] - c12).abs() < 1e-12 && (off - 0.05).abs() < 1e-15);
        let (learnt, off) = priors(&[&["C12"], &["C12"], &["R77"]]);
        assert!((learnt["C12"] - (2.0 + 10.0 * c12) / 13.0).abs() < 1e-12, "{learnt:?}");
        assert!((learnt["C13"] - 10.0 * c12 / 13.0).abs() < 1e-12, "{learnt:?}");
        assert!((off - (1.0 + 0.5) / 13.0).abs() < 1e-12, "R77 is not on this drawing: {off}");
        assert!((learnt.values().sum::<f64>() + off - 1.0).abs() < 1e-12);
    }
}
