//! The class file: one line a hand-in, appended under a lock, so that a class can share one file.
//!
//! Everything but time, student, exercise and attempt is sealed: lines of others would tell the answer to whoever still
//! works on it. [`export`] writes all columns in clear for the instructor.

mod summary;

pub use summary::Summary;

use std::{
    fs::{self, File},
    io::{self, Read, Seek, Write},
    path::{Path, PathBuf},
    time::Duration,
};

use serde::{Deserialize, Serialize};

use super::{Answer, Score, seal};
use crate::{
    case::{
        BadInput, atomic,
        exercise::{HandIn, RailAnswer},
        turn::{Waited, wait_for},
    },
    library::export::as_text,
};

/// Columns of the class file.
const SEALED_HEADER: [&str; 5] = ["time_utc", "student", "exercise", "attempt", "sealed"];
/// Columns of what is exported in clear.
const HEADER: [&str; 18] = [
    "time_utc",
    "student",
    "exercise",
    "attempt",
    "rail",
    "right_rail",
    "volts",
    "amps",
    "seconds",
    "within_limits",
    "face",
    "x_mm",
    "y_mm",
    "distance_mm",
    "part",
    "right_part",
    "looks",
    "points",
];
/// Somebody else appends a line in milliseconds; a share may be slow.
const PATIENCE: Duration = Duration::from_secs(10);

/// One hand-in.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// When, in UTC.
    pub time: String,
    /// By whom.
    pub student: String,
    /// Which exercise.
    pub exercise: String,
    /// The student's first, second, ... try at it.
    pub attempt: usize,
    /// The rail that was chosen; "nothing wrong" where that was the answer.
    pub rail: String,
    /// The right answer to that.
    pub right_rail: String,
    /// Volts that were planned.
    pub volts: Option<f64>,
    /// Amps that were planned.
    pub amps: Option<f64>,
    /// Seconds that were planned.
    pub seconds: Option<f64>,
    /// Whether the plan was within the limits.
    pub within_limits: bool,
    /// Face of the place; empty without one.
    pub face: String,
    /// The place.
    pub x_mm: Option<f64>,
    /// The place.
    pub y_mm: Option<f64>,
    /// From the place to the part's edge.
    pub distance_mm: Option<f64>,
    /// The part that was named.
    pub part: String,
    /// Whether it is right; `None` where none was named.
    pub right_part: Option<bool>,
    /// Looks that were used.
    pub looks: u32,
    /// Points out of 100.
    pub points: u32,
    /// Whether the fault was found: the place on the part, or the part named, or a healthy board called healthy.
    pub found: bool,
}

const NOTHING_WRONG: &str = "nothing wrong";

impl Line {
    /// A hand-in with its score.
    pub fn of(exercise: &str, attempt: usize, hand_in: &HandIn, score: &Score, answer: &Answer) -> Self {
        let answers = &hand_in.answers;
        let healthy_found = answer.healthy() && score.right_rail;
        Self {
            time: hand_in.time.clone(),
            student: hand_in.student.clone(),
            exercise: exercise.to_owned(),
            attempt,
            rail: match &answers.rail {
                RailAnswer::Open => String::new(),
                RailAnswer::Rail(rail) => rail.clone(),
                RailAnswer::NothingWrong => NOTHING_WRONG.to_owned(),
            },
            right_rail: if answer.healthy() { NOTHING_WRONG.to_owned() } else { answer.rails.join(" or ") },
            volts: answers.volts,
            amps: answers.amps,
            seconds: answers.seconds,
            within_limits: score.within_limits,
            face: answers.place.as_ref().map(|p| p.face.clone()).unwrap_or_default(),
            x_mm: answers.place.as_ref().map(|p| p.x_mm),
            y_mm: answers.place.as_ref().map(|p| p.y_mm),
            distance_mm: score.distance_mm,
            part: answers.part.clone(),
            right_part: score.right_part,
            looks: hand_in.looks,
            points: score.points,
            found: healthy_found || score.right_part == Some(true) || score.distance_mm == Some(0.0),
        }
    }

    /// Whether the rail that was chosen is the faulty one, or one joined to it.
    pub fn right_rail_chosen(&self) -> bool {
        self.right_rail.split(" or ").any(|rail| rail == self.rail)
    }

    fn cells(&self) -> [String; 18] {
        let number = |v: Option<f64>| v.map(|v| v.to_string()).unwrap_or_default();
        let millimetres = |v: Option<f64>| v.map(|v| format!("{v:.2}")).unwrap_or_default();
        let yes = |is: bool| if is { "yes" } else { "no" }.to_owned();
        [
            self.time.clone(),
            self.student.clone(),
            self.exercise.clone(),
            self.attempt.to_string(),
            self.rail.clone(),
            self.right_rail.clone(),
            number(self.volts),
            number(self.amps),
            number(self.seconds),
            yes(self.within_limits),
            self.face.clone(),
            millimetres(self.x_mm),
            millimetres(self.y_mm),
            millimetres(self.distance_mm),
            self.part.clone(),
            self.right_part.map(yes).unwrap_or_default(),
            self.looks.to_string(),
            self.points.to_string(),
        ]
    }
}

