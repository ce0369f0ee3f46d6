//! Volts, amps, time and energy against the step; the wrong sign; a supply that holds neither volts nor amps.

use super::{Event, EventKind, Watched, event, runs, used};

/// Displays show the set point to about a per cent: this much over a limit is no news.
const SLACK: f64 = 1.01;
/// Signs below these are noise of a display around zero.
const LEAST_VOLTS: f64 = 0.02;
pub(super) const LEAST_AMPS: f64 = 0.005;
/// A supply that holds its volts or amps shows them to within this share.
const HOLDS_SHARE: f64 = 0.9;
/// So many frames in a row make a foldback: while the output comes on, neither is reached.
const FOLDBACK_FRAMES: usize = 3;

pub(super) fn over_limits(w: &Watched<'_>) -> Vec<Event> {
    let (t, held) = (w.timeline, w.held);
    let mut events = Vec::new();
    let mut over = |kind, values: &[Option<f64>], limit: f64, unit: &str, extra: &dyn Fn(f64) -> &'static str| {
        let at = |i: usize| values.get(i).copied().flatten().filter(|_| used::flows(t, i)).map_or(0.0, f64::abs);
        for frames in runs(t.len(), |i| at(i) > limit * SLACK) {
            let most = frames.clone().map(at).fold(0.0, f64::max);
            let words = format!("{most:.2} {unit} is above the step's {limit} {unit}{}; turn it down", extra(most));
            events.push(event(t, kind, frames, true, words));
        }
    };
    let silicon = |volts: f64| {
        if volts > held.silicon_volts { ", healthy silicon draws and warms there" } else { "" }
    };
    over(EventKind::OverVolts, &t.volts, held.volts, "V", &silicon);
    over(EventKind::OverAmps, &t.amps, held.amps, "A", &|_| "");
    events.extend(over_time(w));
    events
}

/// Seconds with current on and energy, added up from frame to frame.
fn over_time(w: &Watched<'_>) -> Vec<Event> {
    let (t, held) = (w.timeline, w.held);
    let (mut on_s, mut joules) = (0.0, 0.0);
    let (mut time_from, mut energy_from) = (None, None);
    for (i, spent) in used::spent(t).enumerate().skip(1) {
        (on_s, joules) = spent;
        let step_s = t.time_s[i] - t.time_s[i - 1];
        // A frame's own length is no overrun.
        if t.injecting[i] && on_s > held.dwell_s * SLACK + step_s {
            time_from = time_from.or(Some(i));
        }
        if t.injecting[i] && joules > held.joules * SLACK {
            energy_from = energy_from.or(Some(i));
        }
    }
    let last = t.injecting.iter().rposition(|on| *on).unwrap_or(0);
    let time = time_from.map(|from| {
        let words = format!("current was on for {on_s:.0} s, the step allows {:.0} s: switch off", held.dwell_s);
        event(t, EventKind::OverTime, from..=last.max(from), true, words)
    });
    let energy = energy_from.map(|from| {
        let words = format!("{joules:.0} J came from the supply, the step allows {:.0} J: switch off", held.joules);
        event(t, EventKind::OverEnergy, from..=last.max(from), true, words)
    });
    time.into_iter().chain(energy).collect()
}

/// With the leads as the card says (swapped for a negative rail), a supply shows volts and amps above zero.
pub(super) fn reversed(w: &Watched<'_>) -> Vec<Event> {
    let t = w.timeline;
    let below = |values: &[Option<f64>], i: usize, least: f64| values[i].is_some_and(|v| v < -least);
    runs(t.len(), |i| t.injecting[i] && (below(&t.volts, i, LEAST_VOLTS) || below(&t.amps, i, LEAST_AMPS)))
        .into_iter()
        .map(|frames| {
            let words = "volts or amps are below zero: the leads are reversed; output off, and measure the polarity";
            event(t, EventKind::Reversed, frames, true, words.to_owned())
        })
        .collect()
}

pub(super) fn foldback(w: &Watched<'_>) -> Vec<Event> {
    let t = w.timeline;
    let holds_neither = |i: usize| {
        let (Some(v), Some(a), Some(set_v), Some(set_a)) = (t.volts[i], t.amps[i], t.set_volts[i], t.set_amps[i])
        else {
            return false;
        };
        t.injecting[i] && v.abs() < HOLDS_SHARE * set_v.abs() && a.abs() < HOLDS_SHARE * set_a.abs()
    };
    runs(t.len(), holds_neither)
        .into_iter()
        .filter(|frames| frames.clone().count() >= FOLDBACK_FRAMES)
        .map(|frames| {
            let i = *frames.start();
            let words = format!(
                "the supply gives {:.2} V and {:.2} A, neither the set {:.2} V nor the set {:.2} A: it folds back or trips; set \
                 less, or use another range",
                t.volts[i].unwrap_or(0.0),
                t.amps[i].unwrap_or(0.0),
                t.set_volts[i].unwrap_or(0.0),
                t.set_amps[i].unwrap_or(0.0)
            );
            event(t, EventKind::Foldback, frames, false, words)
        })
        .collect()
}
