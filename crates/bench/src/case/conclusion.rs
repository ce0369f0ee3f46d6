//! How a case ended: verdicts of repair checks as they were recorded, and the lead's signature.

use joulemark_locate::repair_check::VerdictKind;
use serde::{Deserialize, Serialize};

use super::Case;

/// A verdict that was put on record. It is a copy of what the check said on that day: a later version of the program, or
/// a changed case, does not change it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct VerdictEntry {
    /// When, in UTC.
    pub time: String,
    /// By whom.
    pub by: String,
    /// The take before.
    pub before: String,
    /// The take after.
    pub after: String,
    /// What was decided.
    pub verdict: VerdictKind,
    /// Why, one sentence each, with the numbers.
    #[serde(default)]
    pub because: Vec<String>,
    /// Parts that were lifted or replaced between the takes: the fault, where the verdict is "cleared".
    #[serde(default)]
    pub culprits: Vec<String>,
}

/// The lead's signature under a case.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignOff {
    /// When, in UTC.
    pub time: String,
    /// By whom.
    pub by: String,
    /// What they had to say; may be empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

impl Case {
    /// The newest verdict on record.
    pub fn verdict(&self) -> Option<&VerdictEntry> {
        self.verdicts.last()
    }

    /// Parts that were proven to be the fault: the newest verdict says "cleared", and these were lifted or replaced.
    pub fn confirmed_culprits(&self) -> &[String] {
        match self.verdict() {
            Some(entry) if entry.verdict == VerdictKind::Cleared => &entry.culprits,
            _ => &[],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_newest_verdict_confirms_a_part() {
        let entry = |verdict| VerdictEntry { verdict, culprits: vec!["C12".into()], ..VerdictEntry::default() };
        let mut case = Case { verdicts: vec![entry(VerdictKind::Cleared)], ..Case::default() };
        assert_eq!(case.confirmed_culprits(), ["C12"]);
        case.verdicts.push(entry(VerdictKind::StillThere));
        assert!(case.confirmed_culprits().is_empty());
    }
}
