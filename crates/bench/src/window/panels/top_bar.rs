//! The bar on top: case, take, face; the command palette and the theme on the right.

use egui::{Align, ComboBox, Layout, RichText, Ui};

use super::super::{
    command::{Command, Pick},
    desk::DeskCommand,
    document::Edit,
    drawing::Draw,
    practice,
    screen::{Bench, Screen},
    session::Session,
};
use crate::theme::{Palette, SMALL};

/// Draws the bar.
pub fn show(ui: &mut Ui, session: Option<&Session>, screen: &Screen, out: &mut Vec<Command>) {
    ui.horizontal_centered(|ui| {
        ui.menu_button("Case", |ui| menu(ui, session, out));
        let p = Palette::of(ui);
        if let Some(session) = session {
            let name = &session.document.case.name;
            let width = (ui.available_width() * 0.35).max(120.0);
            ui.scope(|ui| {
                ui.set_max_width(width);
                ui.add(egui::Label::new(RichText::new(name).strong()).truncate());
            });
            if session.document.case.practice.is_some() {
                ui.label(RichText::new("practice, simulated").size(SMALL).color(p.weak));
            }
            if session.unsaved() {
                ui.label(RichText::new("not saved").size(SMALL).color(p.caution));
            }
            takes(ui, session, out);
            if let Some(face) = session.face() {
                ui.label(RichText::new(format!("side: {}", face.name)).color(p.weak));
            }
        } else {
            ui.label(RichText::new("Joulemark").strong());
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let p = Palette::of(ui);
            let (words, other) = match screen.bench {
                Bench::Dark => ("Light theme", Bench::Light),
                Bench::Light => ("Dark theme", Bench::Dark),
            };
            if ui.button(words).clicked() {
                out.push(Command::SetBench(other));
            }
            let find = if screen.narrow { "Find  Ctrl+K" } else { "Find a command  Ctrl+K" };
            if ui.button(find).on_hover_text("Every command, part and rail by name").clicked() {
                out.push(Command::Palette(true));
            }
            if let Some(said) = &screen.said {
                ui.add(egui::Label::new(RichText::new(said).size(SMALL).color(p.weak)).truncate());
            }
        });
    });
}

fn takes(ui: &mut Ui, session: &Session, out: &mut Vec<Command>) {
    if session.document.case.takes.is_empty() {
        return;
    }
    let shown = ComboBox::from_id_salt("take")
        .selected_text(format!("take: {}", session.shown))
        .show_ui(ui, |ui| {
            for take in &session.document.case.takes {
                if ui.selectable_label(take.name == session.shown, &take.name).clicked() {
                    out.push(Command::ShowTake(take.name.clone()));
                }
            }
            ui.separator();
            if ui.button("Add a take\u{2026}").clicked() {
                out.push(Command::AddTake(Vec::new()));
            }
            let remove = ui.button(format!("Remove {}", session.shown));
            if remove.on_hover_text("Out of the case; its files stay, and undo brings it back").clicked() {
                out.push(Command::Edit(Edit::RemoveTake(session.shown.clone())));
            }
        })
        .response;
    let _ = shown.accessible_name(format!("Take: {}", session.shown));
}

fn menu(ui: &mut Ui, session: Option<&Session>, out: &mut Vec<Command>) {
    let mut lesson = None;
    let mut item = |ui: &mut Ui, enabled: bool, words: &str, keys: &str, command: Command| {
        if ui.add_enabled(enabled, egui::Button::new(words).shortcut_text(keys)).clicked() {
            out.push(command);
            ui.close();
        }
    };
    item(ui, true, "Open a case\u{2026}", "Ctrl+O", Command::Pick(Pick::Case));
    item(ui, true, "New case from files\u{2026}", "Ctrl+N", Command::NewCase(Box::default()));
    item(ui, true, "New case from a drawing", "", Command::NewDrawing(String::new()));
    item(ui, true, "Open the practice case", "", Command::OpenPractice);
    ui.menu_button("Open a lesson", |ui| {
        for (name, folder) in practice::lessons() {
            if ui.button(name).clicked() {
                lesson = Some(Command::Open(vec![folder]));
                ui.close();
            }
        }
    });
    item(ui, true, "Draw the board", "D", Command::Draw(Draw::Open));
    item(ui, session.is_some(), "Add a take\u{2026}", "", Command::AddTake(Vec::new()));
    item(ui, session.is_some_and(Session::unsaved), "Save the case", "Ctrl+S", Command::Save);
    item(ui, true, "Shop library\u{2026}", "", Command::Desk(DeskCommand::Open));
    ui.separator();
    let (undo, redo) = session.map(Session::next_undo_redo).unwrap_or_default();
    let words = |verb: &str, what: &Option<String>| what.as_ref().map_or(verb.to_owned(), |w| format!("{verb}: {w}"));
    item(ui, undo.is_some(), &words("Undo", &undo), "Ctrl+Z", Command::Undo);
    item(ui, redo.is_some(), &words("Redo", &redo), "Ctrl+Shift+Z", Command::Redo);
    ui.separator();
    item(ui, session.is_some(), "Device and symptom\u{2026}", "", Command::Device);
    item(ui, session.is_some(), "Write the report\u{2026}", "", Command::Pick(Pick::Report));
    item(ui, true, "Shop\u{2026}", "", Command::Shop);
    item(ui, session.is_some(), "Print the bench card\u{2026}", "", Command::Pick(Pick::BenchCard));
    item(ui, session.is_some(), "Case log\u{2026}", "", Command::CaseLog(true));
    ui.separator();
    item(ui, true, "Keys", "F1", Command::Keys(true));
    item(ui, true, "Quit", "Ctrl+Q", Command::Quit);
    out.extend(lesson);
}
