//! What follows from the ledger for the user, one sentence each.

use super::{LedgerInput, SpotEvidence};
use crate::{HeatLedger, power::Power};

/// This many standard errors apart is a difference.
const CLEAR_ERRORS: f64 = 2.0;

pub(super) fn hints(
    input: &LedgerInput<'_>,
    ledger: &HeatLedger,
    evidence: &[SpotEvidence],
    total: f64,
    total_se: f64,
) -> Vec<String> {
    let mut hints = Vec::new();
    match input.electrical {
        Power::Known(at_board) if at_board > 0.0 => {
            if total + CLEAR_ERRORS * total_se < at_board {
                hints.push(format!(
                    "{total:.2} of {at_board:.2} W are seen: most of the heat is not on this face; look at the other face or under \
                     a shield"
                ));
            } else if total - total_se > at_board {
                hints.push(format!(
                    "{total:.2} W are seen but only {at_board:.2} W reach the board: the board is thinner or holds less heat than \
                     assumed, or something else warms it"
                ));
            }
        }
        Power::AtMost(bound) if total - CLEAR_ERRORS * total_se > bound => {
            hints.push(format!(
                "{total:.2} W are seen but the supply gave {bound:.2} W at most: something else warms the board"
            ));
        }
        _ => {}
    }
    for entry in &ledger.entries {
        let stated = input.scene.board.part(&entry.part).and_then(|(_, p)| p.emissivity);
        if let Some(emissivity) = stated.filter(|e| *e < 0.3) {
            hints.push(format!(
                "{} is bare metal (emissivity {emissivity:.2}): its own temperature cannot be told; its watts come from \
                 the warmth around it alone",
                entry.part
            ));
        }
    }
    for spot in evidence {
        if let Some(best) = spot.parts.first().filter(|p| p.looks_bare) {
            hints.push(format!(
                "{} itself looks cool in the warmth around it: bare metal; the heat starts under it",
                best.part
            ));
        }
    }
    hints
}
