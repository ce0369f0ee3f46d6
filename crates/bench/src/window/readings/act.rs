//! From what the hands ask to what changes in the case.

use super::{
    super::{
        bench_edit::{BenchEdit, BenchPart},
        session::Session,
    },
    ReadingsScreen, paste, table,
};
use crate::case::{
    clock,
    reading::{Quantity, ReadingEntry},
};

/// A reading typed into the table; taking one away where `value` is `None`. Nothing when it stands there already.
pub fn enter(
    session: &Session,
    screen: &ReadingsScreen,
    rail: &str,
    quantity: Quantity,
    value: Option<Option<f64>>,
) -> Option<BenchEdit> {
    let place = table::place(session, screen, rail, quantity);
    let Some(value) = value else {
        let mut readings = session.document.case.readings.clone();
        let at = readings.iter().position(|r| r.same_place(&place))?;
        let gone = readings.remove(at);
        return Some(BenchEdit {
            words: format!("take away {}", gone.words()),
            record: Some(format!("reading taken away: {}", gone.words())),
            part: BenchPart::Readings(readings),
        });
    };
    let entry = ReadingEntry { value, ..place };
    let (readings, words) = put(session, vec![entry])?;
    Some(BenchEdit {
        words: format!("enter {words}"),
        record: Some(format!("measured {words}")),
        part: BenchPart::Readings(readings),
    })
}

/// Readings from a pasted log, as one change.
pub fn take_pasted(session: &Session, screen: &ReadingsScreen) -> Option<BenchEdit> {
    let pasted = screen.paste.as_ref()?;
    let found = paste::found(session, screen, pasted);
    let entries: Vec<ReadingEntry> = found
        .into_iter()
        .filter_map(|line| line.read.ok())
        .map(|read| ReadingEntry { value: read.value, ..table::place(session, screen, &read.rail, read.quantity) })
        .collect();
    let (readings, words) = put(session, entries)?;
    Some(BenchEdit {
        words: "take readings from a meter's log".to_owned(),
        record: Some(format!("measured, from the meter's log: {words}")),
        part: BenchPart::Readings(readings),
    })
}

/// Puts readings in, each in place of an earlier one of the same thing, and says what they were.
fn put(session: &Session, entries: Vec<ReadingEntry>) -> Option<(Vec<ReadingEntry>, String)> {
    let case = &session.document.case;
    let mut readings = case.readings.clone();
    let mut said = Vec::new();
    for mut entry in entries {
        let there = readings.iter().position(|r| r.same_place(&entry));
        if there.is_some_and(|at| readings[at].value == entry.value) {
            continue;
        }
        entry.time = clock::now();
        entry.by.clone_from(&session.journal.by);
        entry.meter_lead_ohms = case.meter_lead_ohms.filter(|_| entry.quantity == Quantity::Ohms);
        said.push(entry.words());
        match there {
            Some(at) => readings[at] = entry,
            None => readings.push(entry),
        }
    }
    (!said.is_empty()).then(|| (readings, said.join("; ")))
}
