//! Something the user should know about a recording that did load.

use std::fmt;

/// A structured warning: what was noticed, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// What was noticed, with the place (file, frame) where it matters.
    pub what: String,
    /// What the user can do; empty when nothing needs doing.
    pub remedy: String,
}

impl Note {
    /// A note with a remedy.
    pub fn new(what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { what: what.into(), remedy: remedy.into() }
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.remedy.is_empty() { f.write_str(&self.what) } else { write!(f, "{}: {}", self.what, self.remedy) }
    }
}

/// A number with its noun: "1 page", "3 pages".
pub(crate) fn count(number: usize, noun: &str) -> String {
    format!("{number} {noun}{}", if number == 1 { "" } else { "s" })
}
