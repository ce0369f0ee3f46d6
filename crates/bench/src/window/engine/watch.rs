//! A take against its plan: from the log to the engine, and what it noticed in the window's words.

use joulemark_frames::Unit;
use joulemark_locate::{
    limits::Plan,
    watch::{Held, Sight, Watched, visible_watts, watch},
};

use super::{
    super::{map::readout, session::Session},
    EventView, ready,
};
use crate::case::books::Books;

/// What the take shown did against the step in force.
pub(super) fn events(session: &Session, plan: &Plan, hottest_c: Option<&[f64]>) -> Vec<EventView> {
    let chosen = session.document.case.plan.step.min(plan.steps.len().saturating_sub(1));
    let (Some(view), Some(step)) = (session.view(), plan.steps.get(chosen)) else {
        return Vec::new();
    };
    let held = Held::new(step, &Books::in_force().limits);
    let located = view.located.as_ref();
    let watched = Watched {
        timeline: &view.take.timeline,
        held: &held,
        hottest_c,
        warms: located.map(|l| !l.hot_spots.is_empty()),
        visible_watts: visible_watts(step, &Books::in_force().limits),
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

/// How hot a place may be in every frame, in degrees Celsius: an upper bound, because small parts share their pixels and
/// surfaces shine less than black ones. `None` without temperatures.
pub(super) fn bound_c(session: &Session) -> Option<Vec<f64>> {
    let view = session.view()?;
    let located = view.located.as_ref();
    let sight = Sight {
        mm_per_px: located.map(|l| l.reach.mm_per_px),
        smallest_mm: ready::smallest(session).map(|(_, side_mm)| side_mm),
        netd_k: located.map_or(0.0, |l| l.noise.netd),
    };
    let before = view.take.timeline.first_injected().unwrap_or(1);
    hottest_c(view).map(|pixels| sight.upper_bounds_c(&pixels, before))
}

/// The hottest pixel of every frame in degrees Celsius, where the take has temperatures with a known zero point.
fn hottest_c(view: &super::super::session::TakeView) -> Option<Vec<f64>> {
    if view.take.unit != Unit::Kelvin || !readout::absolute(view) {
        return None;
    }
    let most = view.seen.hottest_k.iter().map(|&k| f64::from(k) - readout::ZERO_CELSIUS_K);
    Some(most.collect())
}
