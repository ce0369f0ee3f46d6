//! A millivolt survey: a fixed current into a hard short, and the drop to ground at points of the board.

pub use joulemark_locate::survey::SurveyPoint;
use serde::{Deserialize, Serialize};

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
