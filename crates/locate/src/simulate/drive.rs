//! When a source heats: a step, or pulses.

/// The on-off course of the injected power, 0 or 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drive {
    /// On from `on_s`, off again at `off_s`.
    Step {
        /// Seconds on the log's clock.
        on_s: f64,
        /// Seconds on the log's clock.
        off_s: f64,
    },
    /// Pulses between `on_s` and `off_s`; the first one starts at `on_s`.
    Pulses {
        /// Seconds on the log's clock.
        on_s: f64,
        /// Seconds on the log's clock.
        off_s: f64,
        /// From one pulse's start to the next one's, seconds.
        period_s: f64,
        /// Share of the period that is on, 0 to 1.
        duty: f64,
    },
}

impl Drive {
    /// Whether power is on at a time.
    pub fn is_on(&self, time_s: f64) -> bool {
        match *self {
            Self::Step { on_s, off_s } => (on_s..off_s).contains(&time_s),
            Self::Pulses { on_s, off_s, period_s, duty } => {
                (on_s..off_s).contains(&time_s) && (time_s - on_s) % period_s < duty * period_s
            }
        }
    }

    /// Mean of the course over an interval, exact, so that no energy is lost between time steps.
    pub fn mean(&self, from_s: f64, to_s: f64) -> f64 {
        (self.seconds_on_until(to_s) - self.seconds_on_until(from_s)) / (to_s - from_s)
    }

    fn seconds_on_until(&self, time_s: f64) -> f64 {
        match *self {
            Self::Step { on_s, off_s } => time_s.clamp(on_s, off_s) - on_s,
            Self::Pulses { on_s, off_s, period_s, duty } => {
                let since = time_s.clamp(on_s, off_s) - on_s;
                let whole = (since / period_s).floor();
                duty * period_s * whole + (since - whole * period_s).min(duty * period_s)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn means_hold_the_energy_of_the_course() {
        let step = Drive::Step { on_s: 1.0, off_s: 3.0 };
        assert_eq!(step.mean(0.0, 2.0), 0.5);
        assert_eq!(step.mean(0.0, 4.0), 0.5);
        let pulses = Drive::Pulses { on_s: 1.0, off_s: 11.0, period_s: 2.0, duty: 0.25 };
        // Five pulses of half a second each.
        assert!((pulses.mean(0.0, 20.0) * 20.0 - 2.5).abs() < 1e-12);
        assert!((pulses.mean(1.0, 1.25) - 1.0).abs() < 1e-12);
        assert!(pulses.is_on(3.4) && !pulses.is_on(3.6) && !pulses.is_on(0.9) && !pulses.is_on(11.1));
    }
}
