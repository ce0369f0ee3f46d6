//! The list as a table: its delimiter, its header line and its rows, before any column has a meaning.

use std::path::Path;

use super::columns::header_score;
use crate::{
    board_files::{
        MOST_ITEMS,
        text::{fault, text},
    },
    case::BadInput,
};

/// A delimited list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// Names of the columns.
    pub header: Vec<String>,
    /// Line of the header, counted from 1.
    pub header_line: usize,
    /// What stands above the header: some lists state the unit there.
    pub preamble: Vec<String>,
    /// The rows below it.
    pub rows: Vec<Row>,
}

/// One row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// Its line in the file, counted from 1.
    pub line: usize,
    /// Its cells.
    pub cells: Vec<String>,
}

/// How far down a header is looked for.
const HEADER_WITHIN: usize = 60;

/// No list has more columns.
const MOST_COLUMNS: usize = 200;

impl Table {
    /// Splits a list. The header is the line that names most known columns.
    ///
    /// # Errors
    /// Not text, no header, or quotes that do not close.
    pub fn parse(file: &Path, bytes: &[u8]) -> anyhow::Result<Self> {
        let text = text(file, bytes)?;
        let lines: Vec<&str> = text.lines().collect();
        let mut best: Option<(usize, Delimiter, usize)> = None;
        for (i, line) in lines.iter().take(HEADER_WITHIN).enumerate() {
            for delimiter in Delimiter::ALL {
                let score = header_score(&delimiter.split(line.trim_start_matches('#')).unwrap_or_default());
                if score >= 3 && best.is_none_or(|(_, _, s)| score > s) {
                    best = Some((i, delimiter, score));
                }
            }
        }
        let Some((at, delimiter, _)) = best else {
            return Err(BadInput::at(
                file,
                "",
                "no line names the columns for designator, x and y",
                "add a header line such as designator,x_mm,y_mm,rotation,side",
            ));
        };
        let header = delimiter.split(lines[at].trim_start_matches('#')).unwrap_or_default();
        if header.len() > MOST_COLUMNS {
            return Err(fault(file, at + 1, "more columns than a list has", "export the list again"));
        }
        let mut rows = Vec::new();
        for (i, line) in lines.iter().enumerate().skip(at + 1) {
            if line.trim().is_empty() || line.starts_with('#') {
                continue;
            }
            let cells =
                delimiter.split(line).ok_or_else(|| fault(file, i + 1, "a quote does not close", "close it"))?;
            if cells.iter().all(String::is_empty) {
                continue;
            }
            if rows.len() == MOST_ITEMS {
                return Err(fault(file, i + 1, "more parts than a board has", "give one board's list"));
            }
            rows.push(Row { line: i + 1, cells });
        }
        let preamble = lines[..at].iter().map(|l| (*l).to_owned()).collect();
        Ok(Self { header, header_line: at + 1, preamble, rows })
    }

    /// Cells of a column, blanks left out.
    pub fn column(&self, index: usize) -> impl Iterator<Item = &str> {
        self.rows.iter().filter_map(move |r| r.cells.get(index)).map(|c| c.trim()).filter(|c| !c.is_empty())
    }
}

#[derive(Clone, Copy)]
enum Delimiter {
    Byte(u8),
    /// Columns set with spaces.
    Spaces,
}

impl Delimiter {
    const ALL: [Self; 4] = [Self::Byte(b','), Self::Byte(b';'), Self::Byte(b'\t'), Self::Spaces];

    /// The cells of one line; `None` where a quote does not close.
    fn split(self, line: &str) -> Option<Vec<String>> {
        match self {
            Self::Spaces => Some(line.split_whitespace().map(|c| c.trim_matches('"').to_owned()).collect()),
            Self::Byte(byte) => {
                if line.matches('"').count() % 2 == 1 {
                    return None;
                }
                let mut reader = csv::ReaderBuilder::new()
                    .has_headers(false)
                    .delimiter(byte)
                    .trim(csv::Trim::All)
                    .flexible(true)
                    .from_reader(line.as_bytes());
                match reader.records().next() {
                    Some(record) => Some(record.ok()?.iter().map(str::to_owned).collect()),
                    None => Some(Vec::new()),
                }
            }
        }
    }
}
