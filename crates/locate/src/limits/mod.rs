//! How many volts and amps may go into a rail, step by step, and which rule says so.
//!
//! Pure: rules are data ([`Rules`]), what is known is [`Inputs`], the answer is a [`Plan`]. What is not known makes the
//! plan stricter. Volts are magnitudes; a negative rail turns the leads round ([`Plan::swap_leads`]).

mod expect;
mod inputs;
mod ladder;
mod on_board;
mod plan;
mod remarks;
mod rules;
#[cfg(test)]
mod tests;
mod words;

pub use crate::readings::RailUse;
pub use inputs::{Back, Camera, Confirmations, Inputs, Weakest};
pub use ladder::plan;
pub use plan::{Ceiling, Expected, Plan, Said, Seen, Step};
pub use rules::{Caution, Change, Changed, LIMITS_RON, Rule, Rules, RulesError};
pub use words::PlanReport;
