//! The answer: a ladder of steps, each ceiling with the rule that binds it.

use serde::{Deserialize, Serialize};

use super::{Changed, RailUse};

/// A sentence and where it comes from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Said {
    /// The rule or subject, a name for files.
    pub id: String,
    /// In words.
    pub words: String,
    /// Where it comes from.
    pub source: String,
}

/// A ceiling and the rule that binds it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ceiling {
    /// The most.
    pub value: f64,
    /// The rule's name.
    pub rule: String,
    /// The rule in words.
    pub because: String,
    /// Where it comes from.
    pub source: String,
}

/// What should flow, lowest and highest, from the measured resistance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Expected {
    /// Current.
    pub amps: (f64, f64),
    /// Heat at the board, that in the leads taken off.
    pub watts: (f64, f64),
    /// Rise at the part after the dwell; kelvin.
    pub rise_k: (f64, f64),
}

/// Whether the camera should see the expected rise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Seen {
    /// Even the lowest rise is seen.
    Yes,
    /// The highest is, the lowest is not.
    Perhaps,
    /// Not even the highest is.
    No,
    /// Resistance or camera is not known, or the take has no temperatures.
    Unknown,
}

/// One step of the ladder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// Counted from 1.
    pub number: usize,
    /// The most volts at the supply, a magnitude.
    pub volts: Ceiling,
    /// The most amps.
    pub amps: Ceiling,
    /// The longest time with current on, in seconds.
    pub dwell_s: Ceiling,
    /// The most energy: volts times amps times dwell is never more.
    pub joules: Ceiling,
    /// Stop at this corrected peak, in °C; `None` where the take has no temperatures.
    pub stop_c: Option<Ceiling>,
    /// What should flow; `None` where the resistance is not known.
    pub expected: Option<Expected>,
    /// The smallest rise that counts as seen, in kelvin.
    pub smallest_seen_k: Option<f64>,
    /// Whether the camera should see it.
    pub seen: Seen,
    /// What else to know at this step.
    pub notes: Vec<String>,
}

/// A plan for one rail.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// The rail.
    pub rail: String,
    /// What it was taken for; `None` when neither stated nor told by its volts.
    pub kind: Option<RailUse>,
    /// Why nothing may be injected; there are no steps then.
    pub refusals: Vec<Said>,
    /// What has to be confirmed before current flows.
    pub pending: Vec<Said>,
    /// The ladder.
    pub steps: Vec<Step>,
    /// The first step that the camera should see for certain: more adds risk, not information.
    pub enough: Option<usize>,
    /// What to bear in mind.
    pub warnings: Vec<Said>,
    /// Changes to rules that were asked for, taken or not.
    pub changes: Vec<Changed>,
    /// Whether red goes to ground, for a negative rail.
    pub swap_leads: bool,
}
