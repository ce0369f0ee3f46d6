//! What was done to the board: one dialog, so that the log, the readings and the report know of it.

use egui::{Id, Key, Modal, RichText, TextEdit, Ui};

use super::super::{command::Command, screen::Screen, session::Session};
use crate::{
    case::intervention::Doing,
    theme::{Palette, SMALL, SPACE},
};

/// Draws the dialog when it is open.
pub fn show(ui: &Ui, session: Option<&Session>, screen: &mut Screen, out: &mut Vec<Command>) {
    let (Some(session), Some((mut what, mut part))) = (session, screen.doing.take()) else {
        return;
    };
    let mut close = false;
    let response = Modal::new(Id::unique("doing")).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_width(460.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        ui.label(RichText::new("What was done?").strong());
        let why = "It goes into the case log. Readings from now on count as taken after it.";
        ui.label(RichText::new(why).size(SMALL).color(p.weak));
        ui.add_space(SPACE);
        ui.horizontal_wrapped(|ui| {
            for doing in Doing::ALL {
                ui.selectable_value(&mut what, doing, doing.done());
            }
        });
        ui.add_space(SPACE / 2.0);
        let known = session.board.part(part.trim()).is_some();
        let entered = ui
            .horizontal(|ui| {
                let label = ui.label("part");
                let field = TextEdit::singleline(&mut part).desired_width(96.0).hint_text("C12");
                let response = ui.add(field).labelled_by(label.id);
                if ui.ctx().memory(|m| m.focused()).is_none() {
                    response.request_focus();
                }
                if part.trim().is_empty() {
                    ui.label(RichText::new("empty: the whole board").size(SMALL).color(p.weak));
                } else if !known {
                    ui.label(RichText::new("not on the drawing").size(SMALL).color(p.caution));
                }
                response.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter))
            })
            .inner;
        // One end lifted or a part taken off means a part; the whole board is cleaned, dried, taken apart.
        let needs_part = matches!(what, Doing::Lifted | Doing::Replaced | Doing::Coated);
        let whole = what == Doing::Separated;
        let ready = whole || !needs_part || !part.trim().is_empty();
        ui.add_space(SPACE);
        ui.horizontal(|ui| {
            let button = ui.add_enabled(ready, egui::Button::new("Put it in the log"));
            if button.on_disabled_hover_text("Name the part first").clicked() || (entered && ready) {
                let name = if whole { String::new() } else { part.trim().to_owned() };
                out.push(Command::Did(what, name));
                close = true;
            }
            close |= ui.button("Close").clicked();
        });
    });
    if !close && !response.backdrop_response.clicked() {
        screen.doing = Some((what, part));
    }
}
