//! Which device is on the bench and what is wrong with it: for the report, and for finding the case again.

use egui::{Id, Key, Modal, RichText, TextEdit, Ui};

use super::super::{command::Command, screen::Screen, session::Session};
use crate::{
    case::device::Device,
    theme::{Palette, SMALL, SPACE},
};

/// What is typed in the dialog.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DeviceDraft {
    /// Name of the case.
    pub name: String,
    /// The rest.
    pub device: Device,
}

impl DeviceDraft {
    /// What the case says now.
    pub fn of(session: &Session) -> Self {
        let case = &session.document.case;
        let mut device = case.device.clone();
        if device.model.is_empty() {
            device.model.clone_from(&session.board.name);
        }
        Self { name: case.name.clone(), device }
    }
}

/// Draws the dialog when it is open.
pub fn show(ui: &Ui, screen: &mut Screen, out: &mut Vec<Command>) {
    let Some(mut draft) = screen.device.take() else {
        return;
    };
    let mut close = false;
    let response = Modal::new(Id::unique("device")).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_width(520.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        ui.label(RichText::new("Device").strong());
        let why = "The report carries it; the same serial number in a later case is a comeback.";
        ui.label(RichText::new(why).size(SMALL).color(p.weak));
        ui.add_space(SPACE);
        egui::Grid::new("device").num_columns(2).spacing([12.0, 6.0]).show(ui, |ui| {
            let device = &mut draft.device;
            let fields: [(&str, &mut String, &str); 3] = [
                ("name of the case", &mut draft.name, "what the shop calls it"),
                ("board model", &mut device.model, "the same word for every device of its kind"),
                ("serial number", &mut device.serial, ""),
            ];
            for (words, text, hint) in fields {
                let label = ui.label(words);
                let field = ui.add(TextEdit::singleline(text).desired_width(320.0).hint_text(hint));
                let field = field.labelled_by(label.id);
                if words == "serial number" && ui.ctx().memory(|m| m.focused()).is_none() {
                    field.request_focus();
                }
                ui.end_row();
            }
            let label = ui.label("symptom");
            let field = TextEdit::multiline(&mut device.symptom).desired_width(320.0).desired_rows(3);
            ui.add(field.hint_text("as its owner or you saw it")).labelled_by(label.id);
            ui.end_row();
        });
        ui.add_space(SPACE);
        let enter = ui.input_mut(|i| i.consume_key(egui::Modifiers::COMMAND, Key::Enter));
        ui.horizontal(|ui| {
            if ui.button("Take it over").on_hover_text("Ctrl+Enter").clicked() || enter {
                out.push(Command::SetDevice(Box::new(draft.clone())));
                close = true;
            }
            close |= ui.button("Close").clicked();
        });
    });
    if !close && !response.backdrop_response.clicked() {
        screen.device = Some(draft);
    }
}
