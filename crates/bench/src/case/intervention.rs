//! What was done to the board, part by part. Readings say after which of these they were taken.

pub use joulemark_locate::next_action::Doing;
use serde::{Deserialize, Serialize};

/// One thing that was done.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Intervention {
    /// Counted from 1 within the case, never used twice.
    pub number: u32,
    /// What.
    pub what: Doing,
    /// To which part; empty when to the whole board.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub part: String,
    /// When, in UTC.
    pub time: String,
    /// By whom.
    pub by: String,
}

impl Intervention {
    /// "C12 lifted".
    pub fn words(&self) -> String {
        match (self.part.is_empty(), self.what) {
            (true, Doing::Separated) => "halves separated".to_owned(),
            (true, what) => format!("board {}", what.done()),
            (false, what) => format!("{} {}", self.part, what.done()),
        }
    }
}
