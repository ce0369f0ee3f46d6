//! Makes an exercise of a case whose fault is known, or of a practice case that nobody chose.

use std::path::Path;

use joulemark_frames::{Progress, Take};
use joulemark_locate::{
    board::Board,
    readings::{Measured, Polarity, Reading},
    simulate::{readings as simulated, scenario},
};
use sha2::{Digest, Sha256};

use super::{
    answer::{Answer, RailLimits, TruePart},
    plain_case, seal, task,
};
use crate::case::{
    BadInput, CASE_FILE, CaseFolder, TakeEntry, board_file,
    books::Books,
    exercise::{Difficulty, Exercise},
    load, log_file, practice,
    reading::{Quantity, ReadingEntry},
    whole,
};

/// Which part is at fault.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Truth {
    /// As the case knows: the simulated truth, or the part that a repair check proved.
    #[default]
    Known,
    /// As the instructor says.
    Parts(Vec<String>),
    /// The instructor says that nothing is wrong.
    NothingWrong,
}

/// What the instructor wishes.
#[derive(Clone, Debug, Default)]
pub struct Wish {
    /// Which take; the newest one before anything was done to the board where it is left out.
    pub take: Option<String>,
    /// Which part.
    pub truth: Truth,
    /// The task as Markdown, instead of the standard one.
    pub task: Option<String>,
    /// Where hand-ins are collected, from the exercise's folder; empty for nowhere.
    pub class: String,
    /// How hard it is meant to be.
    pub difficulty: Option<Difficulty>,
}

/// Makes an exercise of a case and writes it into `folder`, which must be absent or empty. Returns its id.
///
/// # Errors
/// When the case does not know its fault and nobody said it, or lacks what an exercise needs, or cannot be read or written.
pub fn make(from: &CaseFolder, folder: &Path, wish: &Wish, progress: &dyn Progress) -> anyhow::Result<String> {
    whole::refuse_occupied(folder)?;
    let (case, file) = (&from.case, from.file());
    let fault = |place: &str, problem: String, remedy: &str| BadInput::at(&file, place, problem, remedy);
    if case.exercise.is_some() {
        return Err(fault("exercise", "this is an exercise already".into(), "give the case that it was made from"));
    }
    let board = from.board()?;
    board_file::check_rail(&from.resolve(&case.board), &board, &case.rail)?;
    let parts = true_parts(from, &board, &wish.truth)?;
    let entry = choose_take(from, wish.take.as_deref())?;
    if entry.pairs.len() < 2 {
        let remedy = "line the picture up with the drawing first";
        return Err(fault("takes", format!("take '{}' has no point pairs", entry.name), remedy));
    }
    let board_path = from.resolve(&case.board);
    let asked = (!entry.face.is_empty()).then_some(entry.face.as_str());
    let (face, _) = board_file::choose_face(&board_path, &board, asked)?;
    let take = load::load_take(&from.source(entry), progress)?;
    if take.timeline.first_injected().is_none() {
        let remedy = "state when injection starts first";
        return Err(fault("takes", format!("take '{}' has no frame with current", entry.name), remedy));
    }
    let readings = readings(from, &board, &take, !parts.is_empty())?;
    let id = seal::fresh_id();
    let plain = plain_case::of(case, entry, &take, face, readings, &id);
    let answer = Answer {
        parts,
        rail: case.rail.clone(),
        rails: board.joined_rails(&case.rail).into_iter().map(|j| j.rail).collect(),
        limits: board.rails.iter().map(|r| RailLimits::of(&plain, &board, &r.name)).collect(),
        log: log_file::to_csv(&take.timeline),
        probe_mm: entry.probe_mm,
        period_s: entry.period_s,
        simulated: case.practice.is_some(),
    };
    let exercise = Exercise {
        id: id.clone(),
        task: wish.task.clone().unwrap_or_else(|| task::standard(answer.simulated)),
        difficulty: wish.difficulty,
        sealed: answer.sealed()?,
        class: wish.class.clone(),
        ..Exercise::default()
    };
    let drawn_in = board_path.parent().unwrap_or(&from.folder).to_owned();
    whole::write(folder, |beside| plain_case::write(beside, plain, exercise, (&board, &drawn_in), &take, progress))?;
    Ok(id)
}

