//! The task as a page: headings, paragraphs, lists and bold text of its Markdown. What else Markdown has comes out as text.

use egui::{RichText, ScrollArea, Ui, text::LayoutJob};
use pulldown_cmark::{Event, Parser, Tag, TagEnd};

use crate::theme::{self, Palette, SPACE};

/// Widest line that reads well, in points.
const MOST_WIDTH: f32 = 720.0;

/// A piece of the page.
#[derive(Clone, Debug, Default, PartialEq)]
struct Block {
    heading: bool,
    /// What stands before it in a list.
    bullet: String,
    /// Runs of text, bold or not.
    runs: Vec<(String, bool)>,
}

/// Draws the page.
pub(super) fn show(ui: &mut Ui, markdown: &str) {
    let p = Palette::of(ui);
    let frame = egui::Frame::new().fill(p.panel).inner_margin(egui::Margin::symmetric(24, 16));
    egui::CentralPanel::default().frame(frame).show(ui, |ui| {
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            ui.set_max_width(MOST_WIDTH.min(ui.available_width()));
            for block in blocks(markdown) {
                ui.add_space(if block.heading { SPACE } else { 0.0 });
                if block.heading {
                    let text: String = block.runs.iter().map(|(t, _)| t.as_str()).collect();
                    ui.label(RichText::new(text).heading());
                } else {
                    ui.horizontal_top(|ui| {
                        if !block.bullet.is_empty() {
                            ui.add_sized([22.0, 18.0], egui::Label::new(block.bullet.as_str()));
                        }
                        ui.add(egui::Label::new(job(&block, p)).wrap());
                    });
                }
                ui.add_space(SPACE / 2.0);
            }
        });
    });
}

fn job(block: &Block, p: &Palette) -> LayoutJob {
    let mut job = LayoutJob::default();
    for (text, bold) in &block.runs {
        // The window's font has no bold cut: strong text is told by the accent and the underline.
        let underline = if *bold { egui::Stroke::new(1.0, p.accent) } else { egui::Stroke::NONE };
        let format = egui::TextFormat { font_id: theme::body(), color: p.text, underline, ..Default::default() };
        job.append(text, 0.0, format);
    }
    job
}

fn blocks(markdown: &str) -> Vec<Block> {
    let mut all: Vec<Block> = Vec::new();
    let mut now = Block::default();
    let mut bold = false;
    let mut numbers: Vec<Option<u64>> = Vec::new();
    let mut end = |now: &mut Block| {
        if !now.runs.is_empty() {
            all.push(std::mem::take(now));
        }
    };
    for event in Parser::new(markdown) {
        match event {
            Event::Start(Tag::Heading { .. }) => {
                end(&mut now);
                now.heading = true;
            }
            Event::Start(Tag::List(first)) => {
                end(&mut now);
                numbers.push(first);
            }
            Event::End(TagEnd::List(_)) => {
                end(&mut now);
                numbers.pop();
            }
            Event::Start(Tag::Item) => {
                end(&mut now);
                now.bullet = match numbers.last_mut() {
                    Some(Some(number)) => {
                        *number += 1;
                        format!("{}.", *number - 1)
                    }
                    _ => "\u{2013}".to_owned(),
                };
            }
            Event::Start(Tag::Strong | Tag::Emphasis) => bold = true,
            Event::End(TagEnd::Strong | TagEnd::Emphasis) => bold = false,
            Event::End(TagEnd::Heading(_) | TagEnd::Paragraph | TagEnd::Item | TagEnd::CodeBlock) => {
                end(&mut now);
                now = Block::default();
            }
            Event::Text(text) | Event::Code(text) | Event::Html(text) | Event::InlineHtml(text) => {
                now.runs.push((text.to_string(), bold));
            }
            Event::SoftBreak | Event::HardBreak => now.runs.push((" ".to_owned(), false)),
            _ => {}
        }
    }
    end(&mut now);
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_lists_and_strong_text_come_apart() {
        let found = blocks("# Find it\n\nOne *part*\nmay be.\n\n1. **Rail**: which?\n2. Place.\n\n- a\n");
        let said: Vec<(bool, &str, String)> = found
            .iter()
            .map(|b| (b.heading, b.bullet.as_str(), b.runs.iter().map(|(t, _)| t.as_str()).collect()))
            .collect();
        assert_eq!(
            said,
            [
                (true, "", "Find it".to_owned()),
                (false, "", "One part may be.".to_owned()),
                (false, "1.", "Rail: which?".to_owned()),
                (false, "2.", "Place.".to_owned()),
                (false, "\u{2013}", "a".to_owned()),
            ]
        );
        assert!(found[2].runs[0].1 && !found[2].runs[1].1);
        assert!(blocks("").is_empty());
    }
}
