//! Answers as flags or as a table.

use std::path::Path;

use clap::Args;

use crate::case::{
    BadInput,
    exercise::{Answers, Place, RailAnswer},
    read_text,
};

/// Columns that a table of answers may have.
const COLUMNS: [&str; 11] =
    ["student", "rail", "nothing_wrong", "volts", "amps", "seconds", "face", "x_mm", "y_mm", "part", "looks"];

/// One answer.
#[derive(Clone, Debug, Args)]
pub(super) struct GivenFlags {
    /// Who answered.
    #[arg(long, value_name = "NAME", default_value = "")]
    student: String,
    /// The faulty rail.
    #[arg(long, value_name = "NAME", conflicts_with = "nothing_wrong")]
    rail: Option<String>,
    /// Nothing is wrong with this board.
    #[arg(long)]
    nothing_wrong: bool,
    /// Volts that the supply would be set to.
    #[arg(long, value_name = "V", allow_hyphen_values = true)]
    volts: Option<String>,
    /// Amps that it would be limited to.
    #[arg(long, value_name = "A", allow_hyphen_values = true)]
    amps: Option<String>,
    /// Seconds with current on.
    #[arg(long, value_name = "S", allow_hyphen_values = true)]
    seconds: Option<String>,
    /// The face of the place.
    #[arg(long, value_name = "NAME")]
    face: Option<String>,
    /// The place in millimetres of the drawing.
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    x_mm: Option<String>,
    /// The place in millimetres of the drawing.
    #[arg(long, value_name = "MM", allow_hyphen_values = true)]
    y_mm: Option<String>,
    /// The part.
    #[arg(long, value_name = "DESIGNATOR")]
    part: Option<String>,
    /// Looks that were used.
    #[arg(long, value_name = "N")]
    looks: Option<String>,
}

/// Answers and who gave them.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Given {
    /// Who; may be empty.
    pub student: String,
    /// What.
    pub answers: Answers,
    /// Looks that were used.
    pub looks: u32,
}

impl GivenFlags {
    fn cells(&self) -> [Option<&str>; 11] {
        [
            Some(self.student.as_str()),
            self.rail.as_deref(),
            self.nothing_wrong.then_some("yes"),
            self.volts.as_deref(),
            self.amps.as_deref(),
            self.seconds.as_deref(),
            self.face.as_deref(),
            self.x_mm.as_deref(),
            self.y_mm.as_deref(),
            self.part.as_deref(),
            self.looks.as_deref(),
        ]
    }

    /// Whether any answer was given.
    pub fn any(&self) -> bool {
        self.cells()[1..].iter().any(Option::is_some)
    }

    /// As answers.
    pub fn given(&self) -> anyhow::Result<Given> {
        if !self.any() {
            return Err(BadInput::flag(
                "score",
                "no answer was given",
                "give --answer ANSWERS.csv, or --rail and its companions",
            ));
        }
        parse(self.cells()).map_err(|(column, problem, remedy)| {
            BadInput::flag(&format!("--{}", column.replace('_', "-")), problem, remedy)
        })
    }
}

/// Reads a table of answers.
pub(super) fn read(file: &Path) -> anyhow::Result<Vec<Given>> {
    let text = read_text(file)?;
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let bad = |e: csv::Error| {
        let line = e.position().map_or(1, csv::Position::line);
        BadInput::at(file, format!("line {line}"), "this line has another number of cells", "give one cell a column")
    };
    let headers = reader.headers().map_err(bad)?.clone();
    if let Some(other) = headers.iter().find(|h| !COLUMNS.contains(h)) {
        return Err(BadInput::at(
            file,
            "line 1",
            format!("there is no column '{other}'"),
            format!("the columns are {}", COLUMNS.join(",")),
        ));
    }
    let mut all = Vec::new();
    for record in reader.records() {
        let record = record.map_err(bad)?;
        let cell =
            |name: &str| headers.iter().position(|h| h == name).and_then(|i| record.get(i)).filter(|c| !c.is_empty());
        let given = parse(COLUMNS.map(cell)).map_err(|(column, problem, remedy)| {
            let line = record.position().map_or(0, csv::Position::line);
            BadInput::at(file, format!("line {line}, column {column}"), problem, remedy)
        })?;
        all.push(given);
    }
    if all.is_empty() {
        return Err(BadInput::at(file, "", "there are no answers in it", "give one line an answer below the header"));
    }
    Ok(all)
}

/// Column, problem, remedy.
type Fault = (&'static str, String, String);

fn parse(cells: [Option<&str>; 11]) -> Result<Given, Fault> {
    let [student, rail, nothing_wrong, volts, amps, seconds, face, x_mm, y_mm, part, looks] = cells;
    let number = |column: &'static str, cell: Option<&str>| {
        let parsed = cell.map(|text| text.replace(',', ".").parse::<f64>().ok().filter(|v| v.is_finite()));
        match parsed {
            Some(None) => {
                Err((column, format!("'{}' is no number", cell.unwrap_or_default()), "give a number".to_owned()))
            }
            Some(value) => Ok(value),
            None => Ok(None),
        }
    };
    let nothing = match nothing_wrong.map(str::to_ascii_lowercase).as_deref() {
        Some("yes" | "1" | "true") => true,
        None | Some("no" | "0" | "false") => false,
        Some(other) => {
            return Err(("nothing_wrong", format!("'{other}' is neither yes nor no"), "give yes or no".to_owned()));
        }
    };
    let rail = match (nothing, rail) {
        (true, _) => RailAnswer::NothingWrong,
        (false, Some(rail)) => RailAnswer::Rail(rail.to_owned()),
        (false, None) => RailAnswer::Open,
    };
    let place = match (number("x_mm", x_mm)?, number("y_mm", y_mm)?, face) {
        (Some(x_mm), Some(y_mm), Some(face)) => Some(Place { face: face.to_owned(), x_mm, y_mm }),
        (None, None, _) => None,
        (Some(_), Some(_), None) => {
            return Err(("face", "a place was given without its face".to_owned(), "name the face".to_owned()));
        }
        _ => return Err(("x_mm", "half a place was given".to_owned(), "give x_mm and y_mm".to_owned())),
    };
    let looks = match looks.map(str::parse::<u32>) {
        Some(Err(_)) => return Err(("looks", "no whole number".to_owned(), "give 0 or more".to_owned())),
        Some(Ok(looks)) => looks,
        None => 0,
    };
    let answers = Answers {
        rail,
        volts: number("volts", volts)?,
        amps: number("amps", amps)?,
        seconds: number("seconds", seconds)?,
        place,
        part: part.unwrap_or_default().to_owned(),
    };
    Ok(Given { student: student.unwrap_or_default().to_owned(), answers, looks })
}
