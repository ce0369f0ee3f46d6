//! The record behind a report: the case log, the files with their digests, the program, and the signature.

use super::{Block, Known, Section, Table, columns, hashes::Hashed, words};
use crate::case::{Case, case_log::LogFile};

/// The newest lines that are printed.
const MOST_LINES: usize = 40;

/// The newest time that anything in the case carries.
pub fn newest_time(case: &Case, log: &LogFile) -> Option<String> {
    let mut times: Vec<&str> = log.lines.iter().map(|l| l.time.as_str()).collect();
    times.extend(case.readings.iter().map(|r| r.time.as_str()));
    times.extend(case.interventions.iter().map(|i| i.time.as_str()));
    times.extend(case.verdicts.iter().map(|v| v.time.as_str()));
    times.extend(case.plan.overrides.iter().map(|o| o.time.as_str()));
    times.extend(case.connections.iter().flat_map(|c| &c.acknowledged).map(|a| a.time.as_str()));
    times.extend(case.sign_off.iter().map(|s| s.time.as_str()));
    times.push(&case.device.opened);
    // ISO 8601 in UTC sorts as text; what only looks like a time does not count.
    times.into_iter().filter(|t| words::when(t) != *t).max().map(str::to_owned)
}

/// The newest lines of the case log.
pub fn log(known: &Known<'_>) -> Section {
    let lines = &known.log.lines;
    if lines.is_empty() {
        return Section::new("Case log", vec![Block::Text("The case log is empty.".into())]);
    }
    let earlier = lines.len().saturating_sub(MOST_LINES);
    let row = |l: &crate::case::case_log::LogLine| vec![words::when(&l.time), l.by.clone(), l.action.clone()];
    let table = Table {
        columns: columns([("When", 1.35), ("Who", 0.7), ("What", 4.0)]),
        rows: lines[earlier..].iter().map(row).collect(),
    };
    let mut blocks = vec![Block::Table(table)];
    let mut notes = Vec::new();
    if earlier > 0 {
        notes.push(format!("{earlier} earlier lines are in case-log.csv."));
    }
    if known.log.damaged > 0 {
        notes.push(format!("{} damaged lines could not be read.", known.log.damaged));
    }
    if !notes.is_empty() {
        blocks.push(Block::Note(notes.join(" ")));
    }
    Section::new("Case log", blocks)
}

/// The program and the files.
pub fn data(known: &Known<'_>, hashes: Vec<Hashed>) -> Section {
    let row = |h: Hashed| {
        let size = match h.files {
            Some(files) => format!("{} bytes in {files} files", h.bytes),
            None => format!("{} bytes", h.bytes),
        };
        vec![format!("{}: {}", words::capital(&h.what), h.name), size, h.digest]
    };
    let folders = hashes.iter().any(|h| h.files.is_some());
    let table = Table {
        columns: columns([("File", 1.1), ("Size", -0.7), ("SHA-256", 3.5)]),
        rows: hashes.into_iter().map(row).collect(),
    };
    let mut note = "The same files and the same program give the same report, byte for byte.".to_owned();
    if folders {
        note += " A folder's digest is that of the list of its files' digests and names.";
    }
    let program = format!(
        "Joulemark {} worked this out from the files below. Readings, what was done and who did it are as typed at the bench.",
        env!("CARGO_PKG_VERSION")
    );
    let mut blocks = vec![Block::Text(program)];
    if known.case.practice.is_some() {
        let text = "The recording was made by the program's simulator, not by a camera: no device stands behind it.";
        blocks.push(Block::Box { title: words::SIMULATED.into(), lines: vec![text.into()] });
    }
    blocks.extend([Block::Table(table), Block::Note(note)]);
    Section::new("Software and data", blocks)
}

/// The signature, or the place for it.
pub fn signature(known: &Known<'_>) -> Section {
    let signed = known.case.sign_off.as_ref().map(|s| {
        let note = if s.note.is_empty() { String::new() } else { format!(": {}", s.note) };
        format!("Signed off in the case by {}, {}{note}", s.by, words::when(&s.time))
    });
    Section::new("Signature", vec![Block::Signature { signed }])
}
