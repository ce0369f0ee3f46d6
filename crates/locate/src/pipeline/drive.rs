//! The injection over time, as the log, the user and the recording know it together.

use super::Attempt;
use crate::{Repaired, model::Drive, timing};

impl Attempt<'_> {
    /// The injection as logged, or as the recording itself or the user knows better.
    pub(super) fn drive(&self, shift_s: f64, repairs: &mut Vec<Repaired>) -> Drive {
        let timeline = self.film.timeline;
        let mut drive = Drive::from_timeline(timeline, shift_s);
        if let Some(period_s) = self.settings.period_s.filter(|p| p.is_finite() && *p > 0.0) {
            drive = drive.with_period(period_s);
        }
        let rough = drive.logged_by_hand() || self.settings.period_s.is_some();
        if let Some(pulses) = drive.pulses().filter(|_| rough && self.settings.repairs.log_lag)
            && let Some(better) = timing::refined(self.film.frames, timeline, pulses)
        {
            let moved_s = better.from_s - pulses.from_s;
            let start =
                if moved_s == 0.0 { String::new() } else { format!(", and their start moved by {moved_s:.2} s") };
            repairs.push(Repaired {
                what: "log_lag",
                did: format!(
                    "the period of the pulses was refined from {:.3} s to {:.3} s by the recording{start}",
                    pulses.period_s, better.period_s
                ),
            });
            drive = drive.with_pulses(better);
        }
        drive
    }
}
