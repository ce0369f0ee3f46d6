//! Tables: cells wrap, the head comes again on every page, and only a row that fits on no page is broken.

use super::{
    flow::{Flow, Style},
    tags::{FURNITURE, Role},
};
use crate::report::{
    Table,
    drawing::{Anchor, BLACK, HAIRLINE, Shape},
};

const PAD: f32 = 3.0;
const GUTTER: f32 = 8.0;
const CELL: Style = Style { size: 8.4, bold: false, ink: BLACK };
const HEAD: Style = Style { bold: true, ..CELL };

/// Left end, width and alignment of each column.
type Columns = Vec<(f32, f32, bool)>;

fn columns(flow: &Flow<'_>, table: &Table) -> Columns {
    let sum: f32 = table.columns.iter().map(|c| c.share).sum();
    let room = flow.sheet.text_width() - GUTTER * (table.columns.len().max(1) - 1) as f32;
    let mut left = flow.sheet.left;
    let column = |c: &crate::report::Column| {
        let width = room * c.share / sum.max(1e-6);
        let at = left;
        left += width + GUTTER;
        (at, width, c.right)
    };
    table.columns.iter().map(column).collect()
}

/// Lays a table out.
pub fn table(flow: &mut Flow<'_>, table: &Table) {
    let columns = columns(flow, table);
    let tag = flow.tags.add(Role::Table, None);
    let heads: Vec<&str> = table.columns.iter().map(|c| c.head.as_str()).collect();
    let wrap = |flow: &Flow<'_>, cells: &[&str], style: Style| -> Vec<Vec<String>> {
        cells.iter().zip(&columns).map(|(cell, (_, width, _))| flow.lines(cell, style, *width)).collect()
    };
    let head = wrap(flow, &heads, HEAD);
    let high = |cells: &[Vec<String>]| cells.iter().map(Vec::len).max().unwrap_or(0) as f32 * CELL.leading() + PAD;
    let head_high = high(&head) + PAD;
    let mut head_due = true;
    for row in &table.rows {
        let cells: Vec<&str> = row.iter().map(String::as_str).collect();
        let cells = wrap(flow, &cells, CELL);
        let page = flow.pages.len();
        flow.room(high(&cells) + if head_due { head_high } else { 0.0 });
        if head_due || flow.pages.len() > page {
            put_head(flow, &columns, &head, head_due.then_some(tag));
            head_due = false;
        }
        put_row(flow, &columns, &cells, &head, tag);
    }
    flow.y += 4.0;
}

/// The head; where it comes again it is page furniture, not read out a second time.
fn put_head(flow: &mut Flow<'_>, columns: &Columns, head: &[Vec<String>], table: Option<usize>) {
    let row = table.map(|table| flow.tags.add(Role::Row, Some(table)));
    let lines = head.iter().map(Vec::len).max().unwrap_or(0);
    for (cell, column) in head.iter().zip(columns) {
        let tag = row.map_or(FURNITURE, |row| flow.tags.add(Role::HeadCell, Some(row)));
        // Heads stand on the line.
        let down = (lines - cell.len()) as f32 * HEAD.leading();
        for (i, line) in cell.iter().enumerate() {
            put_line(flow, *column, line, down + i as f32 * HEAD.leading(), HEAD, tag);
        }
    }
    flow.y += lines as f32 * HEAD.leading() + PAD;
    rule(flow, 0.9, BLACK);
    flow.y += PAD;
}

fn put_row(flow: &mut Flow<'_>, columns: &Columns, cells: &[Vec<String>], head: &[Vec<String>], table: usize) {
    let row = flow.tags.add(Role::Row, Some(table));
    let tags: Vec<usize> = cells.iter().map(|_| flow.tags.add(Role::Cell, Some(row))).collect();
    let lines = cells.iter().map(Vec::len).max().unwrap_or(0);
    if flow.y + lines as f32 * CELL.leading() <= flow.sheet.bottom {
        // Cell after cell, so that each is read out and copied in one piece.
        for ((cell, column), tag) in cells.iter().zip(columns).zip(&tags) {
            for (i, line) in cell.iter().enumerate() {
                put_line(flow, *column, line, i as f32 * CELL.leading(), CELL, *tag);
            }
        }
        flow.y += lines as f32 * CELL.leading();
    } else {
        broken_row(flow, columns, cells, head, &tags);
    }
    flow.y += PAD / 2.0;
    rule(flow, 0.4, HAIRLINE);
    flow.y += PAD / 2.0;
}

/// A row that fits on no page, line by line.
fn broken_row(flow: &mut Flow<'_>, columns: &Columns, cells: &[Vec<String>], head: &[Vec<String>], tags: &[usize]) {
    for i in 0..cells.iter().map(Vec::len).max().unwrap_or(0) {
        if flow.y + CELL.leading() > flow.sheet.bottom {
            flow.new_page();
            put_head(flow, columns, head, None);
        }
        for ((cell, column), tag) in cells.iter().zip(columns).zip(tags) {
            if let Some(line) = cell.get(i) {
                put_line(flow, *column, line, 0.0, CELL, *tag);
            }
        }
        flow.y += CELL.leading();
    }
}

fn put_line(
    flow: &mut Flow<'_>,
    (left, width, right): (f32, f32, bool),
    line: &str,
    down: f32,
    style: Style,
    tag: usize,
) {
    let y = flow.y + down + style.ascent();
    let (x, anchor) = if right { (left + width, Anchor::End) } else { (left, Anchor::Start) };
    flow.words(line, [x, y], style, anchor, tag);
}

fn rule(flow: &mut Flow<'_>, width: f32, ink: [u8; 3]) {
    let points = vec![[flow.sheet.left, flow.y], [flow.sheet.right, flow.y]];
    flow.put(Shape::Line { points, closed: false, width, ink, opacity: 1.0, dash: None }, FURNITURE);
}
