//! The injected power over time, relative to its mean, from the timeline: a step, or pulses.

use joulemark_frames::Timeline;
use nalgebra::DVector;

use super::bank::{self, Response};

/// Readings that vary by less than this share of their mean are taken as steady: their noise must not enter the model.
const STEADY_SHARE: f64 = 0.05;
/// Marks that scatter by less than this many frame intervals about regular pulses are only rounded to the frame (0.29 by
/// that alone).
const REGULAR_INTERVALS: f64 = 0.6;
/// From this many pulses on a recording is read as pulsed; fewer are a step that was switched a few times.
pub const LEAST_PULSES: usize = 3;

/// Injected power per frame. It holds from the frame's time to the next frame's.
#[derive(Clone, Debug, PartialEq)]
pub struct Drive {
    /// Frame times in seconds.
    pub time_s: Vec<f64>,
    /// Power per frame, 1 on average while injecting, 0 otherwise.
    pub power: Vec<f64>,
    steps: Vec<DriveStep>,
    pulses: Option<Pulses>,
    /// Whether the marks scatter as if set by hand.
    by_hand: bool,
}

/// A change of the injected power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DriveStep {
    /// When, in seconds.
    pub time_s: f64,
    /// By how much.
    pub change: f64,
}

/// Regular on-off cycles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulses {
    /// Start of the first pulse.
    pub from_s: f64,
    /// From one pulse to the next.
    pub period_s: f64,
    /// Share of the period that is on, 0 to 1.
    pub duty: f64,
}

impl Drive {
    /// Power follows the supply readings where every injected frame has them and they really vary; otherwise it is on
    /// or off as the log says. `shift_s` moves it later than the log says.
    pub fn from_timeline(timeline: &Timeline, shift_s: f64) -> Self {
        let watts: Vec<Option<f64>> = (0..timeline.len())
            .map(|i| timeline.injecting[i].then(|| Some(timeline.volts[i]? * timeline.amps[i]?)).flatten())
            .collect();
        let known: Vec<f64> = watts.iter().flatten().copied().collect();
        let injected = timeline.injecting.iter().filter(|&&on| on).count();
        let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
        let spread = (known.iter().map(|w| (w - mean).powi(2)).sum::<f64>() / known.len().max(1) as f64).sqrt();
        let varies = known.len() == injected && mean > 0.0 && spread > STEADY_SHARE * mean;
        let power: Vec<f64> = (0..timeline.len())
            .map(|i| match (timeline.injecting[i], watts[i]) {
                (false, _) => 0.0,
                (true, Some(w)) if varies => w.max(0.0) / mean,
                (true, _) => 1.0,
            })
            .collect();
        let mut steps = Vec::new();
        let mut before = 0.0;
        for (i, &power) in power.iter().enumerate() {
            if power != before {
                steps.push(DriveStep { time_s: switched_s(timeline, i) + shift_s, change: power - before });
                before = power;
            }
        }
        let drive = Self { time_s: timeline.time_s.clone(), power, steps, pulses: None, by_hand: false };
        match pulses_of(timeline) {
            Some((pulses, scatter_s)) => {
                let pulses = Pulses { from_s: pulses.from_s + shift_s, ..pulses };
                if scatter_s <= REGULAR_INTERVALS * drive.interval_s() && !varies {
                    drive.with_pulses(pulses)
                } else {
                    Self { pulses: Some(pulses), by_hand: !varies, ..drive }
                }
            }
            None => drive,
        }
    }

    /// The same pulses at exact times: a log by hand or to the frame only says roughly when each began.
    pub fn with_pulses(mut self, pulses: Pulses) -> Self {
        let end_s = self.time_s.last().copied().unwrap_or(0.0);
        let mut steps = Vec::new();
        let mut start_s = pulses.from_s;
        while start_s < end_s {
            steps.push(DriveStep { time_s: start_s, change: 1.0 });
            steps.push(DriveStep { time_s: start_s + pulses.duty * pulses.period_s, change: -1.0 });
            start_s += pulses.period_s;
        }
        self.steps = steps;
        self.pulses = Some(pulses);
        self
    }

    /// The same drive, later by `shift_s`.
    pub fn shifted(&self, shift_s: f64) -> Self {
        let mut shifted = self.clone();
        for step in &mut shifted.steps {
            step.time_s += shift_s;
        }
        if let Some(pulses) = &mut shifted.pulses {
            pulses.from_s += shift_s;
        }
        shifted
    }

    /// A response to this drive for amplitude 1, one value per frame.
    pub fn response(&self, response: Response) -> DVector<f64> {
        bank::sampled(self, response)
    }

    /// Injected energy up to each frame, in seconds of mean power: the start of any response that is slow against the take.
    pub fn energy(&self) -> DVector<f64> {
        let until = |t: f64| self.steps.iter().map(|s| s.change * (t - s.time_s).max(0.0)).sum();
        DVector::from_iterator(self.time_s.len(), self.time_s.iter().map(|&t| until(t)))
    }

