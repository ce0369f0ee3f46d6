//! The capture log: a CSV with one row per frame. Header `frame,time_s,injecting,volts,amps`, optionally
//! `set_volts,set_amps,mode`; columns may come in any order, volts and amps may be blank. Where `;` or tabs stand
//! between columns, as spreadsheets write where the comma is the decimal mark, numbers may have decimal commas.

use std::{collections::HashMap, fs, path::Path};

use serde::{Deserialize, Serialize};

use crate::{FramesError, Note, Timeline};

/// Which of its two limits the supply is holding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum SupplyMode {
    /// Constant voltage.
    ConstantVoltage,
    /// Constant current.
    ConstantCurrent,
}

/// How a log row names its frame.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FrameRef {
    /// Index, counted from 0.
    Index(usize),
    /// File name within a folder of frames.
    Name(String),
}

/// One row of the log.
#[derive(Clone, Debug, PartialEq)]
pub struct LogRow {
    /// Line in the file, counted from 1, for messages.
    pub line: u64,
    /// The frame.
    pub frame: FrameRef,
    /// Seconds.
    pub time_s: f64,
    /// Whether current is injected.
    pub injecting: bool,
    /// Volts at the supply.
    pub volts: Option<f64>,
    /// Amps from the supply.
    pub amps: Option<f64>,
    /// Volts set.
    pub set_volts: Option<f64>,
    /// Amps set.
    pub set_amps: Option<f64>,
    /// Supply mode.
    pub mode: Option<SupplyMode>,
}

/// A capture log as read, not yet matched to frames.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CaptureLog {
    /// Rows in file order.
    pub rows: Vec<LogRow>,
}

impl CaptureLog {
    /// Reads a log file.
    ///
    /// # Errors
    /// [`FramesError::Io`] when it cannot be read, [`FramesError::Malformed`] with line and column otherwise.
    pub fn read(file: &Path) -> Result<Self, FramesError> {
        let bytes = fs::read(file).map_err(|source| FramesError::Io { file: file.to_owned(), source })?;
        Self::parse(file, &bytes)
    }

    /// Reads a log from bytes; `file` is only named in messages.
    ///
    /// # Errors
    /// [`FramesError::Malformed`] with line and column.
    pub fn parse(file: &Path, bytes: &[u8]) -> Result<Self, FramesError> {
        Parser { file }.parse(bytes)
    }

    /// Matches the rows to frames. `names` holds the frames' file names, or is empty when the frames have none.
    ///
    /// Frames without a row get an interpolated time and are not injected unless both neighbours are; rows without a
    /// frame are left out. Both are said in the notes.
    ///
    /// # Errors
    /// [`FramesError::Malformed`] when a frame is named twice, times do not increase, or no row fits any frame.
    pub fn align(&self, file: &Path, frames: usize, names: &[String]) -> Result<(Timeline, Vec<Note>), FramesError> {
        let malformed = |line: u64, problem: String, remedy: &str| FramesError::Malformed {
            file: file.to_owned(),
            place: format!("line {line}"),
            problem,
            remedy: remedy.to_owned(),
        };
        let by_name: HashMap<&str, usize> = names.iter().enumerate().map(|(i, n)| (n.as_str(), i)).collect();
        let mut rows: Vec<Option<&LogRow>> = vec![None; frames];
        let mut left_out = 0_usize;
        for row in &self.rows {
            let index = match &row.frame {
                FrameRef::Index(i) => (*i < frames).then_some(*i),
                FrameRef::Name(name) => by_name.get(name.as_str()).copied(),
            };
            let Some(index) = index else {
                left_out += 1;
                continue;
            };
            if let Some(first) = rows[index] {
                return Err(malformed(
                    row.line,
                    format!("frame {index} was already given on line {}", first.line),
                    "keep one row per frame",
                ));
            }
            rows[index] = Some(row);
        }
        let known: Vec<usize> = (0..frames).filter(|&i| rows[i].is_some()).collect();
        if known.is_empty() {
            return Err(FramesError::Malformed {
                file: file.to_owned(),
                place: "column frame".to_owned(),
                problem: format!("none of its {} rows fits one of the {frames} frames", self.rows.len()),
                remedy: "give frame numbers counted from 0, or the frames' file names".to_owned(),
            });
        }
        for pair in known.windows(2) {
            if let (Some(a), Some(b)) = (rows[pair[0]], rows[pair[1]])
                && b.time_s <= a.time_s
            {
                return Err(malformed(
                    b.line,
                    format!("time_s {} does not come after {} (line {})", b.time_s, a.time_s, a.line),
                    "times must increase from frame to frame",
                ));
            }
        }
        let mut notes = Vec::new();
        if left_out > 0 {
            notes.push(Note::new(
                format!("{left_out} log rows name frames that the recording does not have ({frames} frames)"),
                "check that log and frames belong together",
            ));
        }
        if known.len() < frames {
            notes.push(Note::new(
                format!("{} of {frames} frames have no row in the log", frames - known.len()),
                "their times were interpolated; check that log and frames belong together",
            ));
        }
        let timeline = fill(&rows, &known);
        // Times so large that the gaps between them are lost to rounding, or overflow.
        if !timeline.time_s.iter().all(|t| t.is_finite()) || timeline.time_s.windows(2).any(|pair| pair[1] <= pair[0]) {
            return Err(FramesError::Malformed {
                file: file.to_owned(),
                place: "column time_s".to_owned(),
                problem: "frames without a row cannot be given times between the others".to_owned(),
                remedy: "give seconds from the start of the recording".to_owned(),
            });
        }
        Ok((timeline, notes))
    }
}

