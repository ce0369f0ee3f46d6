//! Before filming: what the take, or the last one, says about the next, and what only a person can answer.

use joulemark_locate::readiness::{self, Filmed, Standing};

use super::{super::session::Session, Readiness, ReadyItem};

/// The list, with the answers that were given.
pub(super) fn list(session: &Session) -> Vec<ReadyItem> {
    let view = session.view();
    let rail = &session.document.case.rail;
    let parts = session.face().into_iter().flat_map(|f| &f.parts).filter(|p| p.rails.contains(rail));
    let smallest =
        parts.map(|p| (p.designator.as_str(), p.width_mm.min(p.height_mm))).min_by(|a, b| a.1.total_cmp(&b.1));
    let filmed = Filmed {
        timeline: view.map(|v| &v.take.timeline),
        drift_k_per_min: view.and_then(|v| v.seen.drift_k_per_min),
        gain_jumps: view.and_then(|v| v.seen.gain_jumps),
        moves: None,
        mm_per_px: view.and_then(|v| v.located.as_ref()).map(|l| l.reach.mm_per_px),
        smallest,
    };
    let answered = &session.document.case.plan.ready;
    readiness::readiness(&filmed)
        .into_iter()
        .map(|point| ReadyItem {
            id: point.id.to_owned(),
            words: point.words,
            because: point.because,
            state: match point.standing {
                Standing::Good => Readiness::Good,
                Standing::Poor => Readiness::Poor,
                Standing::Unknown => Readiness::Unknown,
                Standing::Question => Readiness::Question(answered.iter().any(|a| a == point.id)),
            },
        })
        .collect()
}
