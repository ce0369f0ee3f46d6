//! The marks of a step: their list, and how the selected one looks and when it appears.

use egui::{DragValue, RichText, Ui, WidgetInfo};

use super::{HandoutCommand as C, HandoutScreen, StaysOn, act, names};
use crate::{
    lesson::{
        Mark, Space, Step, What,
        mark::{Line, Tone, Weight},
    },
    theme::{self, Palette, SMALL, SPACE},
};

/// Draws list and choices.
pub fn show(ui: &mut Ui, step: &Step, handout: &HandoutScreen, ask: &mut impl FnMut(C)) {
    let p = Palette::of(ui);
    theme::hairline(ui);
    theme::section(ui, "Marks");
    if step.marks.is_empty() {
        let words = "None yet. Take a tool above the picture and drag on the picture.";
        ui.add(egui::Label::new(RichText::new(words).color(p.weak)).wrap());
        return;
    }
    for index in 0..step.marks.len() {
        entry(ui, step, index, handout, ask);
    }
    ui.horizontal_wrapped(|ui| {
        if ui.button("One by one").on_hover_text("Presenting shows them in this order").clicked() {
            ask(C::InTurn(true));
        }
        if ui.button("All at once").clicked() {
            ask(C::InTurn(false));
        }
    });
    if let Some((index, mark)) = handout.mark.and_then(|i| Some((i, step.marks.get(i)?))) {
        theme::hairline(ui);
        selected(ui, step, index, mark, handout, ask);
    }
}

/// When a mark appears, in short.
fn appears(reveal: u32) -> String {
    if reveal == 0 { "at once".to_owned() } else { format!("as number {reveal}") }
}

fn entry(ui: &mut Ui, step: &Step, index: usize, handout: &HandoutScreen, ask: &mut impl FnMut(C)) {
    let p = Palette::of(ui);
    let mark = &step.marks[index];
    let here = handout.mark == Some(index);
    let seen = handout
        .picture
        .placing()
        .is_some_and(|v| mark.what.places().first().is_some_and(|at| v.place(&mark.space, *at).is_some()));
    let when = if seen { appears(mark.reveal) } else { "not in this picture".to_owned() };
    let name = names::mark_name(step, index);
    let button = egui::Button::selectable(here, name.as_str())
        .right_text(RichText::new(&when).size(SMALL).color(p.weak))
        .min_size(egui::vec2(ui.available_width(), 0.0));
    let response = ui.add(button);
    response.widget_info(|| {
        WidgetInfo::selected(egui::Role::ListBoxOption, true, here, format!("In the list: {name}: {when}"))
    });
    if response.clicked() {
        ask(C::Select(Some(index)));
    }
}

fn selected(ui: &mut Ui, step: &Step, index: usize, mark: &Mark, handout: &HandoutScreen, ask: &mut impl FnMut(C)) {
    ui.label(RichText::new(names::mark_name(step, index)).strong());
    let mut next = mark.clone();
    let mut doing = "change";
    match &mut next.what {
        What::Callout { text, number, .. } => {
            ui.horizontal(|ui| {
                let label = ui.label("Number");
                ui.add(DragValue::new(number).range(1..=999)).labelled_by(label.id);
            });
            if lines(ui, "Words beside the number", text) {
                doing = "write";
            }
        }
        What::Text { text, .. } => doing = if lines(ui, "Words", text) { "write" } else { doing },
        _ => {}
    }
    let style = &mut next.style;
    row(ui, "Tone", &[("White", Tone::Light), ("Black", Tone::Dark)], &mut style.tone);
    row(
        ui,
        "Weight",
        &[("Thin", Weight::Thin), ("Normal", Weight::Normal), ("Heavy", Weight::Heavy)],
        &mut style.weight,
    );
    row(ui, "Line", &[("Whole", Line::Solid), ("Broken", Line::Dashed)], &mut style.line);
    ui.horizontal(|ui| {
        let label = ui.label("Appears");
        let value = DragValue::new(&mut next.reveal).range(0..=99).custom_formatter(|v, _| appears(v as u32));
        ui.add(value)
            .labelled_by(label.id)
            .on_hover_text("0: at once; else after so many presses of Space while presenting");
    });
    stays(ui, step, mark, handout, ask);
    if next != *mark {
        // Letters and numbers go on with those before; a choice is a change of its own.
        let goes_on = next.style == mark.style;
        ask(C::Mark { index, mark: Box::new(next), doing, goes_on });
    }
    ui.add_space(SPACE / 2.0);
    ui.horizontal_wrapped(|ui| {
        let last = step.marks.len() - 1;
        let mut button = |on: bool, words: &str, key: &str, command: C| {
            if ui.add_enabled(on, egui::Button::new(words)).on_hover_text(key).clicked() {
                ask(command);
            }
        };
        button(true, "Copy the mark", "Ctrl+D", C::DuplicateMark);
        button(true, "Delete the mark", "Delete", C::DeleteMark);
        button(index < last, "Forward", "Over the next one, and later in the order", C::Raise(1));
        button(index > 0, "Back", "Under the one before, and earlier in the order", C::Raise(-1));
    });
}

/// Words over several lines. True when they changed.
fn lines(ui: &mut Ui, name: &str, text: &mut String) -> bool {
    let field = egui::TextEdit::multiline(text).desired_rows(2).desired_width(f32::INFINITY).hint_text(name);
    ui.add(field).accessible_name(name).changed()
}

fn row<T: PartialEq + Copy>(ui: &mut Ui, label: &str, all: &[(&str, T)], value: &mut T) {
    ui.horizontal(|ui| {
        ui.label(label);
        for (words, entry) in all {
            let response = ui.selectable_label(entry == value, *words).accessible_name(format!("{label}: {words}"));
            if response.clicked() {
                *value = *entry;
            }
        }
    });
}

/// What the mark stays on, where the view has both.
fn stays(ui: &mut Ui, step: &Step, mark: &Mark, handout: &HandoutScreen, ask: &mut impl FnMut(C)) {
    let p = Palette::of(ui);
    let words = match &mark.space {
        Space::Board(face) => format!("Stays on the board, {face}"),
        Space::Frame(take) => format!("Stays on the picture of {take}"),
        Space::Curve(take) => format!("Stays on the curve of {take}"),
    };
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(words).size(SMALL).color(p.weak));
        let Some(placing) = handout.picture.placing() else {
            return;
        };
        let (other, words) = match mark.space {
            Space::Board(_) => (StaysOn::Picture, "Let it stay on the picture"),
            _ => (StaysOn::Board, "Let it stay on the board"),
        };
        let to = act::space(&step.view, placing, other);
        if to != mark.space && ui.small_button(words).clicked() {
            ask(C::StaysOn(other));
        }
    });
}
