//! Writes a practice case as a case folder: it appears whole or not at all.

use std::{fs, path::Path};

use joulemark_frames::{
    FramesError, Progress,
    read::{Recording, Scale},
    write,
};
use joulemark_locate::{
    align::PointPair,
    limits,
    simulate::{
        SimulatedTake,
        scenario::{self, Difficulty, PracticeCase},
    },
};

use super::{
    BadInput, Case, CaseFolder, PracticeTruth, TakeEntry, VERSION, books::Books, log_file, notation, pairs, whole,
};

/// Builds a scenario and writes it. `folder` must be absent or empty.
pub fn write_case(
    name: &str,
    seed: u64,
    difficulty: Difficulty,
    folder: &Path,
    progress: &dyn Progress,
) -> anyhow::Result<PracticeCase> {
    whole::refuse_occupied(folder)?;
    progress.report("simulating the recording", 0, 1);
    let practice = scenario::build_with(name, seed, difficulty).ok_or_else(|| {
        BadInput::flag(
            "scenario",
            format!("'{name}' is not there"),
            format!("there are {}", scenario::NAMES.join(", ")),
        )
    })?;
    if progress.cancelled() {
        return Err(FramesError::Cancelled.into());
    }
    whole::write(folder, |beside| fill(beside, &practice, progress))?;
    Ok(practice)
}

fn fill(folder: &Path, practice: &PracticeCase, progress: &dyn Progress) -> anyhow::Result<()> {
    let first = write_take(folder, practice, &practice.simulated, 1, progress)?;
    let mut takes = vec![first];
    if let Some(again) = &practice.again {
        takes.push(write_take(folder, practice, again, 2, progress)?);
    }
    let mut case = Case {
        version: VERSION,
        name: practice.title.clone(),
        board: "board.ron".into(),
        rail: practice.rail.clone(),
        lead_ohms: Some(practice.lead_ohms),
        takes,
        notes: practice.story.clone(),
        practice: Some(PracticeTruth {
            scenario: practice.name.to_owned(),
            seed: practice.seed,
            part: practice.simulated.truth.part.clone(),
        }),
        ..Case::default()
    };
    case.plan.step = step_of(&case, practice);
    for (name, text) in [("board.ron", notation::to_ron(&practice.board)?), ("README.txt", readme(practice))] {
        let file = folder.join(name);
        fs::write(&file, text).map_err(|e| BadInput::unwritable(&file, &e))?;
    }
    CaseFolder { folder: folder.to_owned(), case }.save()
}

/// Writes a recording with its log and its marks, and says how the case names them. Files of the first one carry no number.
fn write_take(
    folder: &Path,
    practice: &PracticeCase,
    simulated: &SimulatedTake,
    number: u32,
    progress: &dyn Progress,
) -> anyhow::Result<TakeEntry> {
    let take = &simulated.take;
    let name = |what: &str, ending: &str| {
        if number == 1 { format!("{what}.{ending}") } else { format!("{what}-{number}.{ending}") }
    };
    // People read these files; clicks are some tenths of a pixel wide, so a thousandth loses nothing.
    let thousandths = |v: f64| (1000.0 * v).round() / 1000.0;
    let marked: Vec<PointPair> = simulated
        .pairs
        .iter()
        .map(|p| PointPair { x_px: thousandths(p.x_px), y_px: thousandths(p.y_px), ..*p })
        .collect();
    let (frames, log) = (name("frames", "tif"), name("log", "csv"));
    let recording = Recording {
        file: folder.join(&frames),
        description: "simulated".to_owned(),
        samples: take.stack.samples().clone(),
        scale: Scale::Counts { bits: 16 },
        names: Vec::new(),
        time_s: None,
        notes: Vec::new(),
    };
    write::write(&recording, &recording.file, progress)?;
    for (name, text) in [(&log, log_file::to_csv(&take.timeline)), (&name("pairs", "csv"), pairs::to_csv(&marked))] {
        let file = folder.join(name);
        fs::write(&file, text).map_err(|e| BadInput::unwritable(&file, &e))?;
    }
    Ok(TakeEntry {
        name: format!("inject {number}"),
        frames: frames.into(),
        log: Some(log.into()),
        counts: Some(take.stack.law()),
        face: practice.face.clone(),
        pairs: marked,
        ..TakeEntry::default()
    })
}

