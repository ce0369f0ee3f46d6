//! The shelf's dialog: what is kept, found by name or rail.

use std::time::SystemTime;

use crate::shelf::{Entry, matching};

/// Drawings, and one line for each that cannot be read.
pub type Shelved = (Vec<Entry>, Vec<String>);

/// State of the dialog.
#[derive(Clone, Debug, Default)]
pub struct ShelfScreen {
    /// What is typed.
    pub text: String,
    /// The highlighted drawing.
    pub at: usize,
    /// What is on the shelf, or one line; `None` while it is looked at.
    pub found: Option<Result<Shelved, String>>,
}

impl ShelfScreen {
    /// The drawings that the typed words find.
    pub fn listed(&self) -> Vec<&Entry> {
        match &self.found {
            Some(Ok((entries, _))) => matching(entries, &self.text),
            _ => Vec::new(),
        }
    }
}

/// What the dialog asks for.
#[derive(Clone, Debug, PartialEq)]
pub enum ShelfCommand {
    /// Open it.
    Open,
    /// Take a version of a drawing.
    Take { id: String, version: u32 },
    /// Leave everything as it was.
    Cancel,
}

/// How long ago, in words.
pub fn ago(saved: SystemTime, now: SystemTime) -> String {
    let seconds = now.duration_since(saved).unwrap_or_default().as_secs();
    match (seconds / 60, seconds / 3600, seconds / 86_400) {
        (0, ..) => "just now".to_owned(),
        (minutes, 0, _) => format!("{minutes} min ago"),
        (_, hours, 0) => format!("{hours} h ago"),
        (.., 1) => "yesterday".to_owned(),
        (.., days) => format!("{days} days ago"),
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    #[test]
    fn ages_are_told_in_the_unit_that_fits() {
        let now = SystemTime::UNIX_EPOCH + Duration::from_secs(10_000_000);
        let told = |seconds| ago(now - Duration::from_secs(seconds), now);
        assert_eq!(
            [5, 600, 7200, 90_000, 900_000].map(told),
            ["just now", "10 min ago", "2 h ago", "yesterday", "10 days ago"]
        );
        assert_eq!(ago(now + Duration::from_secs(9), now), "just now", "a clock that was put back");
    }
}
