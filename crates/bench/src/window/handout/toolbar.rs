//! The row above the picture: tools, and what a new mark stays on.

use egui::{RichText, Ui};

use super::{
    super::{command::Command, session::Session},
    HandoutCommand as C, HandoutScreen, StaysOn, Tool,
};
use crate::{
    lesson::{Shows, Space},
    theme::{Palette, SMALL},
};

/// Draws the row.
pub fn show(ui: &mut Ui, session: &Session, handout: &HandoutScreen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let Some(step) = handout.step(&session.document.case) else {
        return;
    };
    let mut ask = |command: C| out.push(Command::Handout(command));
    if step.view.shows == Shows::Words {
        ui.label(
            RichText::new("This step is words alone. Choose a picture on the right to mark something.")
                .size(SMALL)
                .color(p.weak),
        );
        return;
    }
    ui.horizontal_wrapped(|ui| {
        for (tool, key) in Tool::ALL {
            let button = ui.selectable_label(handout.tool == tool, tool.words());
            if button.on_hover_text(format!("{} ({key})", tool.sentence())).clicked() {
                ask(C::Tool(tool));
            }
        }
        ui.separator();
        let words = match handout.tool {
            Tool::Select => "Put one in the middle".to_owned(),
            tool => format!("Add {} at the middle of the view", tool.in_sentence()),
        };
        let button = ui.add_enabled(handout.tool != Tool::Select, egui::Button::new(words));
        let button = button.on_hover_text("Without the mouse: then move it with the arrow keys (Enter)");
        if button.on_disabled_hover_text("Choose what to add first: N, A, O, T, R or U").clicked() {
            ask(C::AddInMiddle(handout.tool));
        }
        if handout.look.is_some() {
            ui.separator();
            if ui.button("Keep this zoom").on_hover_text("The step shows the picture like this from now on").clicked() {
                ask(C::KeepLook);
            }
            if ui.button("As the step shows it").on_hover_text("F").clicked() {
                ask(C::Look(None));
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        let sentence = RichText::new(handout.tool.sentence()).size(SMALL).color(p.weak);
        ui.add(egui::Label::new(sentence).wrap());
        both(ui, handout, step, &mut ask);
    });
}

/// The choice between board and picture, where the view has both.
fn both(ui: &mut Ui, handout: &HandoutScreen, step: &crate::lesson::Step, ask: &mut impl FnMut(C)) {
    let Some(placing) = handout.picture.placing().filter(|_| handout.tool != Tool::Select) else {
        return;
    };
    let space = |on| super::act::space(&step.view, placing, on);
    if space(StaysOn::Board) == space(StaysOn::Picture) {
        return;
    }
    let p = Palette::of(ui);
    ui.label(RichText::new("It stays on").size(SMALL).color(p.weak));
    for (on, words) in [(StaysOn::Board, "the board"), (StaysOn::Picture, "the picture")] {
        let hint = match space(on) {
            Space::Board(face) => format!("On the same place of the board, in every picture of {face}"),
            Space::Frame(take) => format!("On the same pixels of {take}"),
            Space::Curve(take) => format!("On the same moment and value of {take}"),
        };
        if ui.selectable_label(handout.stays_on == on, words).on_hover_text(hint).clicked() {
            ask(C::StaysOn(on));
        }
    }
}
