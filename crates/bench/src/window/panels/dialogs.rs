//! Faults, and the list of keys.

use egui::{Id, Modal, RichText, Ui};

use std::path::PathBuf;

use super::super::{
    command::{Command, Pick},
    drawing, exercise, handout, lining,
    screen::{Fault, Screen},
};
use crate::theme::{Palette, SMALL, SPACE};

/// Draws whichever is open.
pub fn show(ui: &Ui, screen: &Screen, out: &mut Vec<Command>) {
    if let Some(fault) = &screen.fault {
        self::fault(ui, fault, out);
    } else if screen.keys_shown {
        keys(ui, screen, out);
    }
}

fn fault(ui: &Ui, fault: &Fault, out: &mut Vec<Command>) {
    let response = Modal::new(Id::unique("fault")).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_max_width(520.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        ui.label(RichText::new(&fault.title).strong().color(p.refusal));
        ui.add_space(SPACE);
        // Messages are one line: what is wrong, then the remedy after the last semicolon.
        let (what, remedy) = fault.message.rsplit_once("; ").unwrap_or((&fault.message, ""));
        ui.label(what);
        if !remedy.is_empty() {
            ui.add_space(SPACE / 2.0);
            ui.label(RichText::new(format!("What to do: {remedy}.")).strong());
        }
        ui.add_space(2.0 * SPACE);
        ui.horizontal(|ui| {
            if let Some((words, command)) = &fault.action
                && ui.button(words).clicked()
            {
                out.push(Command::DismissFault);
                out.push(command.clone());
            }
            let close = ui.button("Close");
            if ui.ctx().memory(|m| m.focused()).is_none() {
                close.request_focus();
            }
            if close.clicked() {
                out.push(Command::DismissFault);
            }
        });
    });
    if response.backdrop_response.clicked() {
        out.push(Command::DismissFault);
    }
}

/// Asks for a path where the desktop has no file dialog.
pub fn path(ui: &Ui, asked: &mut Option<(Pick, String)>, out: &mut Vec<Command>) {
    let Some((pick, text)) = asked else {
        return;
    };
    Modal::new(Id::unique("path")).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_width(520.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        let (title, go) = match pick {
            Pick::Case => ("Open a case folder", "Open"),
            Pick::SaveCase => ("Save the case in a new folder", "Save"),
            Pick::FramesFile | Pick::FramesFolder => ("Frames", "Take"),
            Pick::Log => ("Capture log", "Take"),
            Pick::Board => ("Board drawing", "Take"),
            Pick::Pairs => ("Point pairs", "Take"),
            Pick::Photo => ("Photo", "Take"),
            Pick::Design | Pick::DesignToo => ("Design file", "Read"),
            Pick::ExportSvg => ("Export this face as SVG", "Write"),
            Pick::BenchCard => ("Print the bench card", "Write"),
            Pick::Report => ("Write the report, as .pdf or .html", "Write"),
            Pick::Handout(kind) => (kind.title(), "Write"),
            Pick::LibraryFolder => ("Folder of the shop's library", "Use"),
            Pick::LibraryCsv(_) => ("Export as CSV", "Write"),
            Pick::LibraryPlots => ("Export the plots as SVG", "Write"),
            Pick::MakeExercise => ("New or empty folder for the exercise", "Write"),
            Pick::ClassFile => ("Class file", "Open"),
            Pick::ClassCsv => ("Write the class in clear as CSV", "Write"),
            Pick::ExportJson => ("Export the drawing as board.json", "Write"),
        };
        ui.label(RichText::new(title).strong());
        let why = "This desktop shows no file dialog: type the path, or drop the files onto the window.";
        ui.label(RichText::new(why).size(SMALL).color(p.weak));
        ui.add_space(SPACE);
        let field = ui.add(egui::TextEdit::singleline(text).desired_width(f32::INFINITY)).accessible_name("Path");
        let entered = field.lost_focus() && ui.input(|i| i.key_pressed(egui::Key::Enter));
        if !field.has_focus() && !entered {
            field.request_focus();
        }
        ui.add_space(SPACE);
        ui.horizontal(|ui| {
            let given = !text.trim().is_empty();
            if ui.add_enabled(given, egui::Button::new(go)).clicked() || (entered && given) {
                out.push(Command::Typed(*pick, Some(PathBuf::from(text.trim()))));
            }
            if ui.button("Close").clicked() {
                out.push(Command::Typed(*pick, None));
            }
        });
    });
}

/// Keys and what they do.
const KEYS: [(&str, &str); 18] = [
    ("1 to 7", "stages"),
    ("D", "draw the board"),
    ("M", "measure: the readings, with the cursor at the rail that is asked for"),
    ("C", "note what was done: lifted, replaced, cleaned, dried, coated"),
    ("Enter in a reading", "takes it and goes on to the next rail"),
    ("F", "fit the picture"),
    ("+ and -", "zoom in and out"),
    ("Left, right", "one frame back, one on"),
    ("Shift with them", "ten frames"),
    ("Home, end", "first frame, last frame"),
    ("Tab", "walk through the regions; Enter takes what has focus"),
    ("Esc", "back out: close, cancel, or select nothing"),
    ("Ctrl+K", "find a command, part or rail"),
    ("Ctrl+O, Ctrl+N", "open a case; new case from files"),
    ("Ctrl+S", "save the case"),
    ("Ctrl+Z", "undo"),
    ("Ctrl+Shift+Z", "redo"),
    ("Drag, wheel, double click", "pan, zoom to the cursor, centre"),
];

fn keys(ui: &Ui, screen: &Screen, out: &mut Vec<Command>) {
    let response = Modal::new(Id::unique("keys")).show(ui.ctx(), |ui| {
        ui.label(RichText::new("Keys").strong());
        ui.add_space(SPACE);
        let height = ui.ctx().content_rect().height() - 160.0;
        egui::ScrollArea::vertical().max_height(height).show(ui, |ui| {
            egui::Grid::new("keys").num_columns(2).spacing([24.0, 6.0]).show(ui, |ui| {
                let mut row = |key: &str, what: &str| {
                    ui.label(RichText::new(key).strong());
                    ui.label(what);
                    ui.end_row();
                };
                if screen.exercise.here {
                    for (key, what) in exercise::KEYS {
                        row(key, what);
                    }
                } else if screen.drawing.is_some() {
                    for (words, key, _) in drawing::listed() {
                        row(key, &words);
                    }
                    row("Arrows", "move the selected parts by a grid step; ten with Shift");
                    row("+ and -", "zoom in and out");
                    row("Right or middle drag", "move the view");
                } else {
                    for (key, what) in KEYS.into_iter().chain(lining::keys::KEYS).chain(handout::keys::KEYS) {
                        row(key, what);
                    }
                }
            });
        });
        ui.add_space(SPACE);
        if ui.button("Close").clicked() {
            out.push(Command::Keys(false));
        }
    });
    if response.backdrop_response.clicked() {
        out.push(Command::Keys(false));
    }
}
