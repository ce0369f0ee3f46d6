//! A class file at the instructor's desk: who found what, and what the class did in numbers.

use std::path::PathBuf;

use egui::{CentralPanel, Frame, Grid, Panel, RichText, ScrollArea, Ui};

use super::{
    super::command::{Command, Pick},
    ExerciseCommand,
};
use crate::{
    exercise::class::{Class, Line, Summary},
    theme::{self, Palette, SMALL},
};

/// A class file that is shown.
#[derive(Debug)]
pub struct ClassShown {
    /// Where it is.
    pub file: PathBuf,
    /// What it holds, or why it cannot be read.
    pub class: Result<Class, String>,
}

/// Draws the class in place of the case.
pub fn show(ui: &mut Ui, shown: &ClassShown, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let bar = Frame::new().fill(p.panel).inner_margin(theme::margin());
    Panel::top("class").frame(bar).show(ui, |ui| {
        ui.horizontal_wrapped(|ui| {
            if ui.button("Back").on_hover_text("To the case: Esc").clicked() {
                out.push(Command::Exercise(ExerciseCommand::Class(None)));
            }
            ui.label(RichText::new("Class results").strong());
            if ui.button("Read again").clicked() {
                out.push(Command::Exercise(ExerciseCommand::Class(Some(shown.file.clone()))));
            }
            if ui.add_enabled(shown.class.is_ok(), egui::Button::new("Write in clear as CSV\u{2026}")).clicked() {
                out.push(Command::Pick(Pick::ClassCsv));
            }
            ui.label(RichText::new(shown.file.display().to_string()).size(SMALL).color(p.weak));
        });
        if let Ok(class) = &shown.class {
            let summary = Summary::of(&class.lines);
            let count = |n: usize, what: &str| format!("{n} {what}{}", if n == 1 { "" } else { "s" });
            let of = format!("{}, {}", count(summary.students, "student"), count(summary.exercises, "exercise"));
            ui.label(format!("{}. {of}. Only first tries are counted.", summary.words()));
        }
    });
    let frame = Frame::new().fill(p.panel).inner_margin(theme::margin());
    CentralPanel::default().frame(frame).show(ui, |ui| match &shown.class {
        Err(why) => {
            ui.label(RichText::new(why).color(p.refusal));
        }
        Ok(class) if class.lines.is_empty() => {
            ui.label("Nothing was handed in yet.");
        }
        Ok(class) => {
            ScrollArea::both().auto_shrink(false).show(ui, |ui| {
                for fault in &class.faults {
                    ui.label(RichText::new(fault).size(SMALL).color(p.caution));
                }
                table(ui, &class.lines);
            });
        }
    });
}

fn table(ui: &mut Ui, lines: &[Line]) {
    let p = Palette::of(ui);
    let heads = ["student", "exercise", "try", "rail", "plan", "place", "part", "looks", "points", "when"];
    Grid::new("class table").num_columns(heads.len()).spacing([22.0, 6.0]).striped(true).show(ui, |ui| {
        for head in heads {
            ui.label(RichText::new(head).size(SMALL).color(p.weak));
        }
        ui.end_row();
        for line in lines {
            for cell in cells(line) {
                ui.label(cell);
            }
            ui.end_row();
        }
    });
}

/// Right and wrong are said in words, never by colour.
fn cells(line: &Line) -> [String; 10] {
    let mark = |right: bool| if right { "right" } else { "wrong" };
    let name = |text: &str| if text.is_empty() { "no name".to_owned() } else { text.to_owned() };
    [
        name(&line.student),
        line.exercise.clone(),
        line.attempt.to_string(),
        if line.rail.is_empty() {
            "none".to_owned()
        } else {
            format!("{}, {}", line.rail, mark(line.right_rail_chosen()))
        },
        if line.within_limits { "within limits" } else { "not within limits" }.to_owned(),
        line.distance_mm.map_or("none".to_owned(), |mm| format!("{mm:.1} mm off")),
        line.right_part.map_or("none".to_owned(), |right| format!("{}, {}", line.part, mark(right))),
        line.looks.to_string(),
        line.points.to_string(),
        line.time.clone(),
    ]
}
