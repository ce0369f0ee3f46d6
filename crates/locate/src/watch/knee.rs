//! Volts against amps over the steps: a straight line is metal or a capacitor, a knee is a semiconductor.

use joulemark_frames::Timeline;

use super::{Event, EventKind, Watched, event};

/// Levels nearer than this are one, in volts.
const SAME_LEVEL_VOLTS: f64 = 0.02;
/// A level is believed from so many readings on.
const READINGS: usize = 3;
/// Amps that grow with the volts to this power or faster are no metal: a resistor has 1, a junction far more.
const KNEE_POWER: f64 = 1.5;
/// Below these a display's last digit decides.
const LEAST_VOLTS: f64 = 0.03;
const LEAST_AMPS: f64 = 0.01;

/// A knee between two levels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Knee {
    /// Volts below and above it.
    pub volts: (f64, f64),
    /// Amps there.
    pub amps: (f64, f64),
    /// Amps grow with the volts to this power between them.
    pub power: f64,
}

/// The steepest knee among levels of volts and amps at the board (leads taken off), in any order. Levels from several takes
/// may be joined. `None` for a straight line, or with fewer than two levels.
pub fn knee(levels: &[(f64, f64)]) -> Option<Knee> {
    let mut sorted: Vec<(f64, f64)> =
        levels.iter().copied().filter(|(v, a)| *v >= LEAST_VOLTS && *a >= LEAST_AMPS).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    sorted
        .windows(2)
        .filter(|pair| pair[1].0 >= pair[0].0 + SAME_LEVEL_VOLTS)
        .map(|pair| {
            let [(v0, a0), (v1, a1)] = [pair[0], pair[1]];
            Knee { volts: (v0, v1), amps: (a0, a1), power: (a1 / a0).ln() / (v1 / v0).ln() }
        })
        .filter(|knee| knee.power >= KNEE_POWER)
        .max_by(|a, b| a.power.total_cmp(&b.power))
}

/// Mean volts (leads taken off) and amps of each level that a log holds for some frames.
pub fn levels(t: &Timeline, lead_ohms: f64) -> Vec<(f64, f64)> {
    let readings = (0..t.len()).filter(|&i| t.injecting[i]).filter_map(|i| Some((t.volts[i]?, t.amps[i]?)));
    let mut all: Vec<(f64, f64)> = readings.map(|(v, a)| (v.abs() - a.abs() * lead_ohms, a.abs())).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut groups: Vec<Vec<(f64, f64)>> = Vec::new();
    for reading in all {
        match groups.last_mut() {
            Some(group) if reading.0 - group[0].0 < SAME_LEVEL_VOLTS => group.push(reading),
            _ => groups.push(vec![reading]),
        }
    }
    let mean = |group: &Vec<(f64, f64)>| {
        let n = group.len() as f64;
        (group.iter().map(|r| r.0).sum::<f64>() / n, group.iter().map(|r| r.1).sum::<f64>() / n)
    };
    groups.iter().filter(|g| g.len() >= READINGS).map(mean).collect()
}

pub(super) fn in_log(w: &Watched<'_>) -> Option<Event> {
    let t = w.timeline;
    // Without the leads' ohms a straight line stays straight, so that a knee is one all the same.
    let lead_ohms = w.lead_ohms.unwrap_or(0.0);
    let found = knee(&levels(t, lead_ohms))?;
    let from = (0..t.len()).find(|&i| {
        let at = t.volts[i].zip(t.amps[i]).map(|(v, a)| v.abs() - a.abs() * lead_ohms);
        t.injecting[i] && at.is_some_and(|v| v >= found.volts.1 - SAME_LEVEL_VOLTS / 2.0)
    })?;
    let last = t.injecting.iter().rposition(|on| *on)?;
    let words = format!(
        "a knee: {:.2} A at {:.2} V, but {:.2} A at {:.2} V; that is a semiconductor and not metal, perhaps a healthy one: go back \
         below the knee",
        found.amps.0, found.volts.0, found.amps.1, found.volts.1
    );
    Some(event(t, EventKind::Knee, from..=last.max(from), false, words))
}