/// Carries known rows over to the frames between them.
fn fill(rows: &[Option<&LogRow>], known: &[usize]) -> Timeline {
    let mut timeline = Timeline::steady(rows.len(), 1.0);
    let time_of = |i: usize| rows[i].map_or(0.0, |r| r.time_s);
    // Beyond the first and last known frame the mean interval carries on; a single known row leaves one second.
    let (first, last) = (known[0], known[known.len() - 1]);
    let step_s = if last > first { (time_of(last) - time_of(first)) / (last - first) as f64 } else { 1.0 };
    for i in 0..rows.len() {
        if let Some(row) = rows[i] {
            timeline.time_s[i] = row.time_s;
            timeline.injecting[i] = row.injecting;
            timeline.volts[i] = row.volts;
            timeline.amps[i] = row.amps;
            timeline.set_volts[i] = row.set_volts;
            timeline.set_amps[i] = row.set_amps;
            timeline.mode[i] = row.mode;
            continue;
        }
        let after = known.partition_point(|&k| k < i);
        if after == 0 {
            timeline.time_s[i] = time_of(first) - step_s * (first - i) as f64;
        } else if after == known.len() {
            timeline.time_s[i] = time_of(last) + step_s * (i - last) as f64;
            timeline.injecting[i] = rows[last].is_some_and(|r| r.injecting);
        } else {
            let (a, b) = (known[after - 1], known[after]);
            let share = (i - a) as f64 / (b - a) as f64;
            timeline.time_s[i] = time_of(a) + share * (time_of(b) - time_of(a));
            timeline.injecting[i] = rows[a].is_some_and(|r| r.injecting) && rows[b].is_some_and(|r| r.injecting);
        }
    }
    timeline
}

/// What parts the columns: the first of `;`, tab and `,` in the header line.
fn delimiter(bytes: &[u8]) -> u8 {
    let mut lines = bytes.split(|&b| b == b'\n').filter(|l| !l.trim_ascii().is_empty() && !l.starts_with(b"#"));
    let header = lines.next().unwrap_or_default();
    [b';', b'\t'].into_iter().find(|d| header.contains(d)).unwrap_or(b',')
}

struct Parser<'a> {
    file: &'a Path,
}

/// Where the named columns are.
struct Columns {
    frame: usize,
    time_s: usize,
    injecting: usize,
    volts: usize,
    amps: usize,
    set_volts: Option<usize>,
    set_amps: Option<usize>,
    mode: Option<usize>,
}

