//! What the take looks at, and the choices that the computation leaves open.

use crate::{align::Alignment, board::Board};

/// What the take looks at.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The drawing.
    pub board: &'a Board,
    /// Name of the face in the picture.
    pub face: &'a str,
    /// Name of the rail that current is injected into.
    pub rail: &'a str,
    /// Pixels to millimetres.
    pub alignment: &'a Alignment,
    /// Resistance of the leads, both together.
    pub lead_ohms: Option<f64>,
}

/// Choices. The defaults are those at which every accuracy figure is quoted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Probability of one or more false hot spots in a recording of a healthy board.
    pub false_alarm: f64,
    /// Most hot spots to report.
    pub most_spots: usize,
    /// Treat pixels that are ever "not a number" as absent instead of refusing the take.
    pub mask_not_a_number: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self { false_alarm: 0.005, most_spots: 8, mask_not_a_number: false }
    }
}
