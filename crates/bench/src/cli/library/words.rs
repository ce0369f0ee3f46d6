//! Tables and sentences of `joulemark library`.

use std::fmt::Write as _;

use joulemark_locate::readings::{Measured, Polarity, Return};

use crate::{
    case::reading::{Quantity, shown},
    library::{Check, Found, earlier::Learnt, summary::Summary},
};

/// Nothing a terminal could take for a command, and no line breaks.
fn plain(text: &str) -> String {
    let clean = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>();
    clean.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// "1 case", "3 cases".
pub(super) fn cases(count: usize) -> String {
    format!("{count} {}", if count == 1 { "case" } else { "cases" })
}

/// "1 row", "3 rows".
pub(super) fn rows(count: usize) -> String {
    format!("{count} {}", if count == 1 { "row" } else { "rows" })
}

/// Columns as wide as their widest cell; no column is cut, as folders are names to be copied.
fn aligned(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width =
        |column: usize| rows.iter().filter_map(|r| r.get(column)).map(|cell| cell.chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            line += cell;
            line.extend(std::iter::repeat_n(' ', width + 2 - cell.chars().count()));
        }
        text += line.trim_end();
        text.push('\n');
    }
    text
}

pub(super) fn table(found: &[Found]) -> String {
    if found.is_empty() {
        return "no case found\n".to_owned();
    }
    let mut rows =
        vec![["OPENED", "FOLDER", "MODEL", "SERIAL", "RAIL", "VERDICT", "PARTS"].map(str::to_owned).to_vec()];
    for Found { row, comeback_of } in found {
        let verdict = match (&row.fault, row.verdict) {
            (Some(_), _) => "cannot be read".to_owned(),
            (None, None) => "none yet".to_owned(),
            (None, Some(verdict)) if row.waiting => format!("{}, not signed", verdict.words()),
            (None, Some(verdict)) => verdict.words().to_owned(),
        };
        let serial = match comeback_of {
            Some(_) => format!("{} (again)", plain(&row.serial)),
            None => plain(&row.serial),
        };
        let day = row.opened.get(..10).unwrap_or(&row.opened).to_owned();
        let parts = if row.culprits.is_empty() { &row.parts } else { &row.culprits };
        rows.push(vec![
            plain(&day),
            plain(&row.folder),
            plain(&row.model),
            serial,
            plain(&row.rail),
            verdict,
            plain(&parts.join(" ")),
        ]);
    }
    format!("{}{}\n", aligned(&rows), cases(found.len()))
}

pub(super) fn learnt(model: &str, learnt: &Learnt) -> String {
    if learnt.cases == 0 {
        return format!("no case of '{}' in the library\n", plain(model));
    }
    let mut text = format!("{}: {}\n", plain(&learnt.model), cases(learnt.cases));
    let counts = learnt.counts();
    text += if counts.is_empty() { "\nNo fault was proven yet.\n" } else { "\nProven faults\n" };
    let row = |c: &crate::library::earlier::CulpritCount| {
        vec![format!("  {}", plain(&c.rail)), plain(&c.part), format!("{} of {}", c.cases, cases(c.of_cases))]
    };
    text += &aligned(&counts.iter().map(row).collect::<Vec<_>>());
    let ranges = learnt.ranges();
    text += if ranges.is_empty() { "\nNo good reading yet.\n" } else { "\nWhat good boards read\n" };
    let rows = ranges.iter().map(|range| {
        let quantity = match range.measured {
            Measured::Ohms(_) => Quantity::Ohms,
            Measured::Diode(Polarity::RedOnGround, _) => Quantity::DiodeRedOnGround,
            Measured::Diode(Polarity::BlackOnGround, _) => Quantity::DiodeRedOnRail,
            Measured::Volts(_) => Quantity::Volts,
        };
        let against = match &range.against {
            Return::Ground => String::new(),
            Return::Rail(other) => format!(" against {other}"),
        };
        let face = if range.face.is_empty() { String::new() } else { format!(", {}", range.face) };
        let span = match range.span {
            Some(span) => match span.to {
                Some(to) => format!("{} to {}", shown(Some(span.from), quantity), shown(Some(to), quantity)),
                None => format!("above {}", shown(Some(span.from), quantity)),
            },
            None => "OL".to_owned(),
        };
        let open =
            if range.open > 0 && range.count > 0 { format!(", {} more open", range.open) } else { String::new() };
        let count = if range.count > 0 { range.count } else { range.open };
        let readings = if count == 1 { "reading" } else { "readings" };
        vec![
            format!("  {}", plain(&format!("{}{against}{face}", range.rail))),
            quantity.words().to_owned(),
            span,
            format!("from {count} {readings}{open}"),
        ]
    });
    text + &aligned(&rows.collect::<Vec<_>>())
}

pub(super) fn summary(summary: &Summary) -> String {
    let mut text = format!("{}\n\nWaiting for sign-off: {}\n", cases(summary.cases), summary.waiting.len());
    for found in &summary.waiting {
        let _ = writeln!(text, "  {}", plain(&found.row.folder));
    }
    text += "\nNewest verdicts\n";
    text += &aligned(&summary.verdicts.iter().map(|(v, n)| vec![format!("  {v}"), n.to_string()]).collect::<Vec<_>>());
    if let Some(minutes) = summary.median_minutes {
        let _ = writeln!(text, "\nMinutes a case: {minutes:.0} (median of {})", cases(summary.minutes.len()));
    }
    if !summary.parts_used.is_empty() {
        text += "\nParts used\n";
        let row = |p: &crate::library::summary::PartUse| {
            vec![format!("  {}", plain(&p.part)), p.count.to_string(), plain(&p.model)]
        };
        text += &aligned(&summary.parts_used.iter().map(row).collect::<Vec<_>>());
    }
    let _ = writeln!(text, "\nComebacks: {}", summary.comebacks.len());
    for found in &summary.comebacks {
        let earlier = found.comeback_of.as_deref().unwrap_or_default();
        let _ = writeln!(text, "  {} (before: {})", plain(&found.row.folder), plain(earlier));
    }
    for (folder, fault) in &summary.faults {
        let _ = writeln!(text, "\n{} cannot be read: {}", plain(folder), plain(fault));
    }
    text
}

pub(super) fn check(check: &Check) -> String {
    let mut text = format!("{} in the library\n", cases(check.cases));
    for (names, what) in [
        (&check.missing, "not in the index yet"),
        (&check.changed, "changed since they were read, or read too soon after writing"),
        (&check.gone, "in the index, and not in the library any more"),
    ] {
        if !names.is_empty() {
            let _ = writeln!(text, "{} {what}; the next list or search sees to it", cases(names.len()));
        }
    }
    if !check.faults.is_empty() {
        let _ = writeln!(text, "{} cannot be read", cases(check.faults.len()));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_line_up_and_nothing_commands_the_terminal() {
        let rows = [vec!["a".to_owned(), "µµµ".to_owned()], vec!["long".to_owned(), "b".to_owned(), "c".to_owned()]];
        assert_eq!(aligned(&rows), "a     µµµ\nlong  b    c\n");
        assert_eq!(plain("a\u{1b}[31m\nb"), "a [31m b");
        assert_eq!((cases(1), cases(2)), ("1 case".into(), "2 cases".into()));
    }
}
