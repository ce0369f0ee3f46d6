//! Practice cases: made-up instruments of a weather-buoy workshop with a known fault, for learning and for tests.
//!
//! Seeds change the layout, the culprit, the camera's pose, the short and the noise. On top of the simulator's own
//! simplifications: all power at the board goes into the short and the series parts on the way to it; parts of a second
//! board weigh nothing thermally (its bare plate is there); rails are named by their volts.

mod difficulty;
pub(super) mod layout;
pub(super) mod package;
mod recipes;
pub(super) mod stage;
pub(super) mod supply;
#[cfg(test)]
mod tests;

use super::SimulatedTake;
use crate::{Scene, align::Alignment, board::Board};
pub use difficulty::Difficulty;

/// Names of the scenarios, easiest first.
pub const NAMES: [&str; 6] = ["ceramic-capacitor", "lower-board-diode", "still-warm", "faint", "pulses", "nothing"];

/// A simulated case whose truth is known.
#[derive(Clone, Debug)]
pub struct PracticeCase {
    /// One of [`NAMES`].
    pub name: &'static str,
    /// The seed that it was made from.
    pub seed: u64,
    /// How hard it was made.
    pub difficulty: Difficulty,
    /// What the case is called.
    pub title: String,
    /// Two or three sentences for the user, the answer not among them.
    pub story: String,
    /// The drawing.
    pub board: Board,
    /// The rail that current is injected into.
    pub rail: String,
    /// The face in the picture.
    pub face: String,
    /// Both leads together.
    pub lead_ohms: f64,
    /// The recording and its truth.
    pub simulated: SimulatedTake,
    /// The same board filmed a second time in another way.
    pub again: Option<SimulatedTake>,
}

impl PracticeCase {
    /// What there is to locate in, under an alignment; no probe is marked.
    pub fn scene<'a>(&'a self, alignment: &'a Alignment) -> Scene<'a> {
        Scene {
            board: &self.board,
            face: &self.face,
            rail: &self.rail,
            alignment,
            lead_ohms: Some(self.lead_ohms),
            injection_mm: None,
        }
    }
}

/// Builds a practice case of usual difficulty; `None` when there is no scenario of that name. Takes some tenths of a second.
pub fn build(name: &str, seed: u64) -> Option<PracticeCase> {
    build_with(name, seed, Difficulty::Medium)
}

/// The same, easier or harder: the board is that of the seed at any difficulty.
pub fn build_with(name: &str, seed: u64, difficulty: Difficulty) -> Option<PracticeCase> {
    let recipe = match name {
        "ceramic-capacitor" => recipes::ceramic_capacitor,
        "lower-board-diode" => recipes::lower_board_diode,
        "still-warm" => recipes::still_warm,
        "faint" => recipes::faint,
        "pulses" => recipes::pulses,
        "nothing" => recipes::nothing,
        _ => return None,
    };
    Some(recipe(seed, difficulty))
}
