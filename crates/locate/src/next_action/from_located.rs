//! The answer of locating, in the short form that the next action needs.

use joulemark_frames::Unit;

use super::{Found, Lead};
use crate::located::{Located, SpotRole};

impl Found {
    /// In short, what was located.
    pub fn of(located: &Located) -> Self {
        let lead = located.leading().map(|(_, answer)| {
            let suspect = answer.suspects.first();
            // Something off the drawing that is more probable than any part leaves the part empty.
            let on_drawing = suspect.filter(|s| s.probability >= answer.off_drawing_probability);
            Lead {
                part: on_drawing.map(|s| s.part.clone()).unwrap_or_default(),
                probability: on_drawing.map_or(answer.off_drawing_probability, |s| s.probability),
                group: on_drawing.map(|s| s.group.clone()).unwrap_or_default(),
                at_probe: matches!(answer.role, SpotRole::AtProbe | SpotRole::OnPath { .. }),
                nothing_probability: answer.nothing_probability,
            }
        });
        let ledger = located.ledger.as_ref();
        Self {
            lead,
            nothing_probability: located.nothing_probability,
            explained: ledger.and_then(|l| l.explained_share.zip(l.explained_share_se)),
            relative: located.unit == Unit::Relative,
            too_coarse: located.reach.advice.clone(),
            warnings: located.warnings.clone(),
        }
    }
}
