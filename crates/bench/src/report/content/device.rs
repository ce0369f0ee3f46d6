//! Which device it is, and what is wrong with it.

use super::{Block, Known, Section, words};
use crate::case::{TakeEntry, shows::Shows};

pub fn section(known: &Known<'_>) -> Section {
    let (case, board) = (known.case, known.board);
    let model = if case.device.model.is_empty() { &board.name } else { &case.device.model };
    let rail = board.rail(&case.rail).and_then(|r| r.nominal_volts);
    let rail = match rail {
        Some(volts) => format!("{}, nominally {volts} V", case.rail),
        None => case.rail.clone(),
    };
    let take = |t: &TakeEntry| {
        let shows = if t.shows == Shows::Injection { String::new() } else { format!("{}, ", t.shows.words()) };
        format!("{} ({shows}face {}, {})", t.name, t.face, words::stage(case, t.after))
    };
    let takes: Vec<String> = case.takes.iter().map(take).collect();
    let mut facts: Vec<(String, String)> = [
        ("Device", words::subject(case)),
        ("Board model", model.clone()),
        ("Serial number", case.device.serial.clone()),
        ("Symptom", case.device.symptom.clone()),
        ("Opened", words::when(&case.device.opened)),
        ("Rail looked at", rail),
        ("Recordings", takes.join("; ")),
        ("Notes", case.notes.trim().to_owned()),
    ]
    .into_iter()
    .filter(|(_, value)| !value.trim().is_empty())
    .map(|(name, value)| (name.to_owned(), value))
    .collect();
    if let Some(truth) = &case.practice {
        let part = truth.part.as_deref().unwrap_or("none");
        let text = format!(
            "simulated recording, scenario {}, seed {}; the simulated short: {part}",
            truth.scenario, truth.seed
        );
        facts.push(("Practice case".into(), text));
    }
    Section::new("Device", vec![Block::Facts(facts)])
}
