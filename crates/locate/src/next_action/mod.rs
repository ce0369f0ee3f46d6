//! The next sensible thing to do, with its reason: from readings, plan, takes, what was found and what was done.
//!
//! It proposes, the technician decides. [`next_action`] is a pure function of a [`State`]; its order of questions is
//! written at its top. Injection is never proposed before the cautions were read for this connection and while a plan
//! is missing or refused.

pub mod cautions;
mod choose;
mod from_located;
mod state;

pub use choose::next_action;
pub use state::{Deed, Doing, Filmed, Found, Lead, Plan, State, Tried};

use crate::readings::decision::Proposal;

/// A thing to do.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// Take a reading, as the table of measurements proposes.
    Measure(Proposal),
    /// Take stacked halves apart.
    SeparateHalves,
    /// Go on with another rail, which is more abnormal.
    TakeRail {
        /// Its name.
        rail: String,
    },
    /// State nominal volts, or the lowest volts that the rail works at.
    StateNominal,
    /// Work out the limits.
    MakePlan,
    /// Read and acknowledge the cautions for this connection.
    ReadCautions,
    /// Film before the injection.
    FilmBefore,
    /// Inject a step of the plan.
    Inject {
        /// Counted from 0.
        step: usize,
    },
    /// Look for the heat in the take.
    Locate,
    /// Film the other face.
    OtherFace {
        /// Its name.
        face: String,
    },
    /// Move the camera closer.
    FilmCloser,
    /// Feed the rail at another point.
    MoveProbe,
    /// Coat a shiny part matt.
    Coat {
        /// Its designator.
        part: String,
    },
    /// Lift a part, then measure again.
    Lift {
        /// Its designator.
        part: String,
    },
    /// Measure again after something was done, before anything else.
    MeasureAgain {
        /// The number of what was done.
        after: u32,
    },
    /// Fit a new part in place of a lifted one.
    FitNew {
        /// Its designator.
        part: String,
    },
    /// Look with eyes, clean and dry.
    LookCleanDry,
    /// Survey the millivolts.
    Survey,
    /// Film drying alcohol or melting frost.
    AlcoholOrFrost,
    /// Record that the repair was checked.
    RecordRepairCheck,
    /// Nothing left that helps, or nothing that is allowed.
    Stop,
    /// The rail is repaired and checked.
    Done,
}

/// A proposal.
#[derive(Clone, Debug, PartialEq)]
pub struct NextAction {
    /// What.
    pub action: Action,
    /// What, in words.
    pub say: String,
    /// Why.
    pub because: String,
    /// What the hands must know for it.
    pub cautions: &'static [&'static str],
}

#[cfg(test)]
mod tests;
