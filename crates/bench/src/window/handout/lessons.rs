//! The left column: the lessons of the case, and the steps of the one shown.

use egui::{Align, ComboBox, Layout, RichText, ScrollArea, Ui, WidgetInfo};

use super::{
    super::{
        command::{Command, Pick},
        drawing::field,
        exercise::ExerciseCommand,
        session::Session,
    },
    HandoutCommand as C, HandoutFile, HandoutScreen,
};
use crate::{
    lesson::{Lesson, Shows, Step, View},
    theme::{self, Palette, SMALL, SPACE},
};

/// Draws the column.
pub fn show(ui: &mut Ui, session: &Session, handout: &mut HandoutScreen, out: &mut Vec<Command>) {
    let case = &session.document.case;
    let mut picks = Vec::new();
    let mut ask = |command: C| out.push(Command::Handout(command));
    lesson_row(ui, &case.lessons, handout, &mut ask);
    let Some(lesson) = handout.lesson(case) else {
        return;
    };
    if let Some(name) = field::text(ui, "Name", &lesson.name, f32::INFINITY) {
        ask(C::Rename(name));
    }
    about(ui, lesson, &mut ask);
    let ready = !lesson.steps.is_empty();
    ui.horizontal_wrapped(|ui| {
        let present = ui.add_enabled(ready, egui::Button::new(RichText::new("Present").strong()));
        let present = present.on_hover_text("Full screen, from the step shown (F5)");
        if present.on_disabled_hover_text("Add a step first").clicked() {
            ask(C::Present);
        }
        ui.add_enabled_ui(ready, |ui| ui.menu_button("Hand out", |ui| hand_out(ui, handout, &mut ask, &mut picks)));
        let hint = "Make an exercise of this case: a class finds the fault, the answer is sealed";
        if ui.button("Exercise\u{2026}").on_hover_text(hint).clicked() {
            picks.push(Command::Exercise(ExerciseCommand::Make(true)));
        }
    });
    theme::hairline(ui);
    theme::section(ui, format!("Steps of {}", lesson.name));
    egui::Panel::bottom("step buttons").frame(egui::Frame::new()).show(ui, |ui| buttons(ui, lesson, handout, &mut ask));
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        for (index, step) in lesson.steps.iter().enumerate() {
            entry(ui, index, step, handout.step == index, &mut ask);
        }
        if lesson.steps.is_empty() {
            ui.label(RichText::new("No step yet.").color(Palette::of(ui).weak));
        }
    });
    out.extend(picks);
}

/// The files that the lesson can be handed out as.
fn hand_out(ui: &mut Ui, handout: &HandoutScreen, ask: &mut impl FnMut(C), picks: &mut Vec<Command>) {
    for kind in HandoutFile::ALL {
        if ui.button(format!("As {}\u{2026}", kind.words())).clicked() {
            picks.push(Command::Pick(Pick::Handout(kind)));
            ui.close();
        }
    }
    ui.separator();
    let mut without = handout.without_answers;
    let hint = "PDF and web page for students: no answer sheet, no step that shows hot spots and suspects";
    if ui.checkbox(&mut without, "Without the answers").on_hover_text(hint).changed() {
        ask(C::WithoutAnswers(without));
    }
}

fn lesson_row(ui: &mut Ui, lessons: &[Lesson], handout: &HandoutScreen, ask: &mut impl FnMut(C)) {
    theme::section(ui, if lessons.len() == 1 { "Lesson".to_owned() } else { format!("{} lessons", lessons.len()) });
    let row = egui::vec2(ui.available_width(), ui.spacing().interact_size.y);
    // From the right, so that a long name is cut and not the menu.
    ui.allocate_ui_with_layout(row, Layout::right_to_left(Align::Center), |ui| {
        let menu = ui.menu_button("\u{2026}", |ui| {
            for (words, command) in [
                ("Start from this case", C::FromCase),
                ("Empty lesson", C::New),
                ("Copy this lesson", C::DuplicateLesson),
                ("Delete this lesson", C::DeleteLesson),
            ] {
                if ui.button(words).clicked() {
                    ask(command);
                    ui.close();
                }
            }
        });
        let _ = menu.response.accessible_name("New lesson, copy, delete");
        let name = lessons.get(handout.lesson).map_or("", |l| l.name.as_str());
        let choice = ComboBox::from_id_salt("lesson").width(ui.available_width()).truncate().selected_text(name);
        let choice = choice.show_ui(ui, |ui| {
            for (index, lesson) in lessons.iter().enumerate() {
                if ui.selectable_label(index == handout.lesson, &lesson.name).clicked() {
                    ask(C::Lesson(index));
                }
            }
        });
        let _ = choice.response.accessible_name(format!("Lesson shown: {name}"));
    });
}

