//! What the board drawing tells about a rail.

use super::{Back, Inputs, RailUse, Weakest};
use crate::board::{Board, PartKind};

impl Inputs {
    /// What the drawing knows about a rail; the rest is left unknown.
    pub fn of_board(board: &Board, rail: &str) -> Self {
        let nominal_volts = board.rail(rail).and_then(|r| r.nominal_volts);
        let joined = board.joined_rails(rail);
        let of = |name: &str| board.rail(name).and_then(|r| r.nominal_volts).map(f64::abs);
        let parts = || board.faces.iter().flat_map(|f| &f.parts);
        let on_it = |names: &[String]| joined.iter().find(|j| names.contains(&j.rail));
        let weakest = parts()
            .filter_map(|p| {
                let volts = p.max_volts?.abs();
                Some(Weakest { part: p.designator.clone(), volts, via: on_it(&p.rails)?.via.clone() })
            })
            .min_by(|a, b| a.volts.total_cmp(&b.volts));
        let joined_least = joined
            .iter()
            .skip(1)
            .filter_map(|j| Some((j.rail.clone(), of(&j.rail)?)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let is_joined = |name: &str| joined.iter().any(|j| j.rail == name);
        let others = |p: &crate::board::Part| p.rails.iter().filter(|r| !is_joined(r)).cloned().collect::<Vec<_>>();
        // A converter's output feeds its input backwards where that input is the higher rail.
        let higher = |name: &String| match (of(name), nominal_volts) {
            (Some(other), Some(own)) => other > own.abs(),
            _ => true,
        };
        let active = |kind| matches!(kind, PartKind::Ic | PartKind::Module | PartKind::Transistor);
        let back: Vec<String> = parts()
            .filter(|p| !p.series && active(p.kind) && on_it(&p.rails).is_some() && others(p).iter().any(higher))
            .map(|p| p.designator.clone())
            .collect();
        let touched = parts().any(|p| on_it(&p.rails).is_some());
        let core_behind = parts()
            .filter(|p| p.kind == PartKind::Transistor && on_it(&p.rails).is_some())
            .flat_map(others)
            .find(|name| of(name).is_some_and(|v| RailUse::of_volts(v) == RailUse::Core));
        Self {
            rail: rail.to_owned(),
            nominal_volts,
            weakest,
            joined_least,
            core_behind,
            back_driven: match (back.is_empty(), touched) {
                (false, _) => Back::Some(back),
                (true, true) => Back::None,
                (true, false) => Back::Unknown,
            },
            ..Self::default()
        }
    }
}
