//! What the engine says about rails, beside the table and as a ranking.

use egui::{Color32, Ui};

use super::super::{command::Command, screen::Screen, session::Session};
use crate::theme::Palette;

/// How heavily a rail's readings weigh.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// Nothing measured, or nothing odd.
    Calm,
    /// Worth another look.
    Odd,
    /// Shorted.
    Shorted,
}

impl Weight {
    /// Colour of the words; the words themselves say it too.
    pub fn colour(self, p: &Palette) -> Color32 {
        match self {
            Self::Calm => p.weak,
            Self::Odd => p.caution,
            Self::Shorted => p.refusal,
        }
    }
}

/// What is said about one rail.
#[derive(Clone, Debug, PartialEq)]
pub struct RailSays {
    /// Typical ranges, short.
    pub typical: String,
    /// Where they come from.
    pub source: String,
    /// What the readings mean, short.
    pub says: String,
    /// How heavily.
    pub weight: Weight,
}

/// The ranking, and what to measure next.
pub fn ranking(_ui: &mut Ui, _session: &Session, _screen: &mut Screen, _out: &mut Vec<Command>) {}
