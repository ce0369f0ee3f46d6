//! The case log, and who is at the bench.

use egui::{Id, Modal, RichText, ScrollArea, Ui};

use super::super::{command::Command, screen::Screen, session::Session};
use crate::theme::{Palette, SMALL, SPACE};

/// Who is at the bench: a field that is committed when left.
pub fn by(ui: &mut Ui, screen: &mut Screen, out: &mut Vec<Command>) {
    let label = ui.label(RichText::new("at the bench").size(SMALL));
    let mut typed = screen.fields.by.clone().unwrap_or_else(|| screen.by.clone());
    let field = egui::TextEdit::singleline(&mut typed).desired_width(112.0).hint_text("your name");
    let response = ui.add(field).labelled_by(label.id).on_hover_text("Written beside everything in the case log");
    if response.changed() {
        screen.fields.by = Some(typed);
    }
    if response.lost_focus()
        && let Some(name) = screen.fields.by.take()
    {
        out.push(Command::By(name));
    }
}

/// The list, in a dialog.
pub fn show(ui: &Ui, session: Option<&Session>, screen: &mut Screen, out: &mut Vec<Command>) {
    let Some(session) = session.filter(|_| screen.log_shown) else {
        return;
    };
    let response = Modal::new(Id::unique("case log")).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_width(720.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        ui.label(RichText::new("Case log").strong());
        let why = if session.keeps_log() {
            "What was done, when (UTC) and by whom. It only grows: undoing something is one more line."
        } else {
            "What was done, when (UTC) and by whom. It is written beside the case from the first save on."
        };
        ui.label(RichText::new(why).size(SMALL).color(p.weak));
        ui.horizontal(|ui| by(ui, screen, out));
        if let Some(fault) = &session.journal.fault {
            ui.label(RichText::new(format!("Not written: {fault}")).size(SMALL).color(p.refusal));
        }
        if session.journal.damaged > 0 {
            let text = format!("{} lines of the file cannot be read; they stay in it.", session.journal.damaged);
            ui.label(RichText::new(text).size(SMALL).color(p.caution));
        }
        ui.add_space(SPACE);
        let height = ui.ctx().content_rect().height() - 260.0;
        ScrollArea::vertical().max_height(height).auto_shrink([false, true]).stick_to_bottom(true).show(ui, |ui| {
            if session.journal.lines().is_empty() {
                ui.label("Nothing was done yet.");
            }
            for line in session.journal.lines() {
                ui.horizontal_top(|ui| {
                    let by = if line.by.is_empty() { "nobody named" } else { &line.by };
                    let when = line.time.replace('T', " ").replace('Z', "");
                    ui.label(RichText::new(when).size(SMALL).color(p.weak));
                    ui.label(RichText::new(by).size(SMALL).color(p.weak));
                    ui.add(egui::Label::new(RichText::new(&line.action).size(SMALL)).wrap());
                });
            }
        });
        ui.add_space(SPACE);
        if ui.button("Close").clicked() {
            out.push(Command::CaseLog(false));
        }
    });
    if response.backdrop_response.clicked() {
        out.push(Command::CaseLog(false));
    }
}
