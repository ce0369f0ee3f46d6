//! A take against its plan: from the log to the engine, and what it noticed in the window's words.

use joulemark_frames::Unit;
use joulemark_locate::{
    limits::Plan,
    watch::{Held, Watched, watch},
};

use super::{
    super::{map::readout, session::Session},
    EventView,
};
use crate::case::books::Books;

/// What the take shown did against the step in force.
pub(super) fn events(session: &Session, plan: &Plan) -> Vec<EventView> {
    let chosen = session.document.case.plan.step.min(plan.steps.len().saturating_sub(1));
    let (Some(view), Some(step)) = (session.view(), plan.steps.get(chosen)) else {
        return Vec::new();
    };
    let held = Held::new(step, &Books::in_force().limits);
    let located = view.located.as_ref();
    let hottest_c = hottest_c(view);
    let watched = Watched {
        timeline: &view.take.timeline,
        held: &held,
        hottest_c: hottest_c.as_deref(),
        warms: located.map(|l| !l.hot_spots.is_empty()),
        visible_watts: None,
        lead_ohms: session.document.case.lead_ohms,
    };
    watch(&watched)
        .into_iter()
        .map(|event| EventView {
            said: format!("{:.1} s: {}", event.time_s, event.words),
            frames: event.frames,
            words: event.words,
            stop: event.stop,
        })
        .collect()
}

/// The hottest pixel of every frame in degrees Celsius, where the take has temperatures with a known zero point.
fn hottest_c(view: &super::super::session::TakeView) -> Option<Vec<f64>> {
    if view.take.unit != Unit::Kelvin || !readout::absolute(view) {
        return None;
    }
    let most = view.seen.hottest_k.iter().map(|&k| f64::from(k) - readout::ZERO_CELSIUS_K);
    Some(most.collect())
}
