//! The answer sheet: the truth where it is known, what was found, the heat ledger, and the limits that applied.

use super::Handout;
use crate::{
    case::case_log::LogFile,
    numbers::percent,
    report::{
        Block, Section,
        content::{
            self, injection, map, suspects,
            takes::{Shown, Takes},
        },
        typeface::Fonts,
    },
};

/// The sections of the sheet.
pub fn sections(handout: &Handout, log: &LogFile) -> anyhow::Result<Vec<Section>> {
    let material = &handout.material;
    let first = handout.take().map(|kept| Shown { entry: kept.entry.clone(), told: kept.told() });
    let takes = Takes { first, after: None, check: None };
    let known = content::Known { case: &material.case, board: &material.board, takes: &takes, log };
    let fonts = Fonts::shared()?;
    let mut sections = vec![Section::new("Answer sheet", vec![truth(handout, &takes)]).on_own_page()];
    sections.extend(map::section(&known, fonts)?);
    sections.extend(suspects::section(&known));
    sections.extend(suspects::ledger(&known));
    sections.extend(injection::section(&known));
    Ok(sections)
}

/// What the class was to find, and how that is known.
fn truth(handout: &Handout, takes: &Takes) -> Block {
    let case = &handout.material.case;
    let rail = if case.rail.is_empty() { String::new() } else { format!(" on {}", case.rail) };
    if let Some(truth) = &case.practice {
        let how =
            format!("Known, because the recording is simulated: scenario {}, seed {}.", truth.scenario, truth.seed);
        let title = match &truth.part {
            Some(part) => format!("The short is {part}{rail}"),
            None => format!("There is no short{rail}"),
        };
        return Block::Box { title, lines: vec![how, place(handout, truth.part.as_deref())] };
    }
    let culprits = case.confirmed_culprits();
    if !culprits.is_empty() {
        let how = "Confirmed: the repair check called the rail cleared after it was lifted or replaced.".to_owned();
        let lines = std::iter::once(how).chain(culprits.iter().map(|part| place(handout, Some(part)))).collect();
        return Block::Box { title: format!("The short was {}{rail}", culprits.join(", ")), lines };
    }
    let told = takes.first.as_ref().and_then(Shown::found);
    let first = told.and_then(|t| t.located.leading()).and_then(|(_, a)| a.suspects.first());
    match first {
        Some(s) => Block::Box {
            title: format!("First suspected{rail}: {}, {}", s.part, percent(s.probability)),
            lines: vec![
                "A suspicion, not confirmed: no repair check on record calls the rail cleared.".to_owned(),
                place(handout, Some(&s.part)),
            ],
        },
        None => Block::Box {
            title: format!("The short{rail} is not known"),
            lines: vec!["Nothing was located, and no repair check is on record.".to_owned()],
        },
    }
}

/// Where a part lies.
fn place(handout: &Handout, part: Option<&str>) -> String {
    let Some(name) = part else { return "No part is to be named.".to_owned() };
    match handout.material.board.part(name) {
        Some((face, part)) => format!(
            "{name}, {}, on face {}: its middle at x {:.1} mm, y {:.1} mm.",
            part.kind.words(),
            face.name,
            part.x_mm,
            part.y_mm
        ),
        None => format!("{name} is not on the drawing."),
    }
}
