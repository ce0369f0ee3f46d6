//! What was done to the board, part by part. Readings say after which of these they were taken.

use serde::{Deserialize, Serialize};

/// A thing that hands do to a board.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Doing {
    /// Taken off, or one end of it.
    #[default]
    Lifted,
    /// Another one put in.
    Replaced,
    /// Cleaned.
    Cleaned,
    /// Dried.
    Dried,
    /// Coated matt, so that the camera sees it.
    Coated,
    /// The halves of a stack taken apart.
    Separated,
}

impl Doing {
    /// All, in the order of the chooser.
    pub const ALL: [Self; 6] =
        [Self::Lifted, Self::Replaced, Self::Cleaned, Self::Dried, Self::Coated, Self::Separated];

    /// As something done: "lifted".
    pub fn done(self) -> &'static str {
        match self {
            Self::Lifted => "lifted",
            Self::Replaced => "replaced",
            Self::Cleaned => "cleaned",
            Self::Dried => "dried",
            Self::Coated => "coated",
            Self::Separated => "separated",
        }
    }

    /// As something to do: "Lift".
    pub fn to_do(self) -> &'static str {
        match self {
            Self::Lifted => "Lift",
            Self::Replaced => "Replace",
            Self::Cleaned => "Clean",
            Self::Dried => "Dry",
            Self::Coated => "Coat",
            Self::Separated => "Separate the halves",
        }
    }
}

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
