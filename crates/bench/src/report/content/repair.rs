//! What came out, what was done to the board, and the proof of the repair.

use joulemark_locate::repair_check::{RepairCheck, Scaling, VerdictKind};

use super::{Block, Known, Section, Table, columns, words};
use crate::{
    case::conclusion::VerdictEntry,
    numbers::{percent, significant, with_error},
};

/// Most parts in the table of changes.
const MOST_PARTS: usize = 8;

/// The result in a frame: the verdict on record, else what the check says, else who is suspected.
pub fn result(known: &Known<'_>) -> Section {
    Section::new("Result", vec![headline(known)])
}

fn headline(known: &Known<'_>) -> Block {
    let (case, takes) = (known.case, known.takes);
    if let Some(entry) = case.verdict() {
        let mut lines = vec![recorded(entry)];
        lines.extend(entry.because.iter().map(|b| words::sentence(b)));
        let parts = case.confirmed_culprits();
        if !parts.is_empty() {
            lines.push(format!("Proven to be the fault: {}.", parts.join(", ")));
        }
        if let Some(other) = differs(known) {
            lines.push(format!(
                "The check worked out for this report says otherwise: {}. See \"Repair check\" below before the device leaves.",
                other.words()
            ));
        }
        return Block::Box { title: format!("Repair check: {}", entry.verdict.words()), lines };
    }
    if let Some(check) = &takes.check {
        let mut lines: Vec<String> = check.verdict.because.iter().map(|b| words::sentence(b)).collect();
        lines.push("This verdict is worked out for this report; it was not put on record at the bench.".into());
        return Block::Box { title: format!("Repair check: {}", check.verdict.kind.words()), lines };
    }
    let proof = "A suspicion is no proof: there is no repair check on record.".to_owned();
    let Some(shown) = &takes.first else {
        let lines = vec!["Nothing was filmed; this report holds readings and what was done.".into()];
        return Block::Box { title: "No recording".into(), lines };
    };
    let Some(told) = shown.found() else {
        let why = shown.told.as_ref().err().cloned().unwrap_or_default();
        return Block::Box { title: "The recording could not be located".into(), lines: vec![why] };
    };
    let Some((_, answer)) = told.located.leading() else {
        let lines = vec!["The recording shows no place that warms with the current.".into(), proof];
        return Block::Box { title: "Nothing above the noise".into(), lines };
    };
    let most = answer.nothing_probability.max(answer.off_drawing_probability);
    match answer.suspects.first().filter(|s| s.probability >= most) {
        Some(first) => {
            let kind = told.loaded.board.part(&first.part).map_or("part", |(_, p)| p.kind.words());
            let title = format!("First suspected on {}: {}, {}", case.rail, first.part, percent(first.probability));
            let mut lines = vec![format!("{} is a {kind} on face {}.", first.part, first.face)];
            if !first.group.is_empty() {
                lines.push(format!("The picture cannot tell it from {}.", first.group.join(", ")));
            }
            lines.push(proof);
            Block::Box { title, lines }
        }
        None if answer.off_drawing_probability > answer.nothing_probability => {
            let title = format!("Something that is not on the drawing, {}", percent(answer.off_drawing_probability));
            Block::Box { title, lines: vec!["The heat is where the drawing has no part of the rail.".into(), proof] }
        }
        None => {
            let title = format!("Probably not the short, {}", percent(answer.nothing_probability));
            Block::Box { title, lines: vec!["A place warms, but more likely from another cause.".into(), proof] }
        }
    }
}

/// What the check says now, where that is not what was put on record for the same takes.
fn differs(known: &Known<'_>) -> Option<VerdictKind> {
    let (entry, check) = (known.case.verdict()?, known.takes.check.as_ref()?);
    let same_takes =
        known.takes.first.as_ref()?.entry.name == entry.before && known.takes.after.as_ref()?.entry.name == entry.after;
    (same_takes && entry.verdict != check.verdict.kind).then_some(check.verdict.kind)
}

fn recorded(entry: &VerdictEntry) -> String {
    format!(
        "On record: take {} before, take {} after; {}.",
        entry.before,
        entry.after,
        words::when_and_who(&entry.time, &entry.by)
    )
}

