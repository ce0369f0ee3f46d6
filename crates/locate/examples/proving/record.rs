//! What is kept of one board.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// One finished board.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Record {
    pub kind: String,
    pub seed: u64,
    pub width_px: usize,
    pub height_px: usize,
    pub rate_hz: f64,
    pub frames_before: usize,
    pub frames_during: usize,
    pub netd_k: f64,
    pub blur_px: f64,
    /// Rise or amplitude of the hottest pixel.
    pub size_k: f64,
    pub mm_per_px: f64,
    pub gap_mm: Option<f64>,
    pub truth: Option<String>,
    /// The log shows the current of a short.
    pub shorted_log: bool,
    pub outcome: Outcome,
    /// The same with one repair switched off, by its name.
    pub without: BTreeMap<String, Outcome>,
    /// Part under or nearest to the hottest pixel of the last frame.
    pub last_frame: Option<String>,
    /// Part under or nearest to the hottest pixel of the smoothed difference.
    pub difference: Option<String>,
    pub error: Option<String>,
    pub simulate_s: f64,
    pub locate_s: f64,
}

/// What locating said, against the truth.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Outcome {
    /// Place of the truth among the suspects, from 1.
    pub rank: Option<usize>,
    pub first: Option<String>,
    pub first_probability: Option<f64>,
    /// Largest probability of any suspect of any spot.
    pub most_probability: f64,
    pub hot_spots: usize,
    /// Hot spots that no true source explains.
    pub false_spots: usize,
    /// The first hot spot against the truth.
    pub off_px: Option<f64>,
    pub off_mm: Option<f64>,
    /// The first suspect lies on the disturbance.
    pub blames: bool,
    /// A warning names the faulty part.
    pub warned: bool,
    /// The faulty part comes before every other part along the feeding track.
    pub end_above_path: bool,
    pub explained_share: Option<f64>,
    pub repairs: Vec<String>,
    pub warnings: Vec<String>,
}

impl Record {
    /// Whether nothing is wrong with the board.
    pub fn blank(&self) -> bool {
        self.truth.is_none()
    }

    /// Picture size in words.
    pub fn size(&self) -> String {
        format!("{}x{}", self.width_px, self.height_px)
    }
}

impl Outcome {
    /// Whether the faulty part is among the first `n` suspects.
    pub fn within(&self, n: usize) -> bool {
        self.rank.is_some_and(|rank| rank <= n)
    }

    /// Whether a blank board with this outcome is a false alarm: a hot spot, or a suspect at 0.2 or more.
    pub fn alarm(&self) -> bool {
        self.hot_spots > 0 || self.most_probability >= ALARM
    }
}

/// A suspect counts as an alarm from this probability on.
pub const ALARM: f64 = 0.2;
