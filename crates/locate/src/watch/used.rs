//! What a log used of its step: the largest volts and amps, the time with current on, the energy from the supply.

use joulemark_frames::Timeline;

use super::electrical::LEAST_AMPS;

/// What a log used. Volts and amps are magnitudes; `None` where no reading was logged while current flowed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Used {
    /// The largest volts.
    pub volts: Option<f64>,
    /// The largest amps.
    pub amps: Option<f64>,
    /// Seconds with current on, off times left out.
    pub dwell_s: f64,
    /// Energy from the supply, leads included; `None` where no frame has both volts and amps.
    pub joules: Option<f64>,
}

impl Used {
    /// Of a whole log.
    pub fn of(t: &Timeline) -> Self {
        let most = |values: &[Option<f64>]| {
            let flowing = (0..t.len()).filter(|&i| flows(t, i)).filter_map(|i| values[i]);
            flowing.map(f64::abs).reduce(f64::max)
        };
        let (dwell_s, joules) = spent(t).last().unwrap_or_default();
        let metered = (0..t.len()).any(|i| t.injecting[i] && t.volts[i].is_some() && t.amps[i].is_some());
        Self { volts: most(&t.volts), amps: most(&t.amps), dwell_s, joules: metered.then_some(joules) }
    }
}

/// Whether current flows at a frame. A display may show the set volts while the output is off.
pub(super) fn flows(t: &Timeline, i: usize) -> bool {
    t.injecting[i] || t.amps[i].is_some_and(|a| a.abs() >= LEAST_AMPS)
}

/// Seconds with current on and joules from the supply up to each frame, added up from frame to frame.
pub(super) fn spent(t: &Timeline) -> impl Iterator<Item = (f64, f64)> {
    let (mut on_s, mut joules) = (0.0, 0.0);
    (0..t.len()).map(move |i| {
        if i > 0 && t.injecting[i - 1] {
            let step_s = t.time_s[i] - t.time_s[i - 1];
            on_s += step_s;
            if let (Some(v), Some(a)) = (t.volts[i - 1], t.amps[i - 1]) {
                joules += (v * a).abs() * step_s;
            }
        }
        (on_s, joules)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_flows_counts_and_what_stands_on_a_display_does_not() {
        // Ten frames a second: 1 s off at a set 5 V, then 2 s at 0.3 V and 0.9 A, then off again.
        let mut t = Timeline::steady(40, 10.0);
        for i in 0..40 {
            t.injecting[i] = (10..30).contains(&i);
            t.volts[i] = Some(if t.injecting[i] { 0.3 } else { 5.0 });
            t.amps[i] = Some(if t.injecting[i] { 0.9 } else { 0.0 });
        }
        let used = Used::of(&t);
        assert_eq!((used.volts, used.amps), (Some(0.3), Some(0.9)));
        assert!((used.dwell_s - 2.0).abs() < 1e-9 && (used.joules.unwrap() - 0.54).abs() < 1e-9, "{used:?}");
        t.volts.fill(None);
        let blank = Used::of(&t);
        assert_eq!((blank.volts, blank.joules, blank.amps), (None, None, Some(0.9)));
        assert_eq!(Used::of(&Timeline::steady(0, 1.0)), Used::default());
    }
}
