//! Which takes are compared, and what the hands put on record.

use super::{
    super::bench_edit::{BenchEdit, BenchPart},
    super::session::Session,
    CompareCommand, CompareScreen,
};
use crate::case::{
    Case, clock,
    conclusion::{SignOff, VerdictEntry},
};

/// The takes to be compared: as chosen, else the newest one and the newest from before what was done last. `None` with
/// fewer than two takes.
pub fn pair(case: &Case, chosen: &CompareScreen) -> Option<(String, String)> {
    let takes: Vec<_> = case.takes.iter().filter(|t| !t.shows.is_plain()).collect();
    let there = |name: &Option<String>| takes.iter().find(|t| Some(&t.name) == name.as_ref()).copied();
    let after = there(&chosen.after).or(takes.last().copied())?;
    let earlier = || takes.iter().rfind(|t| t.after < after.after).or(takes.first()).copied();
    let before = there(&chosen.before).or_else(earlier).filter(|b| b.name != after.name)?;
    Some((before.name.clone(), after.name.clone()))
}

/// The change that a command asks for, or why it is refused.
///
/// # Errors
/// One line that says why.
pub fn edit(session: &Session, command: &CompareCommand) -> Result<BenchEdit, String> {
    let (case, by) = (&session.document.case, session.journal.by.clone());
    if by.is_empty() && *command != CompareCommand::Unsign {
        return Err("say who is at the bench first: verdict and signature carry a name".to_owned());
    }
    match command {
        CompareCommand::Record => {
            let compared = session.compared().ok_or("nothing was compared yet")?;
            let (before, after) = compared.names();
            let verdict = &compared.check.verdict;
            let entry = |name| case.takes.iter().find(|t| t.name == name);
            let culprits = match entry(before).zip(entry(after)) {
                Some((before, after)) => case.parts_touched(before, after),
                None => Vec::new(),
            };
            let words = verdict.kind.words();
            let recorded = VerdictEntry {
                time: clock::now(),
                by,
                before: before.to_owned(),
                after: after.to_owned(),
                verdict: verdict.kind,
                because: verdict.because.clone(),
                culprits,
            };
            let verdicts = [case.verdicts.clone(), vec![recorded]].concat();
            let record = format!("repair check, {before} against {after}: {words}");
            Ok(BenchEdit {
                words: format!("record the verdict: {words}"),
                record: Some(record),
                part: BenchPart::Verdicts(verdicts),
            })
        }
        CompareCommand::SignOff(note) => {
            if case.verdicts.is_empty() {
                return Err("put a verdict on record first: there is nothing to sign".to_owned());
            }
            let note = note.trim().to_owned();
            let record =
                if note.is_empty() { "case signed off".to_owned() } else { format!("case signed off: {note}") };
            Ok(BenchEdit {
                words: "sign the case off".to_owned(),
                record: Some(record),
                part: BenchPart::SignOff(Some(SignOff { time: clock::now(), by, note })),
            })
        }
        CompareCommand::Unsign => Ok(BenchEdit {
            words: "take the signature back".to_owned(),
            record: Some("signature taken back".to_owned()),
            part: BenchPart::SignOff(None),
        }),
        _ => Err("that changes nothing in the case".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{TakeEntry, shows::Shows};

    #[test]
    fn the_newest_take_is_held_against_the_newest_from_before_the_repair() {
        let take = |name: &str, after| TakeEntry { name: name.into(), after, ..TakeEntry::default() };
        let frost = TakeEntry { shows: Shows::MeltingFrost, ..take("frost", 2) };
        let mut case = Case { takes: vec![take("a", 0)], ..Case::default() };
        let chosen = CompareScreen::default();
        assert_eq!(pair(&case, &chosen), None);
        case.takes.extend([take("b", 0), take("c", 1), take("d", 2), frost]);
        let names = |b: &str, a: &str| Some((b.to_owned(), a.to_owned()));
        assert_eq!(pair(&case, &chosen), names("c", "d"));
        let chosen = CompareScreen { before: Some("a".into()), ..CompareScreen::default() };
        assert_eq!(pair(&case, &chosen), names("a", "d"));
        // A take cannot be held against itself.
        let chosen = CompareScreen { before: Some("d".into()), ..CompareScreen::default() };
        assert_eq!(pair(&case, &chosen), None);
    }
}
