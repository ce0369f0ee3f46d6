//! What should flow and how far the part should warm, as ranges: doubt in resistance, leads and kelvin per watt is kept.

use super::{Expected, Inputs, Rules, Seen};
use crate::copper::divide;

/// The supply's limits of one step.
#[derive(Clone, Copy)]
pub(super) struct At {
    pub volts: f64,
    pub amps: f64,
    pub dwell_s: f64,
}

/// Lowest and highest resistance of both leads together.
pub(super) fn lead_range(inputs: &Inputs, rules: &Rules) -> (f64, f64) {
    inputs.lead_ohms.map_or(rules.leads_ohms, |r| (r, r))
}

pub(super) fn expected(inputs: &Inputs, rules: &Rules, at: At) -> Option<Expected> {
    let ohms = inputs.ohms?;
    let (low, high) = ((ohms - inputs.ohms_doubt).max(0.0), ohms + inputs.ohms_doubt);
    let (lead_low, lead_high) = lead_range(inputs, rules);
    let flow = |r: f64, lead: f64| divide(at.volts, at.amps, r, lead);
    // Heat in the short falls with the leads; in its own resistance it grows, then falls: the least lies at an end, the
    // most at an end, where the short equals the leads, or where the supply changes from amps to volts.
    let turning = [lead_low, at.volts / at.amps - lead_low].map(|r| r.clamp(low, high));
    let most = [low, high].into_iter().chain(turning).map(|r| flow(r, lead_low).short_watts).fold(0.0, f64::max);
    let least = flow(low, lead_high).short_watts.min(flow(high, lead_high).short_watts);
    let (per_watt, settled) = match inputs.measured_kelvin_per_watt {
        // Measured after a dwell of the same kind: the settling is in it.
        Some(k) => ((k * (1.0 - rules.measured_share), k * (1.0 + rules.measured_share)), (1.0, 1.0)),
        None => {
            let share = |tau_s: f64| 1.0 - (-at.dwell_s / tau_s).exp();
            (rules.kelvin_per_watt, (share(rules.settling_s.1), share(rules.settling_s.0)))
        }
    };
    Some(Expected {
        amps: (flow(high, lead_high).amps, flow(low, lead_low).amps),
        watts: (least, most),
        rise_k: (least * per_watt.0 * settled.0, most * per_watt.1 * settled.1),
    })
}

/// The smallest rise that counts as seen: the noise of two means, before and during, times the rule's factor.
pub(super) fn smallest_seen_k(inputs: &Inputs, rules: &Rules, dwell_s: f64) -> Option<f64> {
    let camera = inputs.camera.filter(|_| !inputs.relative)?;
    let during = (camera.rate_hz * dwell_s).floor();
    let sane = camera.netd_k > 0.0 && camera.frames_before > 0 && during >= 1.0;
    sane.then(|| rules.seen_at * camera.netd_k * (1.0 / camera.frames_before as f64 + 1.0 / during).sqrt())
}

pub(super) fn seen(expected: Option<&Expected>, smallest_k: Option<f64>) -> Seen {
    match (expected, smallest_k) {
        (Some(e), Some(k)) if e.rise_k.0 >= k => Seen::Yes,
        (Some(e), Some(k)) if e.rise_k.1 >= k => Seen::Perhaps,
        (Some(_), Some(_)) => Seen::No,
        _ => Seen::Unknown,
    }
}
