//! Parts that this picture cannot tell apart.

use std::collections::BTreeMap;

use super::Hypothesis;

/// Two parts are told apart when the position alone favours one by this factor. Below 3 evidence is "barely worth
/// mentioning" on the usual scale (Kass & Raftery, J. Am. Stat. Assoc. 90 (1995) 773).
const TOLD_APART: f64 = 3.0;
/// Parts with less than this share of the first one's weight are no rivals.
const RIVAL_SHARE: f64 = 0.05;

/// For each part in the group of the first suspect, the others in the order in which to lift them: most probable
/// first. Empty when the first stands alone, or when something off the drawing is likelier: then nothing is to be lifted.
/// `hypotheses` come most probable first.
pub(super) fn groups(hypotheses: &[Hypothesis<'_>], off_drawing: f64) -> BTreeMap<String, Vec<String>> {
    let Some(first) = hypotheses.first().filter(|h| h.probability > off_drawing) else { return BTreeMap::new() };
    let members: Vec<&Hypothesis<'_>> = hypotheses
        .iter()
        .filter(|h| {
            let factor = (first.evidence.log_bayes_position - h.evidence.log_bayes_position).abs();
            h.probability >= RIVAL_SHARE * first.probability && factor < TOLD_APART.ln()
        })
        .collect();
    if members.len() < 2 {
        return BTreeMap::new();
    }
    members
        .iter()
        .map(|h| {
            let others =
                members.iter().map(|m| m.part.designator.clone()).filter(|d| *d != h.part.designator).collect();
            (h.part.designator.clone(), others)
        })
        .collect()
}
