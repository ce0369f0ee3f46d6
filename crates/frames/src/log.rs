//! The capture log: a CSV with one row per frame. Header `frame,time_s,injecting,volts,amps`, optionally
//! `set_volts,set_amps,mode`; columns may come in any order, volts and amps may be blank.

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
        Ok((fill(&rows, &known), notes))
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
        FramesError::Malformed {
            file: self.file.to_owned(),
            place: place.into(),
            problem: problem.into(),
            remedy: remedy.into(),
        }
    }

    fn parse(&self, bytes: &[u8]) -> Result<CaptureLog, FramesError> {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        let mut reader =
            csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).flexible(true).from_reader(bytes);
        let header =
            reader.headers().map_err(|e| self.malformed("header", e.to_string(), "save the log as UTF-8 CSV"))?.clone();
        let columns = self.columns(&header)?;
        let mut rows = Vec::new();
        let mut record = csv::StringRecord::new();
        loop {
            match reader.read_record(&mut record) {
                Ok(true) => rows.push(self.row(&columns, &record)?),
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

    fn row(&self, columns: &Columns, record: &csv::StringRecord) -> Result<LogRow, FramesError> {
        let line = record.position().map_or(0, csv::Position::line);
        let field = |i: usize| record.get(i).unwrap_or("");
        let number = |i: usize, name: &str| -> Result<Option<f64>, FramesError> {
            let text = field(i);
            if text.is_empty() {
                return Ok(None);
            }
            match text.parse::<f64>() {
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
mod tests {
    use super::*;

    fn parse(text: &str) -> Result<CaptureLog, FramesError> {
        CaptureLog::parse(Path::new("log.csv"), text.as_bytes())
    }

    #[test]
    fn reads_blank_readings_modes_and_reordered_columns() {
        let log =
            parse("time_s,frame,injecting,amps,volts,mode\n0.0,0,no,,,\n0.5,b.tif,1,1.25,0.8,CC\n").expect("valid");
        assert_eq!(log.rows[0].volts, None);
        assert_eq!(log.rows[1].frame, FrameRef::Name("b.tif".into()));
        assert_eq!(log.rows[1].mode, Some(SupplyMode::ConstantCurrent));
        assert_eq!((log.rows[1].volts, log.rows[1].amps), (Some(0.8), Some(1.25)));
    }

    #[test]
    fn errors_name_line_and_column() {
        let head = "frame,time_s,injecting,volts,amps\n";
        for (text, wanted) in [
            ("frame,time_s,injecting,volts\n0,0,0,0\n".to_owned(), "column amps is missing"),
            (format!("{head}0,zero,0,,\n"), "line 2, column time_s: 'zero'"),
            (format!("{head}0,0,maybe,,\n"), "line 2, column injecting"),
            (format!("{head}0,,0,,\n"), "line 2, column time_s: blank"),
            (head.to_owned(), "no rows"),
            (String::new(), "column frame is missing"),
        ] {
            let message = parse(&text).expect_err("bad log").to_string();
            assert!(message.contains(wanted), "{message}");
            assert_eq!(message.lines().count(), 1);
        }
    }

    #[test]
    fn frames_without_a_row_are_interpolated_and_said() {
        let log = parse("frame,time_s,injecting,volts,amps\n0,10,0,,\n1,10.5,1,1,1\n3,11.5,1,1,1\n9,20,1,,\n")
            .expect("valid");
        let (timeline, notes) = log.align(Path::new("log.csv"), 5, &[]).expect("aligns");
        assert_eq!(timeline.time_s, [10.0, 10.5, 11.0, 11.5, 12.0]);
        assert_eq!(timeline.injecting, [false, true, true, true, true]);
        assert_eq!(notes.len(), 2);
    }

    #[test]
    fn times_that_run_backwards_are_refused() {
        let log = parse("frame,time_s,injecting,volts,amps\n0,1,0,,\n1,1,0,,\n").expect("valid");
        let message = log.align(Path::new("log.csv"), 2, &[]).expect_err("backwards").to_string();
        assert!(message.contains("line 3"), "{message}");
    }
}
