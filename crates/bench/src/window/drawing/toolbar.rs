//! The row above the drawing: tools, kind, rail, face.

use egui::{ComboBox, RichText, Ui};
use joulemark_locate::board::Board;

use super::{super::command::Command, Draw, Drawing, KINDS, Tool};
use crate::theme::{Palette, SMALL};

/// Draws the row.
pub fn show(ui: &mut Ui, board: &Board, drawing: &mut Drawing, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let mut ask = |draw: Draw| out.push(Command::Draw(draw));
    ui.horizontal_wrapped(|ui| {
        for (tool, words, key) in Tool::ALL {
            let button = ui.selectable_label(drawing.tool == tool, words);
            if button.on_hover_text(format!("{} ({key})", tool.sentence())).clicked() {
                ask(Draw::Tool(tool));
            }
        }
        ui.separator();
        let kind = ComboBox::from_id_salt("kind").width(112.0).selected_text(capital(drawing.kind.words()));
        let kind = kind.show_ui(ui, |ui| {
            for kind in KINDS {
                if ui.selectable_label(kind == drawing.kind, capital(kind.words())).clicked() {
                    ask(Draw::Kind(kind));
                }
            }
        });
        let _ = kind.response.accessible_name("Kind of the next part").on_hover_text("Kind of the next part (K)");
        rails(ui, board, drawing, &mut ask);
        ui.separator();
        let faces = ComboBox::from_id_salt("drawn face").width(72.0).selected_text(format!("face: {}", drawing.face));
        let faces = faces.show_ui(ui, |ui| {
            for face in &board.faces {
                if ui.selectable_label(face.name == drawing.face, &face.name).clicked() {
                    ask(Draw::Face(face.name.clone()));
                }
            }
            if ui.button("Add a face behind this one").clicked() {
                ask(Draw::AddFace);
                ui.close();
            }
        });
        let _ = faces.response.accessible_name("Face drawn on").on_hover_text("Face drawn on (N)");
        if ui.selectable_label(drawing.ghost, "Show behind").on_hover_text("What lies behind this face (T)").clicked() {
            ask(Draw::Ghost);
        }
        ui.separator();
        files(ui, &mut ask);
        if ui.button(RichText::new("Back to the map").strong()).on_hover_text("W").clicked() {
            ask(Draw::Close);
        }
    });
    let mut text = drawing.tool.sentence().to_owned();
    if drawing.tool == Tool::Square {
        text = format!("{} {} of 4 clicked.", text, drawing.points.len());
    }
    ui.add(egui::Label::new(RichText::new(text).size(SMALL).color(p.weak)).wrap());
}

/// Drawings from elsewhere and to elsewhere.
fn files(ui: &mut Ui, ask: &mut impl FnMut(Draw)) {
    let entries = [
        ("Import drawing\u{2026}", "I", Draw::Import),
        ("Export drawing: this face as SVG\u{2026}", "E", Draw::ExportSvg),
        ("Export drawing: board.json\u{2026}", "Shift+E", Draw::ExportJson),
        ("From the shelf\u{2026}", "G", Draw::FromShelf),
        ("Put on the shelf", "Shift+G", Draw::ToShelf),
    ];
    ui.menu_button("Import, shelf", |ui| {
        for (words, key, draw) in entries {
            if ui.add(egui::Button::new(words).shortcut_text(key)).clicked() {
                ask(draw);
                ui.close();
            }
        }
    });
}

/// The rail of the next part, and a field for one that is not there yet.
fn rails(ui: &mut Ui, board: &Board, drawing: &mut Drawing, ask: &mut impl FnMut(Draw)) {
    let shown = drawing.rail.clone().unwrap_or_else(|| "no rail".to_owned());
    let rail = ComboBox::from_id_salt("rail in hand").width(84.0).selected_text(shown);
    let rail = rail.show_ui(ui, |ui| {
        if ui.selectable_label(drawing.rail.is_none(), "no rail").clicked() {
            ask(Draw::Rail(None));
        }
        for rail in &board.rails {
            if ui.selectable_label(drawing.rail.as_ref() == Some(&rail.name), &rail.name).clicked() {
                ask(Draw::Rail(Some(rail.name.clone())));
            }
        }
    });
    let _ = rail.response.accessible_name("Rail of the next part").on_hover_text("Rail of the next part (L)");
    let field = egui::TextEdit::singleline(&mut drawing.typed.rail).desired_width(72.0).hint_text("new rail");
    let field =
        ui.add(field).accessible_name("New rail").on_hover_text("Name of a rail that is not there yet (Shift+L)");
    if drawing.tool != Tool::Square && std::mem::take(&mut drawing.typed.focus) {
        field.request_focus();
    }
    if field.lost_focus() && !drawing.typed.rail.trim().is_empty() {
        ask(Draw::NewRail(std::mem::take(&mut drawing.typed.rail)));
    }
}

/// Sentence case.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
