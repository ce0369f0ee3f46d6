//! The dialog for a meter's log: what was pasted, and what each line is taken for, before anything is changed.

use egui::{Id, Modal, RichText, ScrollArea, TextEdit, Ui};

use super::{
    super::{command::Command, screen::Screen, session::Session},
    ReadingsCommand, ReadingsScreen,
};
use crate::{
    case::{
        meter_log::{self, Line},
        reading::{Quantity, shown},
    },
    theme::{Palette, SMALL, SPACE},
};

/// What was pasted.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Paste {
    /// The text.
    pub text: String,
    /// What lines are meant to be when they do not say.
    pub quantity: Quantity,
    /// The rail that the first line without a name goes to, by index.
    pub first: usize,
}

/// What the lines are taken for.
pub fn found(session: &Session, _screen: &ReadingsScreen, paste: &Paste) -> Vec<Line> {
    let rails: Vec<String> = session.board.rails.iter().map(|r| r.name.clone()).collect();
    meter_log::parse(&paste.text, &rails, paste.first, paste.quantity)
}

/// Draws the dialog when it is open.
pub fn show(ui: &Ui, session: Option<&Session>, screen: &mut Screen, out: &mut Vec<Command>) {
    let Some(mut paste) = screen.readings.paste.take() else {
        return;
    };
    let Some(session) = session else {
        return;
    };
    let response = Modal::new(Id::unique("paste readings")).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_width(620.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        ui.label(RichText::new("Paste a meter's log").strong());
        let why = "One reading a line. Lines that name a rail go to it, the others to the rails in turn.";
        ui.label(RichText::new(why).size(SMALL).color(p.weak));
        ui.add_space(SPACE);
        let field = TextEdit::multiline(&mut paste.text).desired_rows(6).desired_width(f32::INFINITY);
        let field = field.hint_text("V12 0.2\nV5 4k7\n1V8, 412 mV");
        ScrollArea::vertical().id_salt("pasted").max_height(140.0).show(ui, |ui| {
            let response = ui.add(field).accessible_name("The meter's log");
            if ui.ctx().memory(|m| m.focused()).is_none() {
                response.request_focus();
            }
        });
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new("lines that do not say are").size(SMALL));
            for quantity in Quantity::ALL {
                ui.selectable_value(&mut paste.quantity, quantity, quantity.words());
            }
        });
        let lines = found(session, &screen.readings, &paste);
        let good = lines.iter().filter(|l| l.read.is_ok()).count();
        ui.add_space(SPACE / 2.0);
        let height = (ui.ctx().content_rect().height() - 420.0).max(80.0);
        ScrollArea::vertical().id_salt("found").max_height(height).auto_shrink([false, true]).show(ui, |ui| {
            for line in &lines {
                let (words, colour) = match &line.read {
                    Ok(read) => {
                        let note = read.note.as_ref().map(|n| format!(" ({n})")).unwrap_or_default();
                        let value = shown(read.value, read.quantity);
                        (format!("{}, {}: {value}{note}", read.rail, read.quantity.words()), p.text)
                    }
                    Err(why) => (format!("left out: {why}: {}", line.text), p.caution),
                };
                ui.add(egui::Label::new(RichText::new(words).size(SMALL).color(colour)).truncate());
            }
        });
        ui.add_space(SPACE);
        ui.horizontal(|ui| {
            let take = egui::Button::new(format!("Take {good} reading{} in", if good == 1 { "" } else { "s" }));
            if ui.add_enabled(good > 0, take).clicked() {
                out.push(Command::Readings(ReadingsCommand::TakePasted));
            }
            if ui.button("Close").clicked() {
                out.push(Command::Readings(ReadingsCommand::Paste(false)));
            }
        });
    });
    if response.backdrop_response.clicked() && paste.text.is_empty() {
        out.push(Command::Readings(ReadingsCommand::Paste(false)));
    }
    screen.readings.paste = Some(paste);
}
