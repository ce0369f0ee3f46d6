//! What a recording shows: an injection, or what cools a board where it stays cool longest.

use joulemark_locate::next_action::cautions;
use serde::{Deserialize, Serialize};

/// What happens on a take.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shows {
    /// Current warms a board that was at rest: what locating understands.
    #[default]
    Injection,
    /// Alcohol dries while current flows. Common practice, no published source.
    DryingAlcohol,
    /// Frost melts while current flows. Common practice, no published source.
    MeltingFrost,
}

impl Shows {
    /// All, in the order of the chooser.
    pub const ALL: [Self; 3] = [Self::Injection, Self::DryingAlcohol, Self::MeltingFrost];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Injection => "an injection",
            Self::DryingAlcohol => "drying alcohol",
            Self::MeltingFrost => "melting frost",
        }
    }

    /// Whether eyes have to judge it: the model of a board that warms from rest does not hold while something on it
    /// evaporates or melts.
    pub fn is_plain(self) -> bool {
        self != Self::Injection
    }

    /// What to look for; `None` for an injection, which is located.
    pub fn look_for(self) -> Option<&'static str> {
        match self {
            Self::Injection => None,
            Self::DryingAlcohol => Some("Step through it and watch where the board dries first."),
            Self::MeltingFrost => Some("Step through it and watch where the frost melts first."),
        }
    }

    /// What the hands must know; empty for an injection, whose cautions the plan has.
    pub fn cautions(self) -> &'static [&'static str] {
        if self.is_plain() { cautions::ALCOHOL_OR_FROST } else { &[] }
    }

    /// For leaving the usual kind out of files.
    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for it")]
    pub(super) fn is_usual(&self) -> bool {
        !self.is_plain()
    }
}
