//! Practice cases: made-up instruments of a weather-buoy workshop with a known fault, for learning and for tests.
//!
//! Seeds change the layout, the culprit, the camera's pose, the short and the noise. On top of the simulator's own
//! simplifications: all power at the board goes into the short and the series parts on the way to it; parts of a second
//! board weigh nothing thermally (its bare plate is there); rails are named by their volts.

pub(super) mod layout;
pub(super) mod package;
mod recipes;
pub(super) mod stage;
pub(super) mod supply;
#[cfg(test)]
mod tests;

use super::SimulatedTake;
use crate::board::Board;

/// Names of the scenarios, easiest first.
pub const NAMES: [&str; 4] = ["ceramic-capacitor", "lower-board-diode", "faint", "nothing"];

/// A simulated case whose truth is known.
#[derive(Clone, Debug)]
pub struct PracticeCase {
    /// One of [`NAMES`].
    pub name: &'static str,
    /// The seed that it was made from.
    pub seed: u64,
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
}

/// Builds a practice case; `None` when there is no scenario of that name. Takes some tenths of a second.
pub fn build(name: &str, seed: u64) -> Option<PracticeCase> {
    let index = NAMES.iter().position(|n| *n == name)?;
    Some(match index {
        0 => recipes::ceramic_capacitor(seed),
        1 => recipes::lower_board_diode(seed),
        2 => recipes::faint(seed),
        _ => recipes::nothing(seed),
    })
}
