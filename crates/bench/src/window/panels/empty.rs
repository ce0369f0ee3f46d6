//! What an empty middle says: one sentence, the action, and the practice case.

use egui::{RichText, Ui};

use super::super::{
    command::{Command, Pick},
    desk::DeskCommand,
    drawing::{Draw, shelf::ShelfCommand},
    session::Session,
};
use crate::theme::{LARGE, Palette, SPACE};

/// No case is open.
pub fn no_case(ui: &mut Ui, busy: bool, out: &mut Vec<Command>) {
    centred(ui, |ui| {
        ui.label(RichText::new("Which part shorts the rail?").size(LARGE));
        ui.add_space(SPACE);
        ui.label(
            "Open a case, or drop frames, a capture log, a board drawing and point pairs onto this window: \
             Joulemark finds where heat starts and names the part under it.",
        );
        ui.add_space(2.0 * SPACE);
        if busy {
            return;
        }
        ui.horizontal_wrapped(|ui| {
            if ui.button("Open a case\u{2026}").clicked() {
                out.push(Command::Pick(Pick::Case));
            }
            if ui.button("New case from files\u{2026}").clicked() {
                out.push(Command::NewCase(Box::default()));
            }
            if ui.button("Draw the board").on_hover_text("From a photo, or from nothing").clicked() {
                out.push(Command::Draw(Draw::Open));
            }
            if ui.button("From the shelf\u{2026}").on_hover_text("A board drawn before").clicked() {
                out.push(Command::Shelf(ShelfCommand::Open));
            }
            if ui.button("Shop library\u{2026}").on_hover_text("All cases of the shop").clicked() {
                out.push(Command::Desk(DeskCommand::Open));
            }
            if ui.button("Open the practice case").clicked() {
                out.push(Command::OpenPractice);
            }
        });
    });
}

/// A case is open, but the take shown was not read.
pub fn no_take(ui: &mut Ui, session: &Session, busy: bool, out: &mut Vec<Command>) {
    centred(ui, |ui| {
        if session.document.case.takes.is_empty() {
            ui.label(
                "This case has no take yet: film the board before and while current flows, then add the recording.",
            );
            ui.add_space(SPACE);
            ui.horizontal(|ui| {
                if ui.button("Draw the board").clicked() {
                    out.push(Command::Draw(Draw::Open));
                }
                let button = ui.add_enabled(session.waits_for_take(), egui::Button::new("Add a take\u{2026}"));
                let why = "A take is read against the parts that are drawn: draw them first";
                if button.on_disabled_hover_text(why).clicked() {
                    out.push(Command::AddTake(Vec::new()));
                }
            });
        } else {
            ui.label(format!("Take {} was not read yet.", session.shown));
            ui.add_space(SPACE);
            if !busy && ui.button("Read and locate it").clicked() {
                out.push(Command::ShowTake(session.shown.clone()));
            }
        }
    });
}

pub fn centred(ui: &mut Ui, add: impl FnOnce(&mut Ui)) {
    let space = ui.available_rect_before_wrap();
    ui.painter().rect_filled(space, 0.0, Palette::of(ui).canvas);
    let width = space.width().min(520.0) - 4.0 * SPACE;
    let place = egui::Rect::from_center_size(space.center(), egui::vec2(width, 180.0)).intersect(space);
    ui.scope_builder(egui::UiBuilder::new().max_rect(place), |ui| ui.vertical(add));
}
