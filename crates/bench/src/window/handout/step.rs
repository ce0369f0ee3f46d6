//! The right column: the step's words, what it shows, its marks.

use egui::{DragValue, RichText, ScrollArea, Ui};

use super::{
    super::{command::Command, session::Session},
    Change, HandoutCommand as C, HandoutScreen, marks, preview, shows,
};
use crate::{
    lesson::{Plays, Shows, Step},
    theme::{self, Palette, SMALL, SPACE},
};

/// Speeds that a recording can be played at.
const SPEEDS: std::ops::RangeInclusive<f32> = 0.1..=20.0;

/// Draws the column.
pub fn show(ui: &mut Ui, session: &Session, handout: &mut HandoutScreen, out: &mut Vec<Command>) {
    let Some(step) = handout.step(&session.document.case) else {
        return;
    };
    let first = handout.step == 0;
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        let mut ask = |command: C| out.push(Command::Handout(command));
        theme::section(ui, format!("Step {}", handout.step + 1));
        let mut title = step.title.clone();
        let field = egui::TextEdit::singleline(&mut title).desired_width(f32::INFINITY).hint_text("Heading");
        if ui.add(field).accessible_name("Heading of the step").changed() {
            ask(C::Change(Change::Title(title)));
        }
        words(ui, step, handout.previewing, &mut ask);
        theme::hairline(ui);
        shows::show(ui, session, step, &mut ask);
        plays(ui, session, step, &mut ask);
        theme::hairline(ui);
        let mut keeps = step.keeps_earlier;
        let keep = ui.add_enabled(!first, egui::Checkbox::new(&mut keeps, "Keep the marks of the step before"));
        if keep.on_disabled_hover_text("There is no step before").changed() {
            ask(C::Change(Change::KeepsEarlier(keeps)));
        }
        if step.view.shows != Shows::Words || !step.marks.is_empty() {
            marks::show(ui, step, handout, &mut ask);
        }
    });
}

fn words(ui: &mut Ui, step: &Step, previewing: bool, ask: &mut impl FnMut(C)) {
    let p = Palette::of(ui);
    ui.horizontal(|ui| {
        for (on, words) in [(false, "Write"), (true, "Preview")] {
            if ui.selectable_label(previewing == on, words).clicked() {
                ask(C::Preview(on));
            }
        }
    });
    if previewing {
        preview::show(ui, &step.text, theme::BODY, p.text);
        return;
    }
    let mut text = step.text.clone();
    let field = egui::TextEdit::multiline(&mut text).desired_rows(6).desired_width(f32::INFINITY);
    let field = ui.add(field.hint_text("What you say to this picture")).accessible_name("Text of the step");
    if field.changed() {
        ask(C::Change(Change::Text(text)));
    }
    let help = "# Heading   **strong**   *stress*   - list   1. list";
    ui.add(egui::Label::new(RichText::new(help).size(SMALL).color(p.weak)).wrap());
}

/// The piece of the recording that is played.
fn plays(ui: &mut Ui, session: &Session, step: &Step, ask: &mut impl FnMut(C)) {
    let Shows::Map { take, layer, frame, .. } = &step.view.shows else {
        return;
    };
    let last = session.views.get(take).map(|v| v.take.timeline.len().saturating_sub(1));
    let mut on = step.plays.is_some();
    let can = layer.follows_time() && last.is_some();
    let check = ui.add_enabled(can || on, egui::Checkbox::new(&mut on, "Plays the recording (P while presenting)"));
    let why = if last.is_none() {
        "The take was not read yet"
    } else {
        "Choose the layer \u{201c}Current frame\u{201d} first"
    };
    if check.on_disabled_hover_text(why).changed() {
        let whole = Plays { from: (*frame).min(last.unwrap_or(0)), to: last.unwrap_or(0), speed: 1.0 };
        // From the end there is nothing to play: then all of it.
        let whole = if whole.from >= whole.to { Plays { from: 0, ..whole } } else { whole };
        ask(C::Change(Change::Plays(on.then_some(whole))));
    }
    let Some(plays) = step.plays else {
        return;
    };
    let mut now = plays;
    ui.horizontal_wrapped(|ui| {
        let last = last.unwrap_or(plays.to);
        let label = ui.label("from frame");
        ui.add(DragValue::new(&mut now.from).range(0..=plays.to)).labelled_by(label.id);
        let label = ui.label("to");
        ui.add(DragValue::new(&mut now.to).range(plays.from..=last.max(plays.from))).labelled_by(label.id);
        let label = ui.label("at");
        let speed = DragValue::new(&mut now.speed).range(SPEEDS).speed(0.05).max_decimals(1).suffix(" times the speed");
        ui.add(speed).labelled_by(label.id);
    });
    if now != plays {
        ask(C::Change(Change::Plays(Some(now))));
    }
    ui.add_space(SPACE / 2.0);
}