    /// Pulses of a period that the user typed, from the log's first mark on; the log's duty, or half on where it has none.
    pub fn with_period(self, period_s: f64) -> Self {
        let from_s = self.onset_s();
        let duty = self.pulses.map_or(0.5, |p| p.duty);
        self.with_pulses(Pulses { from_s, period_s, duty })
    }

    /// Every change of power, in time order.
    pub fn steps(&self) -> &[DriveStep] {
        &self.steps
    }

    /// The on-off cycles, where the injection has at least [`LEAST_PULSES`] of them.
    pub fn pulses(&self) -> Option<Pulses> {
        self.pulses
    }

    /// Whether the pulses were logged by hand, so that their period is to be refined from the recording.
    pub fn logged_by_hand(&self) -> bool {
        self.by_hand
    }

    /// Index of the first injected frame.
    pub fn first_injected(&self) -> Option<usize> {
        self.power.iter().position(|&p| p > 0.0)
    }

    /// Index of the last injected frame.
    pub fn last_injected(&self) -> Option<usize> {
        self.power.iter().rposition(|&p| p > 0.0)
    }

    /// Start of the injection, in seconds.
    pub fn onset_s(&self) -> f64 {
        self.steps.first().map_or(0.0, |s| s.time_s)
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

/// When the power of frame `i` came on: somewhere since the frame before, so in the middle.
fn switched_s(timeline: &Timeline, i: usize) -> f64 {
    let before = i.saturating_sub(1);
    f64::midpoint(timeline.time_s[before], timeline.time_s[i])
}

/// Period, duty and start from the log's marks, and how far the marks scatter about them: the line through the starts of
/// the pulses against their number, which averages marks set by hand (least squares). `None` below [`LEAST_PULSES`].
fn pulses_of(timeline: &Timeline) -> Option<(Pulses, f64)> {
    let on = &timeline.injecting;
    let edges = |rising: bool| -> Vec<f64> {
        (1..on.len()).filter(|&i| on[i] == rising && on[i - 1] != rising).map(|i| switched_s(timeline, i)).collect()
    };
    let starts = edges(true);
    if starts.len() < LEAST_PULSES {
        return None;
    }
    let ends: Vec<f64> = edges(false).into_iter().filter(|&t| t > starts[0]).collect();
    let (from_s, period_s) = line(&starts);
    let lengths: Vec<f64> = starts.iter().zip(&ends).map(|(a, b)| b - a).collect();
    let length_s = lengths.iter().sum::<f64>() / lengths.len().max(1) as f64;
    let duty = length_s / period_s;
    let squares: f64 = starts.iter().enumerate().map(|(i, t)| (t - from_s - i as f64 * period_s).powi(2)).sum();
    let scatter_s = (squares / starts.len() as f64).sqrt();
    (period_s > 0.0 && duty > 0.0 && duty < 1.0).then_some((Pulses { from_s, period_s, duty }, scatter_s))
}

/// Least squares of values against their index: value at index 0 and slope.
fn line(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean_i = (n - 1.0) / 2.0;
    let mean = values.iter().sum::<f64>() / n;
    let (mut sxy, mut sxx) = (0.0, 0.0);
    for (i, v) in values.iter().enumerate() {
        let d = i as f64 - mean_i;
        sxy += d * (v - mean);
        sxx += d * d;
    }
    let slope = sxy / sxx;
    (mean - slope * mean_i, slope)
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
        let drive = Drive::from_timeline(&timeline(&[None, Some(1.0), Some(1.01), Some(0.99)]), 0.0);
        assert_eq!(drive.power, [0.0, 1.0, 1.0, 1.0]);
        assert_eq!(drive.steps(), [DriveStep { time_s: 0.5, change: 1.0 }]);
    }

    #[test]
    fn varying_power_is_followed() {
        let drive = Drive::from_timeline(&timeline(&[None, Some(1.0), Some(3.0), None]), 0.0);
        assert_eq!(drive.power, [0.0, 0.5, 1.5, 0.0]);
        assert_eq!(drive.last_injected(), Some(2));
    }

    #[test]
    fn pulses_are_read_off_the_marks() {
        // 20 frames a second, pulses of 1 s every 2.5 s from 3.0 s on: 50 frames a period, 20 on.
        let mut t = Timeline::steady(400, 20.0);
        for i in 0..400 {
            let since = t.time_s[i] - 3.0;
            t.injecting[i] = since >= 0.0 && since % 2.5 < 1.0 - 1e-9;
        }
        let pulses = Drive::from_timeline(&t, 0.0).pulses().unwrap();
        // Marks are true to the frame: 50 ms, half of it on average.
        assert!((pulses.period_s - 2.5).abs() < 1e-2 && (pulses.duty - 0.4).abs() < 0.02, "{pulses:?}");
        assert!((pulses.from_s - 2.975).abs() < 0.03, "{pulses:?}");
        assert_eq!(Drive::from_timeline(&timeline(&[None, Some(1.0), None, Some(1.0)]), 0.0).pulses(), None);
    }
}
