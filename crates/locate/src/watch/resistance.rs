//! A short that opens: its resistance rises within a second. In constant current the volts jump, in constant voltage the
//! amps fall.

use joulemark_frames::Timeline;

use super::{Event, EventKind, Watched, event};

/// The rise is looked for within this time.
const WITHIN_S: f64 = 1.0;
/// While the output comes on, volts over amps mean nothing.
const SETTLES_S: f64 = 0.3;
/// Below this current the quotient is noise.
const LEAST_AMPS: f64 = 0.01;
/// So many readings in a row must show it.
const READINGS: usize = 2;

/// Volts over amps at a frame, leads taken off where known.
fn ohms(t: &Timeline, i: usize, lead_ohms: f64) -> Option<f64> {
    let (v, a) = (t.volts[i]?.abs(), t.amps[i]?.abs());
    (a >= LEAST_AMPS).then(|| (v / a - lead_ohms).max(0.0))
}

pub(super) fn opens(w: &Watched<'_>) -> Vec<Event> {
    let t = w.timeline;
    let lead_ohms = w.lead_ohms.unwrap_or(0.0);
    let mut events = Vec::new();
    // Each time that the output is on, apart.
    for on in super::runs(t.len(), |i| t.injecting[i]) {
        let since_s = t.time_s[*on.start()];
        let settled: Vec<(usize, f64)> = on
            .clone()
            .filter(|&i| t.time_s[i] >= since_s + SETTLES_S)
            .filter_map(|i| Some((i, ohms(t, i, lead_ohms)?)))
            .collect();
        let mut in_a_row = 0;
        for (k, &(i, now)) in settled.iter().enumerate() {
            let before = settled[..k].iter().rev().take_while(|(j, _)| t.time_s[i] - t.time_s[*j] <= WITHIN_S);
            let Some(&(from, least)) = before.min_by(|a, b| a.1.total_cmp(&b.1)) else { continue };
            in_a_row = if now > least * (1.0 + w.held.resistance_rise) { in_a_row + 1 } else { 0 };
            if in_a_row == READINGS {
                let first = settled[k + 1 - READINGS].0;
                events.push(event(t, EventKind::Opens, first..=*on.end(), true, words(t, from, i, least, now)));
                break;
            }
        }
    }
    events
}

fn words(t: &Timeline, from: usize, to: usize, least: f64, now: f64) -> String {
    let change = |values: &[Option<f64>]| Some((values[from]?.abs(), values[to]?.abs()));
    let share = |c: Option<(f64, f64)>| c.map_or(0.0, |(a, b)| (b - a).abs() / a.max(1e-9));
    let (volts, amps) = (change(&t.volts), change(&t.amps));
    let how = match (volts, amps) {
        (Some((a, b)), _) if share(volts) >= share(amps) => format!("volts jump from {a:.2} to {b:.2}"),
        (_, Some((a, b))) => format!("amps fall from {a:.2} to {b:.2}"),
        _ => "it is no longer the same".to_owned(),
    };
    format!(
        "the short opens: {how}, {least:.3} ohm become {now:.3} ohm within a second; switch off, and measure the rail before \
         anything else"
    )
}