/// Makes an exercise of a scenario; `class` is where hand-ins are collected, empty for nowhere.
///
/// # Errors
/// When there is no such scenario, or it cannot be written.
pub fn make_practice(
    scenario: &str,
    seed: u64,
    difficulty: Difficulty,
    class: &str,
    folder: &Path,
    progress: &dyn Progress,
) -> anyhow::Result<String> {
    whole::refuse_occupied(folder)?;
    let place = tempfile::tempdir()?;
    let made = place.path().join("case");
    practice::write_case(scenario, seed, difficulty, &made, progress)?;
    let wish = Wish { difficulty: Some(difficulty), class: class.to_owned(), ..Wish::default() };
    make(&CaseFolder::open(&made)?, folder, &wish, progress)
}

/// Makes an exercise of a scenario that the seed chooses, so that nobody knows which.
///
/// # Errors
/// When it cannot be written.
pub fn make_new(
    difficulty: Difficulty,
    seed: u64,
    class: &str,
    folder: &Path,
    progress: &dyn Progress,
) -> anyhow::Result<String> {
    // Seeds that follow one another must not give the scenarios in turn.
    let drawn = Sha256::digest(seed.to_le_bytes());
    let name = scenario::NAMES[usize::from(drawn[0]) % scenario::NAMES.len()];
    make_practice(name, seed, difficulty, class, folder, progress)
}

fn true_parts(from: &CaseFolder, board: &Board, truth: &Truth) -> anyhow::Result<Vec<TruePart>> {
    let case = &from.case;
    let named: Vec<String> = match truth {
        Truth::NothingWrong => Vec::new(),
        Truth::Parts(parts) => parts.clone(),
        Truth::Known => match &case.practice {
            Some(practice) => practice.part.iter().cloned().collect(),
            None if !case.confirmed_culprits().is_empty() => case.confirmed_culprits().to_vec(),
            None => {
                return Err(BadInput::at(
                    &from.file(),
                    "",
                    "nobody has proved which part is at fault: it is no practice case, and no repair check says \"cleared\"",
                    "state it: --part DESIGNATOR, or --nothing-wrong",
                ));
            }
        },
    };
    let found = |name: &String| {
        let (face, part) = board.part(name).ok_or_else(|| {
            BadInput::at(
                &from.folder.join(CASE_FILE),
                "",
                format!("part {name} is not on the drawing"),
                "state one that is",
            )
        })?;
        Ok(TruePart::of(&face.name, part))
    };
    named.iter().map(found).collect()
}

/// The take that shows the fault: the newest one that locating understands, before anything was done to the board.
fn choose_take<'a>(from: &'a CaseFolder, name: Option<&str>) -> anyhow::Result<&'a TakeEntry> {
    let shown = || from.case.takes.iter().filter(|t| !t.shows.is_plain());
    match (name, shown().map(|t| t.after).min()) {
        (None, Some(first)) => match shown().rfind(|t| t.after == first) {
            Some(entry) => Ok(entry),
            None => from.take(None),
        },
        _ => from.take(name),
    }
}

/// Readings of the case as the device came in; simulated ones for a practice case that has none.
fn readings(from: &CaseFolder, board: &Board, take: &Take, faulty: bool) -> anyhow::Result<Vec<ReadingEntry>> {
    let case = &from.case;
    if let Some(first) = case.readings.iter().filter(|r| !r.good_board).map(|r| r.after).min() {
        return Ok(case.readings.iter().filter(|r| r.good_board || r.after == first).cloned().collect());
    }
    let Some(practice) = &case.practice else {
        return Err(BadInput::at(
            &from.file(),
            "readings",
            "there are none, and students choose the rail by them",
            "add the meter's readings of all rails first",
        ));
    };
    let lead_ohms = case.lead_ohms.unwrap_or(0.0);
    let ohms = simulated::board_ohms(&take.timeline, lead_ohms).filter(|_| faulty);
    let fault = ohms.map(|ohms| (case.rail.as_str(), ohms));
    let taken = simulated::readings(board, fault, &Books::standard().ranges, practice.seed);
    Ok(taken.iter().map(entry).collect())
}

fn entry(reading: &Reading) -> ReadingEntry {
    let (quantity, shown) = match reading.measured {
        Measured::Ohms(shown) => (Quantity::Ohms, shown),
        Measured::Diode(Polarity::RedOnGround, shown) => (Quantity::DiodeRedOnGround, shown),
        Measured::Diode(Polarity::BlackOnGround, shown) => (Quantity::DiodeRedOnRail, shown),
        Measured::Volts(shown) => (Quantity::Volts, shown),
    };
    ReadingEntry {
        rail: reading.rail.clone(),
        quantity,
        value: shown.number(),
        face: reading.face.clone(),
        meter_lead_ohms: reading.meter_lead_ohms,
        ..ReadingEntry::default()
    }
}

#[cfg(test)]
mod tests;
