//! The text of a lesson onto the pages. Emphasis is underlined: there is no slanted face.

use super::{
    flow::{Flow, Style},
    tags::{Role, TagId},
    text,
};
use crate::{
    lesson::markdown::{Block, Run},
    report::drawing::{Anchor, BLACK, Ink, Shape},
};

/// A list's items stand so far in.
const INDENT: f32 = 14.0;
/// Behind code.
const CODE_GROUND: Ink = [232; 3];

/// Lays blocks out.
pub fn prose(flow: &mut Flow<'_>, blocks: &[Block]) {
    for block in blocks {
        self::block(flow, block, 0.0, None);
    }
}

fn block(flow: &mut Flow<'_>, block: &Block, indent: f32, within: Option<TagId>) {
    match block {
        Block::Heading(level, runs) => {
            let style = Style { size: if *level < 3 { 10.6 } else { 9.8 }, bold: true, ink: BLACK };
            flow.gap(3.0);
            flow.room(style.leading() + 2.0 * Style::BODY.leading());
            let tag = within.unwrap_or_else(|| flow.tags.add(Role::Heading(2 + u16::from(*level).clamp(1, 4)), None));
            self::runs(flow, runs, indent, style, tag);
            flow.y += 2.0;
        }
        Block::Paragraph(runs) => {
            let tag = within.unwrap_or_else(|| flow.tags.add(Role::Paragraph, None));
            self::runs(flow, runs, indent, Style::BODY, tag);
            flow.y += 2.5;
        }
        Block::Code(code) => {
            let tag = within.unwrap_or_else(|| flow.tags.add(Role::Paragraph, None));
            for line in code.split('\n') {
                let run = Run { text: line.to_owned(), code: true, ..Run::default() };
                runs(flow, &[run], indent + 4.0, Style::BODY, tag);
            }
            flow.y += 3.0;
        }
        Block::List(first, items) => {
            let list = flow.tags.add(Role::List, within);
            for (i, item) in items.iter().enumerate() {
                let tag = flow.tags.add(Role::Item, Some(list));
                let marker =
                    first.map_or("\u{2022}".to_owned(), |first| format!("{}.", first.saturating_add(i as u64)));
                flow.room(Style::BODY.leading());
                let at = [flow.sheet.left + indent + 1.5, flow.y + Style::BODY.ascent()];
                flow.words(&marker, at, Style::BODY, Anchor::Start, tag);
                let wide = flow.fonts.face(false).width(&marker, Style::BODY.size) + 6.0;
                if item.is_empty() {
                    flow.y += Style::BODY.leading();
                }
                for block in item {
                    self::block(flow, block, indent + wide.max(INDENT), Some(tag));
                }
            }
        }
    }
}

fn runs(flow: &mut Flow<'_>, runs: &[Run], indent: f32, style: Style, tag: TagId) {
    let looks: Vec<(bool, &str)> = runs.iter().map(|r| (r.strong || style.bold, r.text.as_str())).collect();
    let width = flow.sheet.text_width() - indent;
    for line in text::spans(flow.fonts, &looks, style.size, width) {
        flow.room(style.leading());
        let (mut x, y) = (flow.sheet.left + indent, flow.y + style.ascent());
        for (i, text) in line {
            let (bold, run) = (looks[i].0, &runs[i]);
            let wide = flow.fonts.face(bold).width(&text, style.size);
            if run.code {
                let rect = [x - 0.8, y - 0.82 * style.size, wide + 1.6, 1.1 * style.size];
                flow.put(Shape::Fill { rect, ink: CODE_GROUND, opacity: 1.0 }, tag);
            }
            flow.words(&text, [x, y], Style { bold, ..style }, Anchor::Start, tag);
            if run.emphasis {
                let points = vec![[x, y + 1.4], [x + wide, y + 1.4]];
                let (ink, dash) = (style.ink, None);
                flow.put(Shape::Line { points, closed: false, width: 0.5, ink, opacity: 1.0, dash }, tag);
            }
            x += wide;
        }
        flow.y += style.leading();
    }
}