impl Parser<'_> {
    fn malformed(
        &self,
        place: impl Into<String>,
        problem: impl Into<String>,
        remedy: impl Into<String>,
    ) -> FramesError {
        FramesError::malformed(self.file, place, problem, remedy)
    }

    fn parse(&self, bytes: &[u8]) -> Result<CaptureLog, FramesError> {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let delimiter = delimiter(bytes);
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .flexible(true)
            .from_reader(bytes);
        let header =
            reader.headers().map_err(|e| self.malformed("header", e.to_string(), "save the log as UTF-8 CSV"))?.clone();
        let columns = self.columns(&header)?;
        let mut rows = Vec::new();
        let mut record = csv::StringRecord::new();
        loop {
            match reader.read_record(&mut record) {
                Ok(true) => rows.push(self.row(&columns, &record, delimiter != b',')?),
                Ok(false) => break,
                Err(e) => {
                    let line = e.position().map_or(0, csv::Position::line);
                    return Err(self.malformed(format!("line {line}"), "not UTF-8 text", "save the log as UTF-8 CSV"));
                }
            }
        }
        if rows.is_empty() {
            return Err(self.malformed("line 2", "no rows", "give one row per frame"));
        }
        Ok(CaptureLog { rows })
    }

    fn columns(&self, header: &csv::StringRecord) -> Result<Columns, FramesError> {
        let find = |name: &str| header.iter().position(|h| h.eq_ignore_ascii_case(name));
        let need = |name: &str| {
            find(name).ok_or_else(|| {
                self.malformed(
                    "line 1",
                    format!("column {name} is missing"),
                    "the header must name frame,time_s,injecting,volts,amps",
                )
            })
        };
        Ok(Columns {
            frame: need("frame")?,
            time_s: need("time_s")?,
            injecting: need("injecting")?,
            volts: need("volts")?,
            amps: need("amps")?,
            set_volts: find("set_volts"),
            set_amps: find("set_amps"),
            mode: find("mode"),
        })
    }

    fn row(&self, columns: &Columns, record: &csv::StringRecord, decimal_commas: bool) -> Result<LogRow, FramesError> {
        let line = record.position().map_or(0, csv::Position::line);
        let field = |i: usize| record.get(i).unwrap_or("");
        let number = |i: usize, name: &str| -> Result<Option<f64>, FramesError> {
            let text = field(i);
            if text.is_empty() {
                return Ok(None);
            }
            let pointed = if decimal_commas { text.replace(',', ".") } else { text.to_owned() };
            match pointed.parse::<f64>() {
                Ok(v) if v.is_finite() => Ok(Some(v)),
                _ => Err(self.malformed(
                    format!("line {line}, column {name}"),
                    format!("'{text}' is not a number"),
                    "write a number with a decimal point, or leave readings blank",
                )),
            }
        };
        let optional = |i: Option<usize>, name: &str| i.map_or(Ok(None), |i| number(i, name));
        let frame = match field(columns.frame) {
            "" => {
                return Err(self.malformed(
                    format!("line {line}, column frame"),
                    "blank",
                    "give the frame's number counted from 0, or its file name",
                ));
            }
            text => text.parse().map_or_else(|_| FrameRef::Name(text.to_owned()), FrameRef::Index),
        };
        let time_s = number(columns.time_s, "time_s")?.ok_or_else(|| {
            self.malformed(format!("line {line}, column time_s"), "blank", "every frame needs a time in seconds")
        })?;
        let injecting = match field(columns.injecting).to_ascii_lowercase().as_str() {
            "1" | "true" | "yes" | "on" => true,
            "0" | "false" | "no" | "off" => false,
            other => {
                return Err(self.malformed(
                    format!("line {line}, column injecting"),
                    format!("'{other}' is neither yes nor no"),
                    "write 1 or 0",
                ));
            }
        };
        let mode = match columns.mode.map_or("", field).to_ascii_lowercase().as_str() {
            "" => None,
            "cv" | "constant voltage" => Some(SupplyMode::ConstantVoltage),
            "cc" | "constant current" => Some(SupplyMode::ConstantCurrent),
            other => {
                return Err(self.malformed(
                    format!("line {line}, column mode"),
                    format!("'{other}' is not a supply mode"),
                    "write cv, cc or leave it blank",
                ));
            }
        };
        Ok(LogRow {
            line,
            frame,
            time_s,
            injecting,
            volts: number(columns.volts, "volts")?,
            amps: number(columns.amps, "amps")?,
            set_volts: optional(columns.set_volts, "set_volts")?,
            set_amps: optional(columns.set_amps, "set_amps")?,
            mode,
        })
    }
}

#[cfg(test)]
mod tests;
