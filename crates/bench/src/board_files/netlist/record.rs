//! Records of IPC-D-356A: 80 columns, counted from 1 in the comments as the standard does.
//!
//! Columns of a test record (IPC-D-356A, electrical test records; from memory of the standard, checked live against
//! the reader of the open library gerbonara in `tests/reference/board_files.py`):
//!
//! | columns | what |
//! |---|---|
//! | 1-3 | operation code: 317 through-hole, 327 surface feature, 367 unplated tooling hole; 0xx continues the record above |
//! | 4-17 | net; `N/C` for a pad on none |
//! | 21-26, 28-31 | designator (`VIA` for none), pin |
//! | 32 | `M` for a point that is no end of its net |
//! | 33-38 | `D`, hole diameter, `P` plated or `U` |
//! | 39-41 | `A`, side of access: 00 both, 01 top, the others from below |
//! | 42-57 | `X` and `Y`, each with a sign and six digits |
//! | 58-67 | `X` and `Y`, size of the pad with four digits; a round pad has Y zero |
//! | 68-71 | `R`, rotation in degrees, anticlockwise |
//! | 73-74 | `S`, solder mask |

use super::Scale;

/// A pad or hole, lengths in the file's unit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Feature {
    pub(super) net: Option<String>,
    pub(super) part: Option<String>,
    pub(super) access: u32,
    pub(super) through: bool,
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) rotation: f64,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum Parameter {
    Scale(Scale),
    /// A name longer than 14 characters and what stands for it.
    Alias(String, String),
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum Record {
    Feature(Feature),
    /// Lines of the board's edge, in the file's unit.
    Edge(Vec<Vec<[f64; 2]>>),
    Parameter(Parameter),
    /// 999.
    End,
    /// Read, of no use here: comments, conductors, adjacency.
    Other,
    Unknown,
}

type Fault = (String, &'static str);

const EXPORT: &str = "export the netlist again as IPC-D-356A";

/// A record that continues over more lines than this is damage.
const MOST_COLUMNS: usize = 1 << 20;

/// Records with the line they begin on; lines that start with 0 continue the one above.
pub(super) fn lines(text: &str) -> Vec<(usize, String)> {
    let mut records: Vec<(usize, String)> = Vec::new();
    for (i, line) in text.lines().enumerate() {
        let line = line.trim_end();
        if line.is_empty() {
            continue;
        }
        match records.last_mut() {
            Some((_, last)) if continues(line) && last.len() < MOST_COLUMNS => {
                last.push(' ');
                last.push_str(line.get(3..).unwrap_or(""));
            }
            _ => records.push((i + 1, line.to_owned())),
        }
    }
    records
}

fn continues(line: &str) -> bool {
    // 017 and 027 are test records of their own (further points of a net above); 078, 079 and 089 continue lists.
    ["078", "079", "089"].iter().any(|code| line.starts_with(code))
}

pub(super) fn parse(line: &str) -> Result<Record, Fault> {
    if line.starts_with('C') {
        return Ok(Record::Other);
    }
    if let Some(rest) = line.strip_prefix('P') {
        return parameter(rest.trim());
    }
    match line.get(..3) {
        Some("317" | "327" | "367" | "307" | "017" | "027" | "067") => feature(line).map(Record::Feature),
        Some("389") => edge(line),
        Some("378" | "379" | "370" | "099" | "088" | "390") => Ok(Record::Other),
        Some("999") => Ok(Record::End),
        _ => Ok(Record::Unknown),
    }
}

fn parameter(text: &str) -> Result<Record, Fault> {
    let (name, value) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    let value = value.trim();
    if name == "UNITS" {
        let scale = match value.split_whitespace().collect::<Vec<_>>()[..] {
            ["CUST", "1"] | ["SI"] => Scale { mm: 0.001, radians: false },
            ["CUST", "2"] => Scale { mm: 0.00254, radians: true },
            ["CUST", "0"] | ["CUST"] => Scale { mm: 0.00254, radians: false },
            _ => return Err((format!("units '{value}' are none of CUST 0, CUST 1, CUST 2 and SI"), EXPORT)),
        };
        return Ok(Record::Parameter(Parameter::Scale(scale)));
    }
    if name.starts_with("NNAME") && !value.is_empty() {
        return Ok(Record::Parameter(Parameter::Alias(name.to_owned(), value.to_owned())));
    }
    Ok(Record::Other)
}

fn feature(line: &str) -> Result<Feature, Fault> {
    let code = columns(line, 1, 3);
    let name = |from: usize, to: usize| Some(columns(line, from, to).trim().to_owned()).filter(|t| !t.is_empty());
    let marked = |at: usize, mark: &str| columns(line, at, at) == mark;
    if !(marked(42, "X") && marked(50, "Y")) {
        return Err(("no X in column 42 and Y in column 50".into(), EXPORT));
    }
    let whole = |from: usize, to: usize, what: &str| -> Result<f64, Fault> {
        let text = columns(line, from, to).trim();
        text.parse::<i32>()
            .map(f64::from)
            .map_err(|_| (format!("'{text}' in columns {from} to {to} is no whole number ({what})"), EXPORT))
    };
    let when = |at: usize, mark: &str, from: usize, to: usize, what: &str| {
        if marked(at, mark) { whole(from, to, what) } else { Ok(0.0) }
    };
    let hole = when(33, "D", 34, 37, "hole diameter")?;
    let (width, height) = (when(58, "X", 59, 62, "width of the pad")?, when(63, "Y", 64, 67, "height of the pad")?);
    // A round pad states its diameter alone; a hole without a pad is as large as the hole.
    let width = if width > 0.0 { width } else { hole };
    Ok(Feature {
        net: name(4, 17).filter(|n| n != "N/C"),
        part: name(21, 26).filter(|p| p != "VIA" && code != "367" && code != "067"),
        access: when(39, "A", 40, 41, "side of access")?.max(0.0) as u32,
        through: code.ends_with("17"),
        x: whole(43, 49, "x")?,
        y: whole(51, 57, "y")?,
        width,
        height: if height > 0.0 { height } else { width },
        rotation: when(68, "R", 69, 71, "rotation")?,
    })
}

/// Board edges (IPC-D-356A, record 389 `BOARD_EDGE`): points `XnYn`, a missing coordinate kept from the point before;
/// `*` ends a line.
fn edge(line: &str) -> Result<Record, Fault> {
    if columns(line, 4, 17).trim() != "BOARD_EDGE" {
        return Ok(Record::Other);
    }
    let mut pieces = vec![Vec::new()];
    let (mut x, mut y) = (None, None);
    for word in line.get(17..).unwrap_or("").replace('*', " * ").split_whitespace() {
        if word == "*" {
            pieces.push(Vec::new());
            continue;
        }
        let bad = || (format!("'{word}' is no point of a board edge"), EXPORT);
        let (own_x, own_y) = match (word.strip_prefix('X'), word.strip_prefix('Y')) {
            (Some(rest), _) => match rest.split_once('Y') {
                Some((x, y)) => (Some(x), Some(y)),
                None => (Some(rest), None),
            },
            (None, Some(y)) => (None, Some(y)),
            (None, None) => return Err(bad()),
        };
        let value = |text: Option<&str>| text.map(|t| t.parse::<i32>().map(f64::from)).transpose().map_err(|_| bad());
        x = value(own_x)?.or(x);
        y = value(own_y)?.or(y);
        match (x, y, pieces.last_mut()) {
            (Some(x), Some(y), Some(piece)) => piece.push([x, y]),
            _ => return Err(bad()),
        }
    }
    Ok(Record::Edge(pieces))
}

/// Columns counted from 1, both ends included; what lies beyond the line or within a wide character is blank.
fn columns(line: &str, from: usize, to: usize) -> &str {
    line.get(from - 1..to.min(line.len()).max(from - 1)).unwrap_or("")
}
