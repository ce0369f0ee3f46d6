//! Matrices of text (CSV and its kin): one line per row, blank lines between frames, header lines skipped. Separator
//! and decimal mark are decided together; what stays ambiguous is an error that asks, never a guess.

use std::io::{Cursor, Read};

use ndarray::Array3;
use rayon::prelude::*;

use super::{
    finite,
    input::Input,
    recording::{Recording, Scale},
    text_row::{Line, Row, Separator, are_labels},
};
use crate::{FramesError, Note, Samples, StackShape, note::count};

/// Text is taken from the disk in blocks of whole lines, which are then read side by side.
const BLOCK_BYTES: usize = 4 << 20;
/// No row of a picture is longer than this.
const MOST_LINE_BYTES: usize = 64 << 20;
const SAME_COLUMNS: &str = "every row needs the same number of columns; remove lines that are no part of the picture";

/// What integers become. In a folder of frames one file must not decide for itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Integers {
    /// Counts, signed ones held as floating point.
    Counts,
    /// Counts, all held as floating point.
    WideCounts,
    /// Kelvin, like any other number.
    Kelvin,
}

pub(super) fn read(input: &Input) -> Result<Recording, FramesError> {
    read_as(input, Integers::Counts)
}

pub(super) fn read_as(input: &Input, integers: Integers) -> Result<Recording, FramesError> {
    let mut table = Table::new(input);
    let mut source = plain_text(input)?;
    let mut text = Vec::new();
    let mut done_bytes = 0;
    loop {
        let kept = text.len();
        let taken = source.by_ref().take(BLOCK_BYTES as u64).read_to_end(&mut text).map_err(|e| input.io(e))?;
        done_bytes += taken;
        let end = if taken == 0 {
            text.len()
        } else if let Some(last) = text[kept..].iter().rposition(|&b| b == b'\n') {
            kept + last + 1
        } else if text.len() > MOST_LINE_BYTES {
            return Err(input.malformed(
                format!("line {}", table.line + 1),
                "the line does not end",
                "save the frames as text with one line per row",
            ));
        } else {
            continue;
        };
        table.add(&text[..end])?;
        text.drain(..end);
        input.step(done_bytes, usize::try_from(input.len).unwrap_or(usize::MAX).max(done_bytes))?;
        if taken == 0 {
            break;
        }
    }
    table.finish(integers)
}

/// The text as bytes; UTF-16, which spreadsheets write as "Unicode text", becomes UTF-8.
fn plain_text<'a>(input: &Input<'a>) -> Result<Box<dyn Read + 'a>, FramesError> {
    let little = match input.head(2)?[..] {
        [0xFF, 0xFE] => true,
        [0xFE, 0xFF] => false,
        _ => return Ok(Box::new(input.open()?)),
    };
    let bytes = input.bytes()?;
    let units: Vec<u16> = bytes[2..]
        .chunks_exact(2)
        .map(|b| if little { u16::from_le_bytes([b[0], b[1]]) } else { u16::from_be_bytes([b[0], b[1]]) })
        .collect();
    Ok(Box::new(Cursor::new(String::from_utf16_lossy(&units).into_bytes())))
}

/// The frames read so far.
struct Table<'a> {
    input: &'a Input<'a>,
    separator: Option<Separator>,
    values: Vec<f32>,
    width: Option<usize>,
    /// Rows of each frame.
    heights: Vec<usize>,
    /// Line of each frame's first row.
    starts: Vec<usize>,
    /// Lines finished, so the number of the last one.
    line: usize,
    /// Rows in the block that is open.
    open_rows: usize,
    header_lines: usize,
    /// The line above was the header of a labelled table with this many columns.
    labelled: Option<usize>,
    label: Option<f32>,
    point_line: Option<usize>,
    comma_line: Option<usize>,
    blanks: bool,
}

impl<'a> Table<'a> {
    fn new(input: &'a Input<'a>) -> Self {
        Self {
            input,
            separator: None,
            values: Vec::new(),
            width: None,
            heights: Vec::new(),
            starts: Vec::new(),
            line: 0,
            open_rows: 0,
            header_lines: 0,
            labelled: None,
            label: None,
            point_line: None,
            comma_line: None,
            blanks: false,
        }
    }

