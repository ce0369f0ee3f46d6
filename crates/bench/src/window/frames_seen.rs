//! What is found out about a take's frames once, when it is read: the hottest pixel of each, drift, jumps of the level.

use joulemark_frames::{Take, Unit};
use joulemark_locate::readiness;

/// What the frames say.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FramesSeen {
    /// The hottest pixel of each frame, in kelvin; empty for relative takes.
    pub hottest_k: Vec<f32>,
    /// Drift of the level before the current, in kelvin a minute.
    pub drift_k_per_min: Option<f64>,
    /// How often the level jumps as a whole.
    pub gain_jumps: Option<usize>,
}

impl FramesSeen {
    /// Looks through all frames. Not for the window's own thread.
    pub fn of(take: &Take) -> Self {
        let hottest = |frame: usize| {
            take.stack.frame(frame).iter().copied().filter(|v| v.is_finite()).fold(f32::NEG_INFINITY, f32::max)
        };
        let frames = if take.unit == Unit::Kelvin { take.stack.shape().frames } else { 0 };
        Self {
            hottest_k: (0..frames).map(hottest).collect(),
            drift_k_per_min: readiness::drift_k_per_min(take),
            gain_jumps: readiness::gain_jumps(take),
        }
    }
}