/// A supply that is set to a value reads it within its last digits.
const LAST_DIGIT: f64 = 1.01;

/// The first step of the rail's plan that allows what the supply was set to, so that the take is judged by the step that
/// it was filmed at; the last step where none does.
fn step_of(case: &Case, practice: &PracticeCase) -> usize {
    let log = &practice.simulated.take.timeline;
    let most = |values: &[Option<f64>]| values.iter().flatten().fold(0.0_f64, |most, v| most.max(v.abs()));
    let (volts, amps) = (most(&log.volts), most(&log.amps));
    let steps = limits::plan(&case.plan_inputs(&practice.board, &case.rail), &Books::standard().limits).steps;
    let allows = |s: &limits::Step| LAST_DIGIT * s.volts.value >= volts && LAST_DIGIT * s.amps.value >= amps;
    steps.iter().position(allows).unwrap_or(steps.len().saturating_sub(1))
}

fn readme(practice: &PracticeCase) -> String {
    let PracticeCase { title, story, name, seed, rail, face, lead_ohms, simulated, .. } = practice;
    let law = simulated.take.stack.law();
    let second = if practice.again.is_some() {
        "frames-2.tif, log-2.csv, pairs-2.csv   the same board filmed again in another way\n"
    } else {
        ""
    };
    format!(
        "{title}\n\n{story}\n\n\
         A practice case of Joulemark: scenario {name}, seed {seed}. Everything in it is simulated, nothing was filmed.\n\
         Current goes into rail {rail}; the picture shows face {face}; both leads together have {lead_ohms} ohm.\n\n\
         board.ron    the drawing\n\
         frames.tif   the recording, one page a frame, 16-bit counts ({law})\n\
         log.csv      times and the supply's readings\n\
         pairs.csv    points marked in picture and drawing (the case holds them too)\n\
         {second}\
         case.ron     the case; the truth is at its end, so do not look yet\n\n\
         In this folder:\n\
         joulemark .\n\
         joulemark locate . --picture map.png\n"
    )
}

#[cfg(test)]
mod tests {
    use joulemark_frames::NoProgress;

    use super::*;
    use crate::case::load;

    #[test]
    fn what_is_written_loads_as_it_was_simulated() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = temporary.path().join("new/faint");
        let practice = write_case("faint", 3, Difficulty::Medium, &folder, &NoProgress).unwrap();
        let case = CaseFolder::open(&folder).unwrap();
        assert_eq!(case.board().unwrap(), practice.board);
        let loaded = load::load(&case.source(case.take(None).unwrap()), &NoProgress).unwrap();
        let simulated = &practice.simulated.take;
        assert_eq!(loaded.take.stack.samples(), simulated.stack.samples());
        assert_eq!(loaded.take.stack.law(), simulated.stack.law());
        assert_eq!(loaded.take.timeline, simulated.timeline);
        assert!(loaded.simulated);
        assert_eq!(case.case.practice.unwrap().part, practice.simulated.truth.part);
        // Nothing half-written stays behind.
        assert_eq!(fs::read_dir(folder.parent().unwrap()).unwrap().count(), 1);
    }

    #[test]
    fn occupied_places_are_left_alone() {
        let temporary = tempfile::tempdir().unwrap();
        let file = temporary.path().join("notes.txt");
        fs::write(&file, "mine").unwrap();
        for place in [temporary.path(), &file] {
            let message = write_case("faint", 1, Difficulty::Medium, place, &NoProgress).unwrap_err().to_string();
            assert!(message.contains("give a new or empty folder"), "{message}");
        }
        assert_eq!(fs::read_to_string(&file).unwrap(), "mine");
        let message = write_case("toaster", 1, Difficulty::Medium, &temporary.path().join("x"), &NoProgress)
            .unwrap_err()
            .to_string();
        assert!(message.contains("there are ceramic-capacitor"), "{message}");
    }
}
