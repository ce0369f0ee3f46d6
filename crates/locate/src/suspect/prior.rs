//! How likely each part is the short before the picture is looked at.
//!
//! The weights are common practice with no published source: on a shorted rail ceramic capacitors, protection diodes and
//! chips are found far more often than coils or connectors.

use std::collections::BTreeMap;

use crate::board::{Board, JoinedRail, PartKind};

/// Prior probability of something that is not on the drawing.
pub(super) const OFF_DRAWING: f64 = 0.05;
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

/// Priors of all parts, in an order of their own so that sums come out the same on every run; with [`OFF_DRAWING`] they sum to 1.
pub(super) fn of_board<'a>(board: &'a Board, joined: &[JoinedRail]) -> BTreeMap<&'a str, Prior> {
    let mut priors: BTreeMap<&str, Prior> = BTreeMap::new();
    for part in board.faces.iter().flat_map(|f| &f.parts) {
        let steps = joined.iter().filter(|j| part.rails.contains(&j.rail)).map(|j| j.via.len()).min();
        let reach = steps.map_or(OFF_RAIL, |n| JOINED.powi(n as i32));
        priors.insert(&part.designator, Prior { weight: reach * of_kind(part.kind), on_rail: steps.is_some() });
    }
    let total: f64 = priors.values().map(|p| p.weight).sum();
    if total > 0.0 {
        for prior in priors.values_mut() {
            prior.weight *= (1.0 - OFF_DRAWING) / total;
        }
    }
    priors
}
