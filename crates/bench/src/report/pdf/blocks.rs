//! One block after the other onto the pages.

use super::{
    flow::{Flow, Style},
    prose, table,
    tags::{FURNITURE, Role},
};
use crate::report::{
    Block, Section,
    drawing::{Anchor, BLACK, Shape, WEAK},
};

const HEADING: Style = Style { size: 12.5, bold: true, ink: BLACK };
const SUB: Style = Style { size: 9.8, bold: true, ink: BLACK };
/// Room that a heading wants below it, so that it does not end a page.
const AFTER_HEADING: f32 = 46.0;
/// Width of the names of facts.
const FACT: f32 = 112.0;
const BULLET: f32 = 10.0;
const BOX_PAD: f32 = 7.0;

/// A heading with what is under it.
pub fn section(flow: &mut Flow<'_>, section: &Section) {
    if section.own_page && flow.pages.last().is_some_and(|page| !page.is_empty()) {
        flow.new_page();
    }
    flow.gap(12.0);
    // A table or a drawing that would not fit takes its heading along.
    let first = match section.blocks.as_slice() {
        [Block::Sub(_), next, ..] => SUB.leading() + least_height(flow, next).max(AFTER_HEADING / 2.0) + 9.0,
        [first, ..] => least_height(flow, first),
        [] => 0.0,
    };
    flow.room(HEADING.leading() + 8.0 + first.max(AFTER_HEADING));
    let tag = flow.tags.add(Role::Heading(2), None);
    flow.text(&section.heading, 0.0, HEADING, tag);
    let points = vec![[flow.sheet.left, flow.y + 1.5], [flow.sheet.right, flow.y + 1.5]];
    flow.put(Shape::Line { points, closed: false, width: 0.7, ink: BLACK, opacity: 1.0, dash: None }, FURNITURE);
    flow.y += 6.0;
    for (i, block) in section.blocks.iter().enumerate() {
        if let (Block::Sub(_), Some(next)) = (block, section.blocks.get(i + 1)) {
            flow.gap(3.0);
            flow.room(SUB.leading() + least_height(flow, next).max(AFTER_HEADING / 2.0));
        }
        self::block(flow, block);
    }
}

/// What a block needs at least to begin on a page.
fn least_height(flow: &Flow<'_>, block: &Block) -> f32 {
    match block {
        Block::Drawing { drawing, .. } => {
            drawing.height * (flow.sheet.text_width() / drawing.width).min(1.0) + 6.0 + 2.0 * Style::SMALL.leading()
        }
        Block::Box { lines, .. } => 2.0 * BOX_PAD + (lines.len() + 1) as f32 * Style::BODY.leading(),
        Block::Signature { .. } => 80.0,
        _ => 0.0,
    }
}

fn block(flow: &mut Flow<'_>, block: &Block) {
    match block {
        Block::Sub(text) => {
            let tag = flow.tags.add(Role::Heading(3), None);
            flow.text(text, 0.0, SUB, tag);
            flow.y += 2.0;
        }
        Block::Text(text) => flow.paragraph(text, Style::BODY),
        Block::Note(text) => flow.paragraph(text, Style::SMALL),
        Block::List(items) => list(flow, items),
        Block::Facts(facts) => self::facts(flow, facts),
        Block::Table(table) => table::table(flow, table),
        Block::Box { title, lines } => framed(flow, title, lines),
        Block::Drawing { drawing, caption } => {
            flow.gap(4.0);
            // A caption is not left behind.
            flow.room(least_height(flow, block));
            flow.drawing(drawing);
            flow.y += 2.0;
            if !caption.is_empty() {
                flow.paragraph(caption, Style::SMALL);
            }
            flow.y += 4.0;
        }
        Block::Signature { signed } => signature(flow, signed.as_deref()),
        Block::Prose(blocks) => prose::prose(flow, blocks),
        Block::Legend(entries) => legend(flow, entries),
        Block::Blanks(names) => blanks(flow, names),
    }
}

fn list(flow: &mut Flow<'_>, items: &[String]) {
    let list = flow.tags.add(Role::List, None);
    for item in items {
        let tag = flow.tags.add(Role::Item, Some(list));
        flow.room(Style::BODY.leading());
        let at = [flow.sheet.left + 1.5, flow.y + Style::BODY.ascent()];
        flow.words("\u{2022}", at, Style::BODY, Anchor::Start, tag);
        flow.text(item, BULLET, Style::BODY, tag);
        flow.y += 1.5;
    }
    flow.y += 2.0;
}

fn facts(flow: &mut Flow<'_>, facts: &[(String, String)]) {
    let table = flow.tags.add(Role::Table, None);
    for (name, value) in facts {
        let row = flow.tags.add(Role::Row, Some(table));
        let head = flow.tags.add(Role::HeadCell, Some(row));
        let cell = flow.tags.add(Role::Cell, Some(row));
        flow.room(Style::BODY.leading());
        let at = [flow.sheet.left, flow.y + Style::BODY.ascent()];
        let style = Style { ink: WEAK, ..Style::BODY };
        for (i, line) in flow.lines(name, style, FACT - 8.0).iter().enumerate() {
            flow.words(line, [at[0], at[1] + i as f32 * style.leading()], style, Anchor::Start, head);
        }
        flow.text(value, FACT, Style::BODY, cell);
        flow.y += 1.5;
    }
    flow.y += 3.0;
}

