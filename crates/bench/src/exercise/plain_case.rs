//! The case that a student gets: readings, drawing, one take, lead ohms. It is put together from nothing, so that whatever
//! a case holds that could tell the answer stays behind: names, notes, verdicts, files' own descriptions, the supply's log.

use std::{fs, path::Path};

use joulemark_frames::{
    Progress, Take, Timeline, Unit,
    read::{Recording, Scale},
    write,
};
use joulemark_locate::board::Board;

use crate::case::{
    BadInput, Case, CaseFolder, TakeEntry, VERSION, exercise::Exercise, log_file, notation, reading::ReadingEntry,
};

/// Name of every exercise's take.
pub const TAKE: &str = "inject 1";
const BOARD_FILE: &str = "board.ron";
const FRAMES_FILE: &str = "frames.tif";
const LOG_FILE: &str = "log.csv";

/// The case without an exercise in it yet: what a student sees, and what the limits are computed from.
pub fn of(case: &Case, entry: &TakeEntry, take: &Take, face: String, readings: Vec<ReadingEntry>, id: &str) -> Case {
    let entry = TakeEntry {
        name: TAKE.to_owned(),
        frames: FRAMES_FILE.into(),
        log: Some(LOG_FILE.into()),
        counts: (take.unit == Unit::Kelvin).then(|| take.stack.law()),
        face,
        pairs: entry.pairs.clone(),
        refined: entry.refined.clone(),
        ..TakeEntry::default()
    };
    // Who measured, when, and after what was done to the board, is of the case that it was made from.
    let plain = |r: ReadingEntry| ReadingEntry { after: 0, time: String::new(), by: String::new(), ..r };
    Case {
        version: VERSION,
        name: format!("Exercise {id}"),
        board: BOARD_FILE.into(),
        lead_ohms: case.lead_ohms,
        meter_lead_ohms: case.meter_lead_ohms,
        readings: readings.into_iter().map(plain).collect(),
        takes: vec![entry],
        ..Case::default()
    }
}

/// When current flowed, without what the supply read: its settings are one of the questions.
pub fn without_supply(timeline: &Timeline) -> Timeline {
    let mut plain = timeline.clone();
    let readings = [&mut plain.volts, &mut plain.amps, &mut plain.set_volts, &mut plain.set_amps];
    readings.into_iter().for_each(|values| values.fill(None));
    plain.mode.fill(None);
    plain
}

/// Writes everything into a folder that is there and empty. Photos are read from `from`.
pub fn write(
    folder: &Path,
    case: Case,
    exercise: Exercise,
    (board, from): (&Board, &Path),
    take: &Take,
    progress: &dyn Progress,
) -> anyhow::Result<()> {
    let recording = Recording {
        file: folder.join(FRAMES_FILE),
        description: String::new(),
        samples: take.stack.samples().clone(),
        scale: if take.unit == Unit::Kelvin { Scale::Counts { bits: 16 } } else { Scale::Relative },
        names: Vec::new(),
        time_s: None,
        notes: Vec::new(),
    };
    write::write(&recording, &recording.file, progress)?;
    let mut board = board.clone();
    board.name = case.name.clone();
    for (number, photo) in board.faces.iter_mut().filter_map(|f| f.photo.as_mut()).enumerate() {
        let name = format!("photo-{}.png", number + 1);
        copy_photo(&from.join(&photo.file), &folder.join(&name))?;
        photo.file = name;
    }
    let readme = format!(
        "{}\n\nAn exercise of Joulemark. In this folder:\n\njoulemark .\n\nWhat you answer is kept in case.ron.\n",
        case.name
    );
    let texts = [
        (BOARD_FILE, notation::to_ron(&board)?),
        (LOG_FILE, log_file::to_csv(&without_supply(&take.timeline))),
        ("README.txt", readme),
    ];
    for (name, text) in texts {
        let file = folder.join(name);
        fs::write(&file, text).map_err(|e| BadInput::unwritable(&file, &e))?;
    }
    CaseFolder { folder: folder.to_owned(), case: Case { exercise: Some(exercise), ..case } }.save()
}

/// Pixels alone: a photo file may say when, where and of what it was taken.
fn copy_photo(from: &Path, to: &Path) -> anyhow::Result<()> {
    let picture = image::open(from)
        .map_err(|e| BadInput::at(from, "", format!("the photo cannot be read: {e}"), "take it out of the drawing"))?;
    picture
        .save_with_format(to, image::ImageFormat::Png)
        .map_err(|e| BadInput::at(to, "", e.to_string(), "check the space"))
}
