//! What the joint template fit adds to what the position says. Not calibrated yet: the share is a choice.

use super::Hypothesis;
use crate::ledger::SpotEvidence;

/// How much of the templates' logarithm of the Bayes factor counts, the rest being the position's: both see the same photons.
/// Common practice, no published source.
const TEMPLATE_SHARE: f64 = 0.5;

/// Reweighs hypotheses by the templates' evidence.
pub(super) fn weigh(
    hypotheses: &mut [Hypothesis<'_>],
    off_drawing: &mut f64,
    evidence: &SpotEvidence,
    board_density: f64,
) {
    let share = TEMPLATE_SHARE;
    let Some(best) = evidence.parts.iter().map(|p| p.log_gain).reduce(f64::max) else { return };
    let best = best.max(evidence.off_drawing);
    for h in hypotheses.iter_mut() {
        let position = h.evidence.log_bayes_position;
        let template = evidence
            .parts
            .iter()
            .find(|p| p.part == h.part.designator && p.face == h.face.name)
            .map_or(-60.0, |p| (p.log_gain - best).max(-60.0));
        h.weight = h.evidence.prior * board_density * ((1.0 - share) * position + share * template).exp();
    }
    *off_drawing = super::prior::OFF_DRAWING * board_density * (share * (evidence.off_drawing - best).max(-60.0)).exp();
}
