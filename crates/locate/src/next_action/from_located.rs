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

#[cfg(test)]
mod tests {
    use ndarray::Array2;

    use super::*;
    use crate::located::{HeatLedger, Maps, Noise, Reach, SpotAnswer, Suspect};

    fn located(answers: Vec<SpotAnswer>) -> Located {
        let flat = || Array2::<f32>::zeros((2, 2));
        Located {
            take: "mast".into(),
            unit: Unit::Relative,
            face: "top".into(),
            maps: Maps { before: flat(), rise: flat(), rise_se: flat(), z: flat(), tau_s: flat() },
            noise: Noise { netd: 0.05, frames_before: 30, frames_during: 90 },
            hot_spots: Vec::new(),
            answers,
            reach: Reach { advice: Some("closer".into()), ..Reach::default() },
            electrical_watts: None,
            ledger: Some(HeatLedger {
                explained_share: Some(0.4),
                explained_share_se: Some(0.1),
                ..HeatLedger::default()
            }),
            repairs: Vec::new(),
            nothing_probability: 0.2,
            warnings: vec!["drift".into()],
        }
    }

    fn answer(part: &str, probability: f64, off_drawing_probability: f64, role: SpotRole) -> SpotAnswer {
        let suspect = Suspect { part: part.into(), probability, group: vec!["C12".into()], ..Suspect::default() };
        SpotAnswer { suspects: vec![suspect], off_drawing_probability, role, ..SpotAnswer::default() }
    }

    #[test]
    fn the_spot_to_act_on_and_what_stands_beside_it() {
        let found = Found::of(&located(vec![
            answer("J1", 0.9, 0.05, SpotRole::AtProbe),
            answer("C12", 0.7, 0.2, SpotRole::Own),
        ]));
        let lead = found.lead.expect("a lead");
        assert_eq!((lead.part.as_str(), lead.probability, lead.at_probe), ("C12", 0.7, false));
        assert_eq!(lead.group, ["C12"]);
        assert_eq!((found.explained, found.relative), (Some((0.4, 0.1)), true));
        assert_eq!((found.too_coarse.as_deref(), found.warnings.len()), (Some("closer"), 1));
    }

    #[test]
    fn off_the_drawing_only_the_probe_and_nothing() {
        let off = Found::of(&located(vec![answer("C12", 0.2, 0.7, SpotRole::Own)])).lead.expect("a lead");
        assert_eq!((off.part.as_str(), off.probability), ("", 0.7));
        assert!(off.group.is_empty());
        let probe = Found::of(&located(vec![answer("J1", 0.9, 0.05, SpotRole::AtProbe)])).lead.expect("a lead");
        assert!(probe.at_probe);
        assert_eq!(Found::of(&located(Vec::new())).lead, None);
    }
}
