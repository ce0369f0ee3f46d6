//! Markdown as the class will see it: in the panel, on a step of words, while presenting.

use std::sync::Arc;

use egui::{
    Color32, FontId, Galley, Rect, TextFormat, Ui,
    text::{LayoutJob, TextWrapping},
    vec2,
};

use crate::{
    lesson::{
        Step,
        markdown::{Block, Run, parse},
    },
    theme::{self, LARGE, Palette, SPACE},
};

/// Lines of a text this many times as high as its letters.
const LEADING: f32 = 1.4;
/// Room between blocks, in heights of letters.
const APART: f32 = 0.55;
/// What a list is set in by.
const INDENT: f32 = 1.5;
/// Letters smaller than this are not read from a bench, in points.
const LEAST: f32 = 14.0;
/// Steps from the largest letters that are tried to the smallest.
const SHRINK: f32 = 0.93;
/// Words in a wide room end here, in heights of letters: longer lines lose the eye.
const LINE: f32 = 42.0;

/// A block, ready to be laid out: how far it is set in, what stands before it, its text.
struct Line {
    indent: f32,
    before: String,
    job: LayoutJob,
}

/// Draws a text as wide as the region.
pub fn show(ui: &mut Ui, text: &str, size: f32, colour: Color32) {
    let width = ui.available_width();
    let laid = lay_out(ui, text, size, colour, width);
    let (rect, response) = ui.allocate_exact_size(vec2(width, height(&laid, size)), egui::Sense::hover());
    let plain = crate::lesson::markdown::plain(&parse(text));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, &plain));
    let mut y = rect.top();
    for (indent, before, galley) in laid {
        let at = rect.left() + indent;
        if let Some(before) = before {
            let place = egui::pos2(at - 0.45 * size - before.size().x, y);
            ui.painter().galley(place, before, colour);
        }
        let tall = galley.size().y;
        ui.painter().galley(egui::pos2(at, y), galley, colour);
        y += tall + APART * size;
    }
}

/// A step of words alone.
pub fn page(ui: &mut Ui, place: Rect, step: &Step) {
    let p = Palette::of(ui);
    let mut inner = ui.new_child(egui::UiBuilder::new().max_rect(place));
    egui::ScrollArea::vertical().auto_shrink(false).show(&mut inner, |ui| {
        ui.set_max_width(place.width().min(LINE * LARGE * 0.8));
        ui.label(egui::RichText::new(&step.title).size(LARGE).strong());
        ui.add_space(SPACE);
        if step.text.trim().is_empty() {
            ui.label(egui::RichText::new("No words yet: write them on the right.").color(p.weak));
        }
        show(ui, &step.text, LARGE * 0.8, p.text);
    });
}

/// A text as large as fits into a place, up to a size; where even small letters do not fit, it scrolls.
pub fn fitted(ui: &mut Ui, place: Rect, text: &str, most: f32, colour: Color32) {
    let width = |size: f32| place.width().min(LINE * size);
    let fits = |size: f32| height(&lay_out(ui, text, size, colour, width(size)), size) <= place.height();
    let mut size = most;
    while size > LEAST && !fits(size) {
        size = (size * SHRINK).max(LEAST);
    }
    let mut inner = ui.new_child(egui::UiBuilder::new().max_rect(place));
    egui::ScrollArea::vertical().auto_shrink(false).show(&mut inner, |ui| {
        ui.set_max_width(width(size));
        show(ui, text, size, colour);
    });
}

type Laid = (f32, Option<Arc<Galley>>, Arc<Galley>);

fn lay_out(ui: &Ui, text: &str, size: f32, colour: Color32, width: f32) -> Vec<Laid> {
    let mut lines = Vec::new();
    blocks(&parse(text), 0.0, size, colour, &mut lines);
    let lay = |mut job: LayoutJob, width: f32| {
        job.wrap = TextWrapping { max_width: width.max(size), ..Default::default() };
        ui.painter().layout_job(job)
    };
    let laid = lines.into_iter().map(|line| {
        let marker = LayoutJob::single_section(line.before.clone(), format(theme::report(size, false), colour));
        let before = (!line.before.is_empty()).then(|| lay(marker, f32::INFINITY));
        (line.indent, before, lay(line.job, width - line.indent))
    });
    laid.collect()
}

fn height(laid: &[Laid], size: f32) -> f32 {
    let apart = APART * size * laid.len().saturating_sub(1) as f32;
    laid.iter().map(|(_, _, galley)| galley.size().y).sum::<f32>() + apart
}

fn blocks(all: &[Block], indent: f32, size: f32, colour: Color32, out: &mut Vec<Line>) {
    for block in all {
        let job = match block {
            Block::Heading(level, runs) => {
                let larger = 1.0 + 0.12 * f32::from(4_u8.saturating_sub(*level));
                inline(runs, larger * size, true, colour)
            }
            Block::Paragraph(runs) => inline(runs, size, false, colour),
            Block::Code(text) => {
                let run = Run { text: text.trim_end().to_owned(), code: true, ..Run::default() };
                inline(&[run], size, false, colour)
            }
            Block::List(first, items) => {
                for (number, item) in items.iter().enumerate() {
                    let marker = first.map_or("\u{2022}".to_owned(), |f| format!("{}.", f + number as u64));
                    let begin = out.len();
                    blocks(item, indent + INDENT * size, size, colour, out);
                    if let Some(line) = out.get_mut(begin).filter(|l| l.before.is_empty()) {
                        line.before = marker;
                    }
                }
                continue;
            }
        };
        out.push(Line { indent, before: String::new(), job });
    }
}

fn inline(runs: &[Run], size: f32, heading: bool, colour: Color32) -> LayoutJob {
    let mut job = LayoutJob::default();
    for run in runs {
        let font = if run.code { FontId::monospace(0.95 * size) } else { theme::report(size, heading || run.strong) };
        let mut format = format(font, colour);
        format.italics = run.emphasis;
        format.line_height = Some(LEADING * size);
        job.append(&run.text, 0.0, format);
    }
    job
}

fn format(font_id: FontId, color: Color32) -> TextFormat {
    let line_height = Some(LEADING * font_id.size);
    TextFormat { font_id, color, line_height, ..TextFormat::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<(f32, String, String)> {
        let mut out = Vec::new();
        blocks(&parse(text), 0.0, 10.0, Color32::WHITE, &mut out);
        out.into_iter().map(|l| (l.indent, l.before, l.job.text)).collect()
    }

    #[test]
    fn lists_are_numbered_and_set_in() {
        let seen = lines("Look:\n\n3. first\n4. second\n   - inner\n\nEnd");
        let wanted = [
            (0.0, "", "Look:"),
            (15.0, "3.", "first"),
            (15.0, "4.", "second"),
            (30.0, "\u{2022}", "inner"),
            (0.0, "", "End"),
        ];
        let wanted: Vec<_> = wanted.map(|(i, b, t)| (i, b.to_owned(), t.to_owned())).to_vec();
        assert_eq!(seen, wanted);
    }

    #[test]
    fn looks_of_words_stay_apart() {
        let mut out = Vec::new();
        blocks(&parse("a **b** *c* `d`"), 0.0, 10.0, Color32::WHITE, &mut out);
        let job = &out[0].job;
        assert_eq!(job.text, "a b c d");
        let strong = job.sections.iter().any(|s| s.format.font_id == theme::report(10.0, true));
        let stress = job.sections.iter().any(|s| s.format.italics);
        let code = job.sections.iter().any(|s| s.format.font_id.family == egui::FontFamily::Monospace);
        assert!(strong && stress && code);
    }
}