    fn malformed(&self, place: String, problem: impl Into<String>, remedy: &str) -> FramesError {
        self.input.malformed(place, problem, remedy)
    }

    /// Adds whole lines.
    fn add(&mut self, text: &[u8]) -> Result<(), FramesError> {
        let text = if self.line == 0 { text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text) } else { text };
        let mut lines: Vec<&[u8]> = text.split(|&b| b == b'\n').collect();
        if lines.last().is_some_and(|l| l.is_empty()) {
            lines.pop();
        }
        let separator = match self.separator {
            Some(separator) => separator,
            None => {
                // A line with several numbers decides; a lone number could stand anywhere.
                let found = || lines.iter().filter_map(|line| Separator::detect(line).map(|s| (s, *line)));
                match found().find(|(s, line)| s.cells(line).count() > 1).or_else(|| found().next()) {
                    Some((separator, _)) => *self.separator.insert(separator),
                    None => Separator::Comma,
                }
            }
        };
        let read: Vec<Line> = lines.par_iter().map(|line| Line::read(line, separator)).collect();
        for (line, read) in lines.iter().zip(read) {
            self.line += 1;
            match read {
                Line::Empty => self.open_rows = 0,
                Line::Row(row) => self.row(row)?,
                Line::Text(column) => self.text(line, separator, column)?,
            }
        }
        self.input.check_bytes(self.values.len() as u64 * 4)
    }

    fn text(&mut self, line: &[u8], separator: Separator, column: usize) -> Result<(), FramesError> {
        if self.open_rows > 0 {
            let cell = separator.cells(line).nth(column).unwrap_or_default();
            let shown: String =
                String::from_utf8_lossy(cell).trim().chars().filter(|c| !c.is_control()).take(20).collect();
            return Err(self.malformed(
                format!("line {}, column {}", self.line, column + 1),
                format!("'{shown}' is not a number"),
                "write numbers only; header lines belong above a frame, with a blank line before",
            ));
        }
        self.header_lines += 1;
        let names: Vec<f32> = separator
            .cells(line)
            .skip(1)
            .map(|cell| str::from_utf8(cell.trim_ascii()).ok().and_then(|t| t.parse().ok()).unwrap_or(f32::NAN))
            .collect();
        self.labelled = (column == 0 && are_labels(&names)).then_some(names.len() + 1);
        Ok(())
    }

    fn row(&mut self, mut row: Row) -> Result<(), FramesError> {
        if self.open_rows == 0 {
            if row.open_start && are_labels(&row.values[1..]) {
                // The corner cell of a labelled table is empty, the rest of the line are column labels.
                self.header_lines += 1;
                self.labelled = Some(row.values.len());
                return Ok(());
            }
            self.heights.push(0);
            self.starts.push(self.line);
            let first = row.values[0];
            let labelled = self.labelled.take() == Some(row.values.len()) && (first == 0.0 || first == 1.0);
            self.label = labelled.then_some(first);
        }
        if let Some(label) = self.label {
            if row.values[0] != label {
                return Err(self.malformed(
                    format!("line {}, column 1", self.line),
                    format!("row label {} where {label} should be", row.values[0]),
                    "save the frame without labels",
                ));
            }
            self.label = Some(label + 1.0);
            row.values.remove(0);
        }
        let width = *self.width.get_or_insert(row.values.len() - usize::from(row.open_end && row.values.len() > 1));
        if row.open_end && row.values.len() == width + 1 {
            row.values.pop();
        }
        if row.values.len() != width {
            return Err(self.malformed(
                format!("line {}", self.line),
                format!("{}, but the rows above have {width}", count(row.values.len(), "column")),
                SAME_COLUMNS,
            ));
        }
        if row.has_point {
            self.point_line.get_or_insert(self.line);
        }
        if row.has_comma {
            self.comma_line.get_or_insert(self.line);
        }
        self.blanks |= row.has_blank;
        self.values.append(&mut row.values);
        self.open_rows += 1;
        if let Some(height) = self.heights.last_mut() {
            *height += 1;
        }
        Ok(())
    }

    fn finish(mut self, as_integers: Integers) -> Result<Recording, FramesError> {
        let (Some(width_px), Some(separator)) = (self.width, self.separator) else {
            return Err(self.malformed("file".to_owned(), "no line of numbers", "give a matrix of numbers as text"));
        };
        let mut notes = Vec::new();
        self.ask_if_ambiguous(separator, width_px)?;
        if self.heights.len() > 1 && self.heights.iter().all(|&h| h == 1) {
            notes.push(Note::new("every row is followed by a blank line: read as one frame", ""));
            self.heights = vec![self.heights.len()];
        }
        let height_px = self.heights[0];
        if let Some(frame) = self.heights.iter().position(|&h| h != height_px) {
            return Err(self.malformed(
                format!("frame {frame}, from line {}", self.starts[frame]),
                format!("mixed sizes: {}, but frame 0 has {height_px}", count(self.heights[frame], "row")),
                "blank lines part frames: every frame needs the same number of rows",
            ));
        }
        if self.header_lines > 0 {
            notes.push(Note::new(format!("skipped {}", count(self.header_lines, "header line")), ""));
        }
        let shape = StackShape { frames: self.heights.len(), height_px, width_px };
        self.input.check(shape, 4)?;
        let integers = self.point_line.is_none() && self.comma_line.is_none();
        let (mut low, mut high) = (f32::INFINITY, f32::NEG_INFINITY);
        for &v in &self.values {
            (low, high) = (low.min(v), high.max(v));
        }
        let gaps = self.values.iter().any(|v| v.is_nan());
        // Signed 16-bit counts are kept as floating point, which holds them exactly.
        let fit = low >= -32768.0 && high <= 65535.0 && !(low < 0.0 && high > 32767.0);
        let counts = integers && fit && as_integers != Integers::Kelvin;
        let dimensions = (shape.frames, height_px, width_px);
        let wrong = |e: ndarray::ShapeError| self.input.malformed("file", e.to_string(), SAME_COLUMNS);
        let samples = if counts && low >= 0.0 && !gaps && as_integers == Integers::Counts {
            let values = self.values.iter().map(|&v| v as u16).collect();
            Samples::U16(Array3::from_shape_vec(dimensions, values).map_err(wrong)?)
        } else {
            Samples::F32(Array3::from_shape_vec(dimensions, std::mem::take(&mut self.values)).map_err(wrong)?)
        };
        let starts = &self.starts;
        notes.extend(finite::check(self.input, &samples, |frame| {
            format!("frame {frame} (from line {})", starts.get(frame).copied().unwrap_or(1))
        })?);
        let numbers = match (counts, self.comma_line) {
            (true, _) => "counts",
            (false, Some(_)) => "numbers with decimal comma",
            (false, None) => "numbers",
        };
        Ok(Recording {
            file: self.input.file.to_owned(),
            description: format!("text, {} of {numbers}, {}", count(shape.frames, "frame"), separator.words()),
            samples,
            scale: if counts { Scale::Counts { bits: 16 } } else { Scale::Kelvin },
            names: Vec::new(),
            time_s: None,
            notes,
        })
    }

    fn ask_if_ambiguous(&self, separator: Separator, width_px: usize) -> Result<(), FramesError> {
        if let (Some(point), Some(comma)) = (self.point_line, self.comma_line) {
            return Err(self.malformed(
                format!("lines {} and {}", point.min(comma), point.max(comma)),
                "decimal points and decimal commas are mixed",
                "write all numbers with a decimal point",
            ));
        }
        if separator == Separator::Comma
            && width_px == 2
            && self.point_line.or(self.comma_line).is_none()
            && !self.blanks
        {
            return Err(self.malformed(
                format!("line {}", self.starts.first().copied().unwrap_or(1)),
                "the comma could part two columns or be a decimal comma",
                "write ; between columns, or decimal points",
            ));
        }
        Ok(())
    }
}
