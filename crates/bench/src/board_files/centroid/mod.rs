//! Centroid (pick-and-place) lists: one part a line, columns in any order. There is no standard, so columns and unit
//! are guessed with reasons, and the user's word goes before both.

mod columns;
mod package;
mod table;
mod unit;

pub use columns::{Column, Columns};
pub use table::Table;
pub use unit::guess_unit;

use std::{collections::HashMap, path::Path};

use super::{
    Design, DesignPart, Side, part_kind,
    text::{fault, number},
    units::LengthUnit,
};

/// Reads a list with the given columns and unit, or the guessed ones.
///
/// # Errors
/// A column that is missing, or a cell that is not what its column says.
pub fn read(file: &Path, bytes: &[u8], columns: Option<&Columns>, unit: Option<LengthUnit>) -> anyhow::Result<Design> {
    let table = Table::parse(file, bytes)?;
    let columns = match columns {
        Some(stated) => stated.clone(),
        None => Columns::guess(&table),
    };
    design(file, &table, &columns, unit)
}

/// The parts of a list.
///
/// # Errors
/// As [`read`].
pub fn design(file: &Path, table: &Table, columns: &Columns, unit: Option<LengthUnit>) -> anyhow::Result<Design> {
    columns.check(file, table)?;
    let guess = guess_unit(table, columns);
    let mut design = Design::default();
    let unit = match unit {
        Some(stated) => stated,
        None => {
            design.notes.extend(guess.note());
            guess.unit
        }
    };
    let mut seen: HashMap<&str, usize> = HashMap::new();
    let (mut unsized_parts, mut packaged) = (0, 0);
    for row in &table.rows {
        let cell = |column: Column| columns.at(column).and_then(|i| row.cells.get(i)).map_or("", |c| c.trim());
        let designator = cell(Column::Designator);
        if designator.is_empty() {
            continue;
        }
        if let Some(first) = seen.insert(designator, row.line) {
            return Err(fault(
                file,
                row.line,
                format!("part {designator} is listed again, first on line {first}"),
                "keep one of the two lines",
            ));
        }
        let length = |column: Column| -> anyhow::Result<Option<f64>> {
            let text = cell(column);
            if text.is_empty() {
                return Ok(None);
            }
            let (value, own) = split_unit(text).ok_or_else(|| {
                fault(
                    file,
                    row.line,
                    format!("'{text}' is not a length ({})", column.words()),
                    "correct it, or choose another column",
                )
            })?;
            Ok(Some(value * own.unwrap_or(unit).mm()))
        };
        let position = |column: Column| {
            length(column)?.ok_or_else(|| {
                fault(
                    file,
                    row.line,
                    format!("part {designator} has no {}", column.words()),
                    "fill it in, or delete the line",
                )
            })
        };
        let (x_mm, y_mm) = (position(Column::X)?, position(Column::Y)?);
        let rotation = cell(Column::Rotation).trim_end_matches(['°', ' ']);
        let rotation_deg = if rotation.is_empty() {
            0.0
        } else {
            number(rotation).filter(|r| r.abs() <= 3600.0).ok_or_else(|| {
                fault(
                    file,
                    row.line,
                    format!("'{rotation}' is not a rotation in degrees"),
                    "correct it, or choose another column",
                )
            })?
        };
        let side = match cell(Column::Side) {
            "" => Side::Top,
            text => side(text).ok_or_else(|| {
                fault(
                    file,
                    row.line,
                    format!("'{text}' is neither top nor bottom"),
                    "write top or bottom, or choose another column",
                )
            })?,
        };
        let stated = match (length(Column::Width)?, length(Column::Height)?) {
            (Some(w), Some(h)) if w > 0.0 && h > 0.0 => Some([w, h]),
            _ => None,
        };
        let size_mm = stated.or_else(|| {
            let size = package::size_mm(cell(Column::Package));
            packaged += usize::from(size.is_some());
            size
        });
        unsized_parts += usize::from(size_mm.is_none());
        design.parts.push(DesignPart {
            designator: designator.to_owned(),
            side,
            x_mm,
            y_mm,
            size_mm,
            rotation_deg,
            kind: part_kind(designator),
            nets: Vec::new(),
        });
    }
    if design.parts.is_empty() {
        return Err(fault(file, table.header_line, "no part below the header", "export the list again"));
    }
    if packaged > 0 {
        design.notes.push(format!("the size of {packaged} parts is that of their package's name"));
    }
    if unsized_parts > 0 {
        design.notes.push(format!("the list does not tell the size of {unsized_parts} parts"));
    }
    if columns.at(Column::Side).is_none() {
        design.notes.push("the list does not tell the side; all parts are taken to be on top".into());
    }
    Ok(design)
}

/// A number and the unit written behind it.
fn split_unit(text: &str) -> Option<(f64, Option<LengthUnit>)> {
    let at = text.find(|c: char| c.is_ascii_alphabetic() && !matches!(c, 'e' | 'E') || c == '"');
    match at {
        None => number(text).map(|v| (v, None)),
        Some(at) => Some((number(&text[..at])?, Some(LengthUnit::parse(&text[at..])?))),
    }
}

fn side(text: &str) -> Option<Side> {
    match text.to_ascii_lowercase().as_str() {
        "t" | "top" | "toplayer" | "top layer" | "front" | "f" | "primary" | "component" | "f.cu" | "top side"
        | "no" => Some(Side::Top),
        "b" | "bot" | "bottom" | "bottomlayer" | "bottom layer" | "back" | "secondary" | "solder" | "b.cu"
        | "bottom side" | "yes" => Some(Side::Bottom),
        _ => None,
    }
}