/// A heavy frame around what must not be overlooked. It is broken where it fits on no page.
fn framed(flow: &mut Flow<'_>, title: &str, lines: &[String]) {
    let title_style = Style { size: 11.5, bold: true, ink: BLACK };
    let width = flow.sheet.text_width() - 2.0 * BOX_PAD;
    let title_lines = flow.lines(title, title_style, width);
    let wrapped: Vec<String> = lines.iter().flat_map(|l| flow.lines(l, Style::BODY, width)).collect();
    let height =
        2.0 * BOX_PAD + title_lines.len() as f32 * title_style.leading() + wrapped.len() as f32 * Style::BODY.leading();
    flow.gap(3.0);
    flow.room(height);
    let (page, top) = (flow.pages.len(), flow.y);
    flow.y += BOX_PAD;
    let tag = flow.tags.add(Role::Paragraph, None);
    for line in &title_lines {
        flow.line(line, BOX_PAD, title_style, tag);
    }
    let tag = flow.tags.add(Role::Paragraph, None);
    for line in &wrapped {
        flow.line(line, BOX_PAD, Style::BODY, tag);
    }
    flow.y += BOX_PAD;
    if flow.pages.len() == page {
        let (l, r, b) = (flow.sheet.left, flow.sheet.right, flow.y);
        let points = vec![[l, top], [r, top], [r, b], [l, b]];
        flow.put(Shape::Line { points, closed: true, width: 1.4, ink: BLACK, opacity: 1.0, dash: None }, FURNITURE);
    }
    flow.y += 6.0;
}

/// Three lines to write on, or what was signed.
fn signature(flow: &mut Flow<'_>, signed: Option<&str>) {
    if let Some(signed) = signed {
        flow.paragraph(signed, Style::STRONG);
    }
    flow.room(60.0);
    flow.y += 34.0;
    let tag = flow.tags.add(Role::Paragraph, None);
    let gap = 16.0;
    let wide = (flow.sheet.text_width() - 2.0 * gap) / 3.0;
    for (i, name) in ["Name", "Date", "Signature"].iter().enumerate() {
        let x = flow.sheet.left + i as f32 * (wide + gap);
        let points = vec![[x, flow.y], [x + wide, flow.y]];
        flow.put(Shape::Line { points, closed: false, width: 0.7, ink: BLACK, opacity: 1.0, dash: None }, FURNITURE);
        flow.words(name, [x, flow.y + Style::SMALL.leading()], Style::SMALL, Anchor::Start, tag);
    }
    flow.y += 16.0;
}

/// Numbers in discs, as in the drawing, with what they stand for.
fn legend(flow: &mut Flow<'_>, entries: &[(u32, String)]) {
    const RADIUS: f32 = 6.2;
    const INDENT: f32 = 20.0;
    let list = flow.tags.add(Role::List, None);
    for (number, text) in entries {
        let tag = flow.tags.add(Role::Item, Some(list));
        flow.room(2.0 * RADIUS + 2.0);
        let [x, y] = [flow.sheet.left + RADIUS + 1.0, flow.y + 0.62 * Style::BODY.leading()];
        let ring = (0..24).map(|i| (std::f32::consts::TAU * i as f32 / 24.0).sin_cos());
        let points = ring.map(|(sin, cos)| [x + RADIUS * cos, y + RADIUS * sin]).collect();
        flow.put(Shape::Line { points, closed: true, width: 0.8, ink: BLACK, opacity: 1.0, dash: None }, tag);
        let style = Style { size: if *number > 99 { 6.0 } else { 8.0 }, ..Style::STRONG };
        flow.words(&number.to_string(), [x, y + 0.36 * style.size], style, Anchor::Middle, tag);
        flow.text(text, INDENT, Style::BODY, tag);
        flow.y += 4.0;
    }
    flow.y += 2.0;
}

/// Names, each with lines to write on.
fn blanks(flow: &mut Flow<'_>, names: &[(String, usize)]) {
    const LINE: f32 = 22.0;
    const NAMES: f32 = 165.0;
    for (name, lines) in names {
        let tag = flow.tags.add(Role::Paragraph, None);
        flow.room(LINE * *lines as f32);
        for i in 0..*lines {
            flow.y += LINE;
            if i == 0 {
                flow.words(name, [flow.sheet.left, flow.y - 3.0], Style::BODY, Anchor::Start, tag);
            }
            let points = vec![[flow.sheet.left + NAMES, flow.y], [flow.sheet.right, flow.y]];
            flow.put(Shape::Line { points, closed: false, width: 0.6, ink: WEAK, opacity: 1.0, dash: None }, FURNITURE);
        }
    }
    flow.y += 8.0;
}
