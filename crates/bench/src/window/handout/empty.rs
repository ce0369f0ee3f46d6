//! What the stage says while there is nothing to show: one sentence and the action.

use egui::{RichText, Ui};

use super::{
    super::{command::Command, exercise::ExerciseCommand, panels::empty::centred, session::Session},
    HandoutCommand as C,
};
use crate::{
    lesson::View,
    theme::{LARGE, SPACE},
};

/// The case has no lesson.
pub fn no_lesson(ui: &mut Ui, session: &Session, out: &mut Vec<Command>) {
    centred(ui, |ui| {
        ui.label(RichText::new("Turn this case into a lesson").size(LARGE));
        ui.add_space(SPACE);
        ui.label(
            "A lesson is a row of steps. Each shows a map, photo, drawing or curve of this case, with your marks on it and \
             your words beside it. Show it to a class, or hand it out as PDF, picture or web page.",
        );
        ui.add_space(2.0 * SPACE);
        ui.horizontal_wrapped(|ui| {
            let hint = "Steps for what the case has: photo, drawing, maps, answer. Change them as you like.";
            if ui.button("Start from this case").on_hover_text(hint).clicked() {
                out.push(Command::Handout(C::FromCase));
            }
            if ui.button("Empty lesson").clicked() {
                out.push(Command::Handout(C::New));
            }
            let hint = "Let a class find the fault: the case goes out with its answer sealed";
            if ui.button("Make an exercise\u{2026}").on_hover_text(hint).clicked() {
                out.push(Command::Exercise(ExerciseCommand::Make(true)));
            }
        });
        if session.document.case.takes.is_empty() {
            ui.add_space(SPACE);
            ui.label("There is no take yet: steps can show the drawing and the photo.");
        }
    });
}

/// The lesson has no step.
pub fn no_step(ui: &mut Ui, out: &mut Vec<Command>) {
    centred(ui, |ui| {
        ui.label(RichText::new("No step yet").size(LARGE));
        ui.add_space(SPACE);
        ui.label(
            "Go to any stage, set the picture up as the class is to see it, and press H. Or begin here with the picture \
             that is there now.",
        );
        ui.add_space(2.0 * SPACE);
        ui.horizontal_wrapped(|ui| {
            if ui.button("Begin with this view").on_hover_text("What map or drawing show at present (H)").clicked() {
                out.push(Command::Handout(C::AddThisView));
            }
            if ui.button("Begin with words").clicked() {
                out.push(Command::Handout(C::AddStep(View::default())));
            }
        });
    });
}

/// What the step shows is not there.
pub fn no_picture(ui: &mut Ui, canvas: egui::Rect, fault: &str, reading: bool, out: &mut Vec<Command>) {
    let mut inner = ui.new_child(egui::UiBuilder::new().max_rect(canvas));
    centred(&mut inner, |ui| {
        if reading {
            ui.label("Reading what this step shows\u{2026}");
            return;
        }
        ui.label(fault);
        ui.add_space(SPACE);
        if ui.button("Read it again").clicked() {
            out.push(Command::Handout(C::ReadAgain));
        }
        ui.label("Or choose another picture on the right.");
    });
}
