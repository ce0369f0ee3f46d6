//! Meter readings before and after, with the leads taken off.

use joulemark_locate::readings::Reading;

use super::{Block, Known, Section, Table, columns, words};
use crate::case::{
    books::Books,
    reading::{Quantity, ReadingEntry, shown},
};

pub fn section(known: &Known<'_>) -> Section {
    let case = known.case;
    if case.readings.is_empty() {
        return Section::new("Meter readings", vec![Block::Text("No reading is on record.".into())]);
    }
    let mut readings: Vec<&ReadingEntry> = case.readings.iter().collect();
    // By stage, the case's own rail first: before and after stand under each other.
    readings.sort_by_key(|r| (r.rail != case.rail, r.rail.clone(), r.quantity.words(), r.against.clone(), r.after));
    let row = |r: &&ReadingEntry| {
        let against = if r.against.is_empty() { "ground" } else { &r.against };
        let face = if r.face.is_empty() { String::new() } else { format!(", {}", r.face) };
        let stage = if r.good_board { "good board".to_owned() } else { words::stage(case, r.after) };
        vec![
            format!("{} to {against}{face}", r.rail),
            r.quantity.words().to_owned(),
            stage,
            shown(r.value, r.quantity),
            net(r),
            words::when_and_who(&r.time, &r.by),
        ]
    };
    let table = Table {
        columns: columns([
            ("Rail", 1.1),
            ("What", 1.1),
            ("Stage", 1.3),
            ("Display", -0.9),
            ("Leads taken off", -1.2),
            ("When and who", 1.6),
        ]),
        rows: readings.iter().map(row).collect(),
    };
    let note = "OL: the display showed an open circuit. Meter leads are taken off ohms readings where their resistance was \
                measured; the range holds the doubt of the leads.";
    Section::new("Meter readings", vec![Block::Table(table), Block::Note(note.into())])
}

/// Ohms without the leads, with their range.
fn net(entry: &ReadingEntry) -> String {
    if entry.quantity != Quantity::Ohms || entry.value.is_none() {
        return String::new();
    }
    let Some(net) = Reading::from(entry).net_ohms(&Books::in_force().ranges.leads) else { return String::new() };
    if entry.meter_lead_ohms.is_none() {
        return "leads not known".to_owned();
    }
    let ohms = |v: f64| shown(Some(v), Quantity::Ohms);
    let (best, low, high) = (ohms(net.ohms), ohms(net.low_ohms), ohms(net.high_ohms));
    if low == high { best } else { format!("{best} ({low} to {high})") }
}
