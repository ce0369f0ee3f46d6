//! The layers that a take can be looked at in: on the map, in a lesson, in a handout.

pub mod colour;
pub mod ranges;
pub mod shown;
pub mod values;

use serde::{Deserialize, Serialize};

/// What the map shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Layer {
    /// Fitted rise at the end of injection.
    #[default]
    Rise,
    /// Standardised rise.
    Z,
    /// Time constant.
    TimeConstant,
    /// Mean of the frames before injection.
    Before,
    /// The current frame.
    Frame,
    /// The current frame minus the mean of the frames before.
    FrameRise,
}

impl Layer {
    /// All, in the order of the chooser.
    pub const ALL: [Self; 6] = [Self::Rise, Self::Z, Self::TimeConstant, Self::Before, Self::Frame, Self::FrameRise];

    /// Its name.
    pub fn words(self) -> &'static str {
        match self {
            Self::Rise => "Rise",
            Self::Z => "Rise over its noise (z)",
            Self::TimeConstant => "Time constant",
            Self::Before => "Picture before injection",
            Self::Frame => "Current frame",
            Self::FrameRise => "Current frame minus background",
        }
    }

    /// Whether it follows the time cursor.
    pub fn follows_time(self) -> bool {
        matches!(self, Self::Frame | Self::FrameRise)
    }

    /// Whether it needs a located take.
    pub fn needs_answer(self) -> bool {
        self != Self::Frame
    }
}
