//! The capture log against the step in force, frame by frame: what went over a limit, what the resistance did, and what
//! the supply did on its own. Pure; blanks in the log are never taken for zero.

mod electrical;
mod held;
mod hottest;
mod knee;
mod resistance;
#[cfg(test)]
mod tests;
mod used;

pub use held::{Held, visible_watts};
pub use hottest::Sight;
pub use knee::{Knee, knee, levels};
pub use used::Used;

use std::ops::RangeInclusive;

use joulemark_frames::Timeline;

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum EventKind {
    /// More volts than the step allows.
    OverVolts,
    /// More amps.
    OverAmps,
    /// Current on for longer than the step allows, off times left out.
    OverTime,
    /// More energy from the supply.
    OverEnergy,
    /// The hottest place may be at the stop temperature.
    TooHot,
    /// The resistance rises within a second: the short opens.
    Opens,
    /// Volts or amps of the wrong sign.
    Reversed,
    /// Neither the set volts nor the set amps are reached.
    Foldback,
    /// Amps grow faster than volts.
    Knee,
    /// Power flows and nothing in the picture warms.
    NothingWarms,
}

/// Something that happened against the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// What.
    pub kind: EventKind,
    /// From which frame to which.
    pub frames: RangeInclusive<usize>,
    /// When it began, on the log's clock.
    pub time_s: f64,
    /// Whether to switch off at once.
    pub stop: bool,
    /// In words, one sentence with what to do.
    pub words: String,
}

/// What is watched.
#[derive(Clone, Copy, Debug)]
pub struct Watched<'a> {
    /// The log.
    pub timeline: &'a Timeline,
    /// The step in force.
    pub held: &'a Held,
    /// Hottest place per frame in °C, corrected for blur and emissivity, as an upper bound; `None` where the take has no
    /// temperatures.
    pub hottest_c: Option<&'a [f64]>,
    /// Whether anything in the picture warms; `None` before it was looked for.
    pub warms: Option<bool>,
    /// The least watts at the board that the camera should see; `None` when not known.
    pub visible_watts: Option<f64>,
    /// Both leads together, ohms.
    pub lead_ohms: Option<f64>,
}

/// Everything that happened, in the order of time.
pub fn watch(watched: &Watched<'_>) -> Vec<Event> {
    let mut events = electrical::over_limits(watched);
    events.extend(electrical::reversed(watched));
    events.extend(electrical::foldback(watched));
    events.extend(too_hot(watched));
    events.extend(resistance::opens(watched));
    events.extend(knee::in_log(watched));
    events.extend(nothing_warms(watched));
    events.sort_by(|a, b| (a.frames.start(), a.stop).cmp(&(b.frames.start(), b.stop)));
    events
}

/// Runs of successive frames that hold a condition.
fn runs(frames: usize, holds: impl Fn(usize) -> bool) -> Vec<RangeInclusive<usize>> {
    let mut found = Vec::new();
    let mut from = None;
    for i in 0..=frames {
        match (from, i < frames && holds(i)) {
            (None, true) => from = Some(i),
            (Some(start), false) => {
                found.push(start..=i - 1);
                from = None;
            }
            _ => {}
        }
    }
    found
}

fn event(t: &Timeline, kind: EventKind, frames: RangeInclusive<usize>, stop: bool, words: String) -> Event {
    let time_s = t.time_s.get(*frames.start()).copied().unwrap_or(0.0);
    Event { kind, frames, time_s, stop, words }
}

fn too_hot(w: &Watched<'_>) -> Vec<Event> {
    let (Some(hottest), Some(stop_c)) = (w.hottest_c, w.held.stop_c) else { return Vec::new() };
    let at = |i: usize| hottest.get(i).copied().unwrap_or(f64::NAN);
    runs(w.timeline.len(), |i| at(i) >= stop_c)
        .into_iter()
        .map(|frames| {
            let most = frames.clone().map(at).fold(f64::MIN, f64::max);
            let words = format!(
                "stop: the hottest place may be at {most:.0} °C, the limit is {stop_c:.0} °C; switch off and let it cool"
            );
            event(w.timeline, EventKind::TooHot, frames, true, words)
        })
        .collect()
}

/// Power that is steady and enough to be seen, while nothing warms.
fn nothing_warms(w: &Watched<'_>) -> Option<Event> {
    let t = w.timeline;
    let (Some(false), Some(enough)) = (w.warms, w.visible_watts) else { return None };
    let (watts, amps) = (t.mean_watts()?.abs(), t.mean_amps()?);
    // Without the leads' ohms nothing is concluded from missing watts.
    let at_board = watts - amps * amps * w.lead_ohms?;
    let first = t.first_injected()?;
    let last = t.injecting.iter().rposition(|on| *on)?;
    (at_board >= enough).then(|| {
        let words = format!(
            "{at_board:.2} W reach the board and nothing on this face warms: the heat is elsewhere; film the other face, or \
             look under shields"
        );
        event(t, EventKind::NothingWarms, first..=last, false, words)
    })
}
