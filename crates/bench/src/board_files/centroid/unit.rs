//! The unit of a list: cells, then the header, then the lines above it, then the span of the positions.

use super::{Column, Columns, Table, split_unit};
use crate::board_files::{
    text::number,
    units::{LengthUnit, UnitGuess},
};

/// The unit and why.
pub fn guess_unit(table: &Table, columns: &Columns) -> UnitGuess {
    let positions = [Column::X, Column::Y].into_iter().filter_map(|c| columns.at(c));
    let cells = || positions.clone().flat_map(|i| table.column(i));
    if let Some(unit) = cells().next().and_then(|c| split_unit(c)?.1) {
        return UnitGuess::stated(unit, format!("the positions say {}", unit.words()));
    }
    for i in positions.clone() {
        if let Some(name) = table.header.get(i)
            && let Some(unit) = unit_in(name)
        {
            return UnitGuess::stated(unit, format!("the column '{name}' says so"));
        }
    }
    for (i, line) in table.preamble.iter().enumerate() {
        if line.to_ascii_lowercase().contains("unit")
            && let Some(unit) = unit_in(line)
        {
            return UnitGuess::stated(
                unit,
                format!("line {} says so: {}", i + 1, line.trim().trim_matches(['#', ' ', '"'])),
            );
        }
    }
    let span = positions
        .map(|i| {
            let (low, high) = table
                .column(i)
                .filter_map(number)
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
            (high - low).max(0.0)
        })
        .fold(0.0, f64::max);
    UnitGuess::by_span(span)
}

fn unit_in(text: &str) -> Option<LengthUnit> {
    text.split(|c: char| !c.is_ascii_alphabetic()).filter(|w| !w.is_empty()).find_map(LengthUnit::parse)
}
