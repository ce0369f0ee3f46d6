//! The task as a page.

use egui::{RichText, ScrollArea, Ui, text::LayoutJob};

use crate::{
    lesson::markdown::{self, Block, Run},
    theme::{self, Palette, SPACE},
};

/// Widest line that reads well, in points.
const MOST_WIDTH: f32 = 720.0;

/// Draws the page.
pub(super) fn show(ui: &mut Ui, text: &str) {
    let p = Palette::of(ui);
    let frame = egui::Frame::new().fill(p.panel).inner_margin(egui::Margin::symmetric(24, 16));
    egui::CentralPanel::default().frame(frame).show(ui, |ui| {
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            ui.set_max_width(MOST_WIDTH.min(ui.available_width()));
            markdown::parse(text).iter().for_each(|block| self::block(ui, block));
        });
    });
}

fn block(ui: &mut Ui, block: &Block) {
    match block {
        Block::Heading(level, runs) => {
            ui.add_space(SPACE);
            let words: String = runs.iter().map(|r| r.text.as_str()).collect();
            let words = RichText::new(words);
            ui.label(if *level == 1 { words.heading() } else { words.strong() });
        }
        Block::Paragraph(runs) => {
            ui.add(egui::Label::new(job(runs, Palette::of(ui))).wrap());
        }
        Block::List(first, items) => {
            for (at, item) in items.iter().enumerate() {
                let bullet = first.map_or("\u{2013}".to_owned(), |first| format!("{}.", first + at as u64));
                ui.horizontal_top(|ui| {
                    ui.add_sized([22.0, 18.0], egui::Label::new(bullet));
                    ui.vertical(|ui| item.iter().for_each(|block| self::block(ui, block)));
                });
            }
        }
        Block::Code(text) => {
            ui.label(RichText::new(text).monospace());
        }
    }
    ui.add_space(SPACE / 2.0);
}

fn job(runs: &[Run], p: &Palette) -> LayoutJob {
    let mut job = LayoutJob::default();
    for run in runs {
        // The window's font has no bold cut: strong text is underlined.
        let underline = if run.strong { egui::Stroke::new(1.0, p.accent) } else { egui::Stroke::NONE };
        let font_id = if run.code { egui::FontId::monospace(theme::SMALL) } else { theme::body() };
        let format =
            egui::TextFormat { font_id, color: p.text, italics: run.emphasis, underline, ..Default::default() };
        job.append(&run.text, 0.0, format);
    }
    job
}