/// A class file as it was read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Class {
    /// Its lines, in the order in which they were handed in.
    pub lines: Vec<Line>,
    /// Lines that could not be read, one sentence each.
    pub faults: Vec<String>,
}

fn row(cells: &[String]) -> anyhow::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(cells.iter().map(|cell| as_text(cell)))?;
    Ok(writer.into_inner()?)
}

fn lock_file(file: &Path) -> PathBuf {
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    file.with_file_name(format!(".{name}.lock"))
}

/// Whether a name is one that a class file may have: a case or a recording given by a slip of the hand must not grow.
fn check_name(file: &Path) -> anyhow::Result<()> {
    match file.extension().is_some_and(|e| e.eq_ignore_ascii_case("csv")) {
        true => Ok(()),
        false => Err(BadInput::at(file, "", "a class file is CSV", "give a name that ends in .csv")),
    }
}

/// Appends a line. The header is written by whoever comes first.
///
/// # Errors
/// When the file is no class file, cannot be written, or somebody else holds it for long.
pub fn append(file: &Path, line: &Line) -> anyhow::Result<()> {
    check_name(file)?;
    let unwritable = |e: io::Error| BadInput::unwritable(file, &e);
    let lock = File::options().write(true).create(true).truncate(false).open(lock_file(file)).map_err(unwritable)?;
    if wait_for(&lock, PATIENCE) == Waited::InVain {
        return Err(BadInput::at(file, "", "somebody else is writing to it", "wait a moment and try again"));
    }
    let mut class = File::options().read(true).append(true).create(true).open(file).map_err(unwritable)?;
    let header = row(&SEALED_HEADER.map(str::to_owned))?;
    let mut bytes = Vec::new();
    if class.metadata().map_err(unwritable)?.len() == 0 {
        bytes.extend_from_slice(&header);
    } else {
        let mut first = vec![0; header.len()];
        class.read_exact(&mut first).ok();
        if first != header {
            return Err(BadInput::at(
                file,
                "line 1",
                "this is another kind of table",
                "give a new file, or a class file",
            ));
        }
        // A line that a crash tore is ended, so that this one stands alone.
        let mut last = [0];
        class.seek(io::SeekFrom::End(-1)).and_then(|_| class.read_exact(&mut last)).map_err(unwritable)?;
        if last != [b'\n'] {
            bytes.push(b'\n');
        }
    }
    let sealed = seal::seal_line(&serde_json::to_string(line)?);
    let cells = [line.time.clone(), line.student.clone(), line.exercise.clone(), line.attempt.to_string(), sealed];
    bytes.extend_from_slice(&row(&cells)?);
    class.write_all(&bytes).and_then(|()| class.sync_all()).map_err(unwritable)
}

/// Reads a class file. Damaged lines are left out and said.
///
/// # Errors
/// When it cannot be read, or is no class file.
pub fn read(file: &Path) -> anyhow::Result<Class> {
    let bytes = fs::read(file).map_err(|e| BadInput::unreadable(file, &e))?;
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(bytes.as_slice());
    let header = reader.byte_headers().map(|h| h.iter().eq(SEALED_HEADER.iter().map(|n| n.as_bytes())));
    if !matches!(header, Ok(true)) {
        return Err(BadInput::at(
            file,
            "line 1",
            "this is no class file",
            "give the file that hand-ins were written to",
        ));
    }
    let mut class = Class::default();
    for record in reader.byte_records() {
        let (number, line) = match &record {
            Ok(record) => (
                record.position().map_or(0, csv::Position::line),
                record.get(4).and_then(|sealed| std::str::from_utf8(sealed).ok()).and_then(opened),
            ),
            Err(error) => (error.position().map_or(0, csv::Position::line), None),
        };
        match line {
            Some(line) => class.lines.push(line),
            None => class.faults.push(format!("{}: line {number} is damaged and left out", file.display())),
        }
    }
    Ok(class)
}

fn opened(sealed: &str) -> Option<Line> {
    // Base64 may begin with a plus sign, before which an apostrophe was put as before any other cell.
    let sealed = sealed.strip_prefix('\'').unwrap_or(sealed);
    serde_json::from_str(&seal::open(sealed).ok()?).ok()
}

/// Writes a class in clear, for the instructor's own programs.
///
/// # Errors
/// When the file cannot be written.
pub fn export(class: &Class, file: &Path) -> anyhow::Result<()> {
    check_name(file)?;
    let mut bytes = row(&HEADER.map(str::to_owned))?;
    for line in &class.lines {
        bytes.extend_from_slice(&row(&line.cells())?);
    }
    atomic::write(file, &bytes).map_err(|e| BadInput::unwritable(file, &e))
}

#[cfg(test)]
mod tests;
