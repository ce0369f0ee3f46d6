//! The injected power over time, relative to its mean, from the timeline.

use joulemark_frames::Timeline;

/// Readings that vary by less than this share of their mean are taken as steady: their noise must not enter the model.
const STEADY_SHARE: f64 = 0.05;

/// Injected power per frame. It holds from the frame's time to the next frame's.
#[derive(Clone, Debug, PartialEq)]
pub struct Drive {
    /// Frame times in seconds.
    pub time_s: Vec<f64>,
    /// Power per frame, 1 on average while injecting, 0 otherwise.
    pub power: Vec<f64>,
}

/// A change of the injected power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DriveStep {
    /// When, in seconds.
    pub time_s: f64,
    /// By how much.
    pub change: f64,
}

impl Drive {
    /// Power follows the supply readings where every injected frame has them and they really vary; otherwise it is on
    /// or off as the log says.
    pub fn from_timeline(timeline: &Timeline) -> Self {
        let watts: Vec<Option<f64>> = (0..timeline.len())
            .map(|i| timeline.injecting[i].then(|| Some(timeline.volts[i]? * timeline.amps[i]?)).flatten())
            .collect();
        let known: Vec<f64> = watts.iter().flatten().copied().collect();
        let injected = timeline.injecting.iter().filter(|&&on| on).count();
        let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
        let spread = (known.iter().map(|w| (w - mean).powi(2)).sum::<f64>() / known.len().max(1) as f64).sqrt();
        let varies = known.len() == injected && mean > 0.0 && spread > STEADY_SHARE * mean;
        let power = (0..timeline.len())
            .map(|i| match (timeline.injecting[i], watts[i]) {
                (false, _) => 0.0,
                (true, Some(w)) if varies => w.max(0.0) / mean,
                (true, _) => 1.0,
            })
            .collect();
        Self { time_s: timeline.time_s.clone(), power }
    }

    /// Every change of power, in time order.
    pub fn steps(&self) -> Vec<DriveStep> {
        let mut before = 0.0;
        let mut steps = Vec::new();
        for (&time_s, &power) in self.time_s.iter().zip(&self.power) {
            if power != before {
                steps.push(DriveStep { time_s, change: power - before });
                before = power;
            }
        }
        steps
    }

    /// Index of the first injected frame.
    pub fn first_injected(&self) -> Option<usize> {
        self.power.iter().position(|&p| p > 0.0)
    }

    /// Index of the last injected frame.
    pub fn last_injected(&self) -> Option<usize> {
        self.power.iter().rposition(|&p| p > 0.0)
    }

    /// Median interval between frames.
    pub fn interval_s(&self) -> f64 {
        let mut intervals: Vec<f64> = self.time_s.windows(2).map(|w| w[1] - w[0]).collect();
        intervals.sort_by(f64::total_cmp);
        intervals.get(intervals.len() / 2).copied().unwrap_or(1.0)
    }

    /// Seconds from the first injected frame to the last.
    pub fn duration_s(&self) -> f64 {
        match (self.first_injected(), self.last_injected()) {
            (Some(a), Some(b)) if b > a => self.time_s[b] - self.time_s[a],
            _ => self.interval_s(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn timeline(watts: &[Option<f64>]) -> Timeline {
        let mut t = Timeline::steady(watts.len(), 1.0);
        for (i, w) in watts.iter().enumerate() {
            t.injecting[i] = w.is_some();
            t.volts[i] = w.map(|_| 1.0);
            t.amps[i] = *w;
        }
        t
    }

    #[test]
    fn noisy_but_steady_readings_count_as_on_and_off() {
        let drive = Drive::from_timeline(&timeline(&[None, Some(1.0), Some(1.01), Some(0.99)]));
        assert_eq!(drive.power, [0.0, 1.0, 1.0, 1.0]);
        assert_eq!(drive.steps(), [DriveStep { time_s: 1.0, change: 1.0 }]);
    }

    #[test]
    fn varying_power_is_followed() {
        let drive = Drive::from_timeline(&timeline(&[None, Some(1.0), Some(3.0), None]));
        assert_eq!(drive.power, [0.0, 0.5, 1.5, 0.0]);
        assert_eq!(drive.last_injected(), Some(2));
    }
}
