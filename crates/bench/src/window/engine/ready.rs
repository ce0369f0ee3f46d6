//! Before filming: what the take, or the last one, says about the next, and what only a person can answer.

use joulemark_locate::readiness::{self, Filmed, Standing};

use super::{super::session::Session, Readiness, ReadyItem};

/// The list, with the answers that were given.
pub(super) fn list(session: &Session) -> Vec<ReadyItem> {
    let view = session.view();
    let filmed = Filmed {
        timeline: view.map(|v| &v.take.timeline),
        drift_k_per_min: view.and_then(|v| v.seen.drift_k_per_min),
        gain_jumps: view.and_then(|v| v.seen.gain_jumps),
        // A picture with too little texture does not tell, and says so among the warnings.
        moves: view.and_then(|v| v.located.as_ref()).and_then(|l| {
            let moved = l.repairs.iter().any(|r| r.what == "motion");
            let unknown = l.warnings.iter().any(|w| w.contains("too little texture"));
            (moved || !unknown).then_some(moved)
        }),
        mm_per_px: view.and_then(|v| v.located.as_ref()).map(|l| l.reach.mm_per_px),
        smallest: smallest(session),
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

/// The part on the rail with the shortest side, and that side in millimetres.
pub(super) fn smallest(session: &Session) -> Option<(&str, f64)> {
    let rail = &session.document.case.rail;
    let parts = session.face().into_iter().flat_map(|f| &f.parts).filter(|p| p.rails.contains(rail));
    parts.map(|p| (p.designator.as_str(), p.width_mm.min(p.height_mm))).min_by(|a, b| a.1.total_cmp(&b.1))
}