fn about(ui: &mut Ui, lesson: &Lesson, ask: &mut impl FnMut(C)) {
    let id = ui.scope_id().with(("about", &lesson.name));
    egui::CollapsingHeader::new("What it teaches").id_salt(id).show(ui, |ui| {
        let mut text = lesson.about.clone();
        let field = egui::TextEdit::multiline(&mut text).desired_rows(4).desired_width(f32::INFINITY);
        let field = ui.add(field.hint_text("For whom, and what they know afterwards"));
        if field.accessible_name("What the lesson teaches").changed() {
            ask(C::About(text));
        }
    });
}

fn entry(ui: &mut Ui, index: usize, step: &Step, here: bool, ask: &mut impl FnMut(C)) {
    let p = Palette::of(ui);
    let title = if step.title.trim().is_empty() { "No heading" } else { step.title.trim() };
    let marks = match step.marks.len() {
        0 => String::new(),
        1 => ", 1 mark".to_owned(),
        n => format!(", {n} marks"),
    };
    let below = format!("{}{marks}", what(&step.view.shows));
    let mut text = egui::text::LayoutJob::default();
    let format =
        |size, color| egui::TextFormat { font_id: egui::FontId::proportional(size), color, ..Default::default() };
    text.append(&format!("{}  {title}\n", index + 1), 0.0, format(theme::BODY, p.text));
    text.append(&below, 18.0, format(SMALL, p.weak));
    text.wrap.max_rows = 3;
    let button = egui::Button::selectable(here, text).wrap().min_size(egui::vec2(ui.available_width(), 0.0));
    let response = ui.add(button);
    let label = format!("Step {}, {title}: {below}", index + 1);
    response.widget_info(|| WidgetInfo::selected(egui::Role::ListBoxOption, true, here, &label));
    if response.clicked() {
        ask(C::Step(index));
    }
}

/// What a step shows, in short.
fn what(shows: &Shows) -> String {
    match shows {
        Shows::Words => shows.words().to_owned(),
        Shows::Map { take, layer, .. } => format!("{}, {take}", layer.words()),
        Shows::Photo { face, .. } => format!("Photo, {face}"),
        Shows::Drawing { face, .. } => format!("Drawing, {face}"),
        Shows::Curve { take, .. } => format!("Curve, {take}"),
    }
}

fn buttons(ui: &mut Ui, lesson: &Lesson, handout: &HandoutScreen, ask: &mut impl FnMut(C)) {
    ui.add_space(SPACE / 2.0);
    let hint = "What map or drawing show at present. From any stage: H";
    if ui.button("Add a step of this view").on_hover_text(hint).clicked() {
        ask(C::AddThisView);
    }
    if ui.button("Add a step of words").clicked() {
        ask(C::AddStep(View::default()));
    }
    let (at, count) = (handout.step, lesson.steps.len());
    ui.add_enabled_ui(count > 0, |ui| {
        ui.horizontal_wrapped(|ui| {
            let mut button = |ui: &mut Ui, on: bool, words: &str, name: &str, command: C| {
                let response = ui.add_enabled(on, egui::Button::new(words)).accessible_name(name);
                if response.on_hover_text(name).clicked() {
                    ask(command);
                }
            };
            button(ui, at > 0, "Up", "Move the step up", C::MoveStep(-1));
            button(ui, at + 1 < count, "Down", "Move the step down", C::MoveStep(1));
            button(ui, true, "Copy", "Copy the step", C::DuplicateStep);
            button(ui, true, "Delete", "Delete the step", C::DeleteStep);
        });
    });
    ui.add_space(SPACE / 2.0);
}
