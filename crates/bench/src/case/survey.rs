//! A millivolt survey: a fixed current into a hard short, and the drop to ground at points of the board.

use serde::{Deserialize, Serialize};

/// One point that the probe touched.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SurveyPoint {
    /// The face that it is on.
    pub face: String,
    /// Where, right of the face's origin.
    pub x_mm: f64,
    /// Where, down from the face's origin.
    pub y_mm: f64,
    /// The drop to ground in millivolts; `None` while it was not typed yet.
    #[serde(default)]
    pub millivolts: Option<f64>,
}

/// All points of one survey.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Survey {
    /// The rail that was fed.
    pub rail: String,
    /// After which intervention; 0 as the device came in.
    #[serde(default)]
    pub after: u32,
    /// The current, the same for all points.
    pub amps: f64,
    /// The points, in the order in which they were touched.
    #[serde(default)]
    pub points: Vec<SurveyPoint>,
}