/// What was done to the board.
pub fn interventions(known: &Known<'_>) -> Section {
    let case = known.case;
    if case.interventions.is_empty() {
        return Section::new("What was done to the board", vec![Block::Text("Nothing is on record.".into())]);
    }
    let rows = case
        .interventions
        .iter()
        .map(|i| vec![i.number.to_string(), words::capital(&i.words()), words::when_and_who(&i.time, &i.by)])
        .collect();
    let columns = columns([("No.", 0.4), ("What", 3.0), ("When and who", 2.0)]);
    Section::new("What was done to the board", vec![Block::Table(Table { columns, rows })])
}

/// Verdicts on record, and the check as it comes out now; `None` where there is neither.
pub fn checks(known: &Known<'_>) -> Option<Section> {
    let (case, takes) = (known.case, known.takes);
    let mut blocks = Vec::new();
    if !case.verdicts.is_empty() {
        let row = |v: &VerdictEntry| {
            vec![
                format!("{}, {}", v.before, v.after),
                words::capital(v.verdict.words()),
                v.because.iter().map(|b| words::sentence(b)).collect::<Vec<_>>().join(" "),
                v.culprits.join(", "),
                words::when_and_who(&v.time, &v.by),
            ]
        };
        let columns = columns([
            ("Takes before, after", 1.0),
            ("Verdict", 0.8),
            ("Why", 3.0),
            ("Parts", 0.7),
            ("When and who", 1.2),
        ]);
        blocks.push(Block::Sub("Verdicts on record".into()));
        blocks.push(Block::Table(Table { columns, rows: case.verdicts.iter().map(row).collect() }));
    }
    if let (Some(check), Some(before), Some(after)) = (&takes.check, &takes.first, &takes.after) {
        blocks.push(Block::Sub(format!(
            "The check worked out for this report: {} before, {} after",
            before.entry.name, after.entry.name
        )));
        blocks.extend(numbers(check));
        if differs(known).is_some() {
            let text = "This differs from the verdict on record: files, readings or the program changed since. Look into \
                        it before the device leaves.";
            blocks.push(Block::Box { title: "Two different verdicts".into(), lines: vec![text.into()] });
        }
    }
    (!blocks.is_empty()).then(|| Section::new("Repair check", blocks))
}

fn numbers(check: &RepairCheck) -> Vec<Block> {
    let unit = words::unit(check.unit);
    let mut facts = vec![("Verdict".to_owned(), words::capital(check.verdict.kind.words()))];
    if let Some(site) = &check.site {
        facts.push(("Place".into(), format!("{:.2}, {:.2} mm on the face", site.at_mm.x, site.at_mm.y)));
        facts.push(("Rise before".into(), format!("{} {unit}", with_error(site.before, site.before_se))));
        facts.push(("Rise after".into(), format!("{} {unit}", with_error(site.after, site.after_se))));
    }
    if let Some((low, high)) = check.verdict.after_between {
        facts.push((
            "Rise after, 95 % bounds".into(),
            format!("{} to {} {unit}", significant(low, 2), significant(high, 2)),
        ));
    }
    if let Some(bound) = check.verdict.bound {
        facts.push(("Counts as no rise".into(), format!("below {} {unit}", significant(bound, 2))));
    }
    if let (Some(before), Some(after)) = check.electrical.amps {
        facts.push(("Amps before, after".into(), format!("{} A, {} A", significant(before, 3), significant(after, 3))));
    }
    if let Scaling::ToPower(factor) = check.electrical.scaling {
        facts
            .push(("Brought to one power".into(), format!("rises after are multiplied by {}", significant(factor, 3))));
    }
    let mut blocks = vec![Block::Facts(facts)];
    let because: Vec<String> = check.verdict.because.iter().chain(&check.notes).map(|b| words::sentence(b)).collect();
    if !because.is_empty() {
        blocks.push(Block::List(because));
    }
    if !check.parts.is_empty() {
        let row = |p: &joulemark_locate::repair_check::PartRise| {
            let change = format!("{:.3}", p.after - p.before).replace('-', "\u{2212}");
            vec![p.part.clone(), with_error(p.before, p.before_se), with_error(p.after, p.after_se), change]
        };
        let heads = [format!("Before, {unit}"), format!("After, {unit}"), format!("Change, {unit}")];
        let columns = columns([("Part", 1.0), (&heads[0], -1.2), (&heads[1], -1.2), (&heads[2], -1.0)]);
        blocks.push(Block::Table(Table { columns, rows: check.parts.iter().take(MOST_PARTS).map(row).collect() }));
        blocks
            .push(Block::Note("Mean rise over parts, the largest changes first. \u{b1} is one standard error.".into()));
    }
    blocks
}
