//! Which takes a report shows, and what is found in them.

use std::sync::Arc;

use joulemark_frames::Progress;

use crate::{
    case::{
        Case, CaseFolder, TakeEntry,
        shows::Shows,
        told::{Told, compare},
    },
    report::Options,
};
use joulemark_locate::repair_check::RepairCheck;

/// A take of the report.
pub struct Shown {
    /// As the case has it.
    pub entry: TakeEntry,
    /// What was found, or why nothing could be.
    pub told: Result<Arc<Told>, String>,
}

impl Shown {
    /// What was found.
    pub fn found(&self) -> Option<&Told> {
        self.told.as_deref().ok()
    }
}

/// The takes of the report.
#[derive(Default)]
pub struct Takes {
    /// The one that suspects come from; with an [`Self::after`], the one before the repair.
    pub first: Option<Shown>,
    /// The one after the repair.
    pub after: Option<Shown>,
    /// Their repair check.
    pub check: Option<RepairCheck>,
}

impl Takes {
    /// Both, in the order of time.
    pub fn all(&self) -> impl Iterator<Item = &Shown> {
        self.first.iter().chain(&self.after)
    }
}

/// The take before and the take after: those of the newest verdict, else the newest takes of the first and the last stage
/// that have any. Only one where all takes are of one stage.
pub(crate) fn choose(case: &Case) -> (Option<&TakeEntry>, Option<&TakeEntry>) {
    let named = |name: &str| case.takes.iter().find(|t| t.name == name);
    if let Some((before, after)) = case.verdict().and_then(|v| named(&v.before).zip(named(&v.after))) {
        return (Some(before), Some(after));
    }
    // Drying alcohol and melting frost are for the eye: nothing is located in them.
    let takes = || case.takes.iter().filter(|t| t.shows == Shows::Injection);
    let first = takes().map(|t| t.after).min();
    let last = takes().map(|t| t.after).max();
    let newest = |stage: Option<u32>| takes().rev().find(|t| Some(t.after) == stage);
    (newest(first), newest(last).filter(|_| first != last))
}

/// Loads the takes, locates in them and holds one against the other.
///
/// # Errors
/// When the work is cancelled.
pub fn tell(
    folder: &CaseFolder,
    options: &Options,
    progress: &dyn Progress,
    warnings: &mut Vec<String>,
) -> anyhow::Result<Takes> {
    let mut show = |entry: &TakeEntry| -> anyhow::Result<Shown> {
        let mut source = folder.source(entry);
        source.mask_nan = options.mask_nan;
        source.memory_mib = options.memory_mib;
        let told = match Told::of(&source, progress) {
            Ok(told) => Ok(Arc::new(told)),
            Err(error) if progress.cancelled() => return Err(error),
            Err(error) => {
                warnings.push(format!("take '{}' could not be located: {error}", entry.name));
                Err(error.to_string())
            }
        };
        Ok(Shown { entry: entry.clone(), told })
    };
    let (first, after) = choose(&folder.case);
    let first = first.map(&mut show).transpose()?;
    let after = after.map(&mut show).transpose()?;
    let check = first.as_ref().zip(after.as_ref()).and_then(|(before, after)| {
        let bench = folder.case.repair_bench(&before.entry, &after.entry);
        Some(compare(before.found()?, after.found()?, &bench))
    });
    Ok(Takes { first, after, check })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::conclusion::VerdictEntry;

    #[test]
    fn the_verdicts_takes_go_before_the_newest_of_the_stages() {
        let take = |name: &str, after| TakeEntry { name: name.into(), after, ..TakeEntry::default() };
        let mut case = Case::default();
        assert!(matches!(choose(&case), (None, None)));
        case.takes = vec![take("a", 0), take("b", 0)];
        let names = |case: &Case| {
            let (first, after) = choose(case);
            (first.map(|t| t.name.clone()).unwrap_or_default(), after.map(|t| t.name.clone()).unwrap_or_default())
        };
        assert_eq!(names(&case), ("b".into(), String::new()));
        case.takes.extend([take("c", 1), take("d", 2)]);
        assert_eq!(names(&case), ("b".into(), "d".into()));
        let verdict = |after: &str| VerdictEntry { before: "a".into(), after: after.into(), ..VerdictEntry::default() };
        case.verdicts = vec![verdict("c")];
        assert_eq!(names(&case), ("a".into(), "c".into()));
        case.verdicts = vec![verdict("gone")];
        assert_eq!(names(&case), ("b".into(), "d".into()));
        case.takes.push(TakeEntry { shows: Shows::MeltingFrost, ..take("e", 3) });
        assert_eq!(names(&case), ("b".into(), "d".into()));
    }
}
