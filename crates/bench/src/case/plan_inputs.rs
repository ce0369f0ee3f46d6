//! What the case and its drawing say about a rail, as the plan takes it. What was acknowledged and what was filmed is the
//! caller's to add: a connection's acknowledgements do not count for the next one.

use joulemark_locate::{
    board::Board,
    copper::Layer,
    limits::{Change, Inputs},
};

use super::Case;

impl Case {
    /// The inputs for a rail.
    pub fn plan_inputs(&self, board: &Board, rail: &str) -> Inputs {
        let stated = &self.plan;
        let net = self.net_ohms(rail, u32::MAX);
        let changes = stated.overrides.iter().filter(|o| o.rail == rail).map(|o| Change {
            id: o.rule.clone(),
            value: o.value,
            reason: o.reason.clone(),
            by: o.by.clone(),
        });
        Inputs {
            kind: stated.use_of(rail),
            least_volts: stated.lowest_of(rail),
            ohms: net.as_ref().map(|n| n.ohms),
            ohms_doubt: net.as_ref().map_or(0.0, |n| (n.high_ohms - n.ohms).max(n.ohms - n.low_ohms)),
            diode_volts: self.diode_volts(rail, u32::MAX),
            lead_ohms: self.lead_ohms,
            supply_least_volts: stated.supply_least_volts,
            supply_most_volts: stated.supply_most_volts,
            supply_most_amps: stated.supply_most_amps,
            leads_most_amps: stated.leads_most_amps,
            probe_most_amps: stated.probe_most_amps,
            trace_width_mm: stated.trace_width_mm,
            copper_um: stated.copper_um,
            trace_layer: if stated.trace_on_surface { Layer::Outer } else { Layer::Inner },
            changes: changes.collect(),
            ..Inputs::of_board(board, rail)
        }
    }
}
