//! When each frame was taken and what the supply did then.

use std::str::FromStr;

use crate::SupplyMode;

/// One entry per frame of a take. Readings that the log left blank are `None`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Timeline {
    /// Seconds on the log's clock, strictly increasing.
    pub time_s: Vec<f64>,
    /// Whether current is injected while the frame is taken.
    pub injecting: Vec<bool>,
    /// Volts at the supply.
    pub volts: Vec<Option<f64>>,
    /// Amps from the supply.
    pub amps: Vec<Option<f64>>,
    /// Volts the supply is set to.
    pub set_volts: Vec<Option<f64>>,
    /// Amps the supply is limited to.
    pub set_amps: Vec<Option<f64>>,
    /// The supply's mode.
    pub mode: Vec<Option<SupplyMode>>,
}

impl Timeline {
    /// A timeline of `frames` frames at a steady rate, nothing injected, nothing read.
    pub fn steady(frames: usize, rate_hz: f64) -> Self {
        Self {
            time_s: (0..frames).map(|i| i as f64 / rate_hz).collect(),
            injecting: vec![false; frames],
            volts: vec![None; frames],
            amps: vec![None; frames],
            set_volts: vec![None; frames],
            set_amps: vec![None; frames],
            mode: vec![None; frames],
        }
    }

    /// Number of frames.
    pub fn len(&self) -> usize {
        self.time_s.len()
    }

    /// Whether there are no frames.
    pub fn is_empty(&self) -> bool {
        self.time_s.is_empty()
    }

    /// Index of the first frame with injection.
    pub fn first_injected(&self) -> Option<usize> {
        self.injecting.iter().position(|&on| on)
    }

    /// Marks injection from frame `from` to the end, and none before.
    pub fn inject_from(&mut self, from: usize) {
        for (i, on) in self.injecting.iter_mut().enumerate() {
            *on = i >= from;
        }
    }

    /// Mean watts from the supply over the injected frames with both readings.
    pub fn mean_watts(&self) -> Option<f64> {
        self.mean_over_injected(|t, i| Some(t.volts[i]? * t.amps[i]?))
    }

    /// Mean amps over the injected frames with a reading.
    pub fn mean_amps(&self) -> Option<f64> {
        self.mean_over_injected(|t, i| t.amps[i])
    }

    fn mean_over_injected(&self, value: impl Fn(&Self, usize) -> Option<f64>) -> Option<f64> {
        let (sum, count) = (0..self.len())
            .filter(|&i| self.injecting[i])
            .filter_map(|i| value(self, i))
            .fold((0.0, 0_usize), |(sum, count), v| (sum + v, count + 1));
        (count > 0).then(|| sum / count as f64)
    }
}

/// Where injection starts, when no log says so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InjectFrom {
    /// The first injected frame, counted from 0.
    Frame(usize),
    /// To be proposed from the recording itself.
    Auto,
}

impl FromStr for InjectFrom {
    type Err = String;

    /// Reads a frame number or `auto`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if text.eq_ignore_ascii_case("auto") {
            return Ok(Self::Auto);
        }
        text.parse()
            .map(Self::Frame)
            .map_err(|_| format!("'{text}' is neither a frame number (first frame is 0) nor auto"))
    }
}
