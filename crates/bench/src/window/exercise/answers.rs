//! The column where the student answers: rail, injection, place, part, looks, hand in.

use egui::{ComboBox, Panel, RichText, ScrollArea, Ui};

use super::{
    super::{command::Command, screen::Screen, session::Session},
    ExerciseCommand, aloud, field, pane,
};
use crate::{
    case::exercise::{Answers, Exercise, Place, RailAnswer},
    exercise::score::FREE_LOOKS,
    theme::{self, Palette, SMALL, SPACE},
};

/// Draws the column.
pub(super) fn show(ui: &mut Ui, session: &Session, exercise: &Exercise, screen: &mut Screen, out: &mut Vec<Command>) {
    Panel::bottom("hand in").frame(egui::Frame::new()).show(ui, |ui| hand_in(ui, exercise, screen, out));
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 5.0;
        rail(ui, session, &exercise.answers, out);
        theme::hairline(ui);
        let answers = &exercise.answers;
        if answers.rail == RailAnswer::NothingWrong {
            ui.label("Nothing is wrong: neither injection nor place nor part is needed.");
        } else {
            injection(ui, answers, screen, out);
            theme::hairline(ui);
            place(ui, session, answers, screen, out);
            theme::hairline(ui);
            part(ui, session, answers, screen, out);
        }
        theme::hairline(ui);
        looks(ui, exercise);
    });
}

fn weak(ui: &mut Ui, text: impl Into<String>) {
    let p = Palette::of(ui);
    ui.label(RichText::new(text).size(SMALL).color(p.weak));
}

fn answer(words: &'static str, answers: Answers) -> Command {
    Command::Exercise(ExerciseCommand::Answer(Box::new(answers), words))
}

fn rail(ui: &mut Ui, session: &Session, answers: &Answers, out: &mut Vec<Command>) {
    ui.label(RichText::new("1  Which rail is faulty?").strong());
    for rail in &session.board.rails {
        let volts = rail.nominal_volts.map_or("nominal unknown".to_owned(), |v| format!("{v} V"));
        let this = RailAnswer::Rail(rail.name.clone());
        if ui.radio(answers.rail == this, format!("{}, {volts}", rail.name)).clicked() {
            out.push(answer("choose the rail", Answers { rail: this, ..answers.clone() }));
        }
    }
    if ui.radio(answers.rail == RailAnswer::NothingWrong, "None: nothing is wrong here").clicked() {
        out.push(answer("choose that nothing is wrong", Answers { rail: RailAnswer::NothingWrong, ..answers.clone() }));
    }
}

fn injection(ui: &mut Ui, answers: &Answers, screen: &mut Screen, out: &mut Vec<Command>) {
    ui.label(RichText::new("2  What would you inject first?").strong());
    let typed = &mut screen.exercise.typed;
    ui.horizontal_wrapped(|ui| {
        for (name, unit, said) in
            [("Volts", "V", answers.volts), ("Amps", "A", answers.amps), ("Seconds", "s", answers.seconds)]
        {
            let given = field::value(ui, typed, (name, name), said);
            ui.label(unit);
            if let Some(value) = given.filter(|v| *v != said) {
                let mut now = answers.clone();
                *match name {
                    "Volts" => &mut now.volts,
                    "Amps" => &mut now.amps,
                    _ => &mut now.seconds,
                } = value;
                out.push(answer("plan the injection", now));
            }
        }
    });
    weak(ui, "At most so many volts and amps, for so many seconds.");
}

fn place(ui: &mut Ui, session: &Session, answers: &Answers, screen: &mut Screen, out: &mut Vec<Command>) {
    ui.label(RichText::new("3  Where is the fault?").strong());
    let filmed = session.face().map(|f| f.name.clone()).unwrap_or_default();
    let face_name =
        answers.place.as_ref().map_or_else(|| screen.exercise.face.clone().unwrap_or(filmed), |p| p.face.clone());
    let face = session.board.face(&face_name);
    let said = match (&answers.place, face) {
        (Some(place), Some(face)) => {
            let on = pane::part_at(face, place).map_or("on no part".to_owned(), |part| format!("on {part}"));
            format!("Cross at {:.2}, {:.2} mm on {}, {on}", place.x_mm, place.y_mm, place.face)
        }
        _ => "No cross yet.".to_owned(),
    };
    let cross = ui.label(said);
    aloud(ui, &cross);
    let typed = &mut screen.exercise.typed;
    ui.horizontal_wrapped(|ui| {
        let at = answers.place.as_ref();
        let x = field::value(ui, typed, ("x", "Place, x in mm"), at.map(|p| p.x_mm));
        ui.label("x, mm");
        let y = field::value(ui, typed, ("y", "Place, y in mm"), at.map(|p| p.y_mm));
        ui.label("y, mm");
        let now = |x: Option<f64>, y: Option<f64>| {
            let old = at.map(|p| (p.x_mm, p.y_mm));
            // The other half is as it was, or else the board's corner until it is typed too.
            Place {
                face: face_name.clone(),
                x_mm: x.or(old.map(|o| o.0)).unwrap_or(0.0),
                y_mm: y.or(old.map(|o| o.1)).unwrap_or(0.0),
            }
        };
        let given = match (x, y) {
            (Some(Some(x)), _) => Some(now(Some(x), None)),
            (_, Some(Some(y))) => Some(now(None, Some(y))),
            _ => None,
        };
        if let Some(place) = given.filter(|p| Some(p) != at) {
            out.push(Command::Exercise(ExerciseCommand::Place(place)));
        }
    });
    if let Some(face) = face {
        let list = ComboBox::from_id_salt("cross on a part").selected_text("Put the cross on a part").width(220.0);
        let shown = list.show_ui(ui, |ui| {
            for part in &face.parts {
                if ui.selectable_label(false, format!("{}, {}", part.designator, part.kind.words())).clicked() {
                    let place = Place { face: face.name.clone(), x_mm: part.x_mm, y_mm: part.y_mm };
                    out.push(Command::Exercise(ExerciseCommand::Place(place)));
                }
            }
        });
        let _ = shown.response.accessible_name("Put the cross on a part");
    }
    weak(ui, "Click on recording or drawing, or use the arrow keys there: half a millimetre, with Shift five.");
}

fn part(ui: &mut Ui, session: &Session, answers: &Answers, screen: &mut Screen, out: &mut Vec<Command>) {
    ui.label(RichText::new("4  Which part? (may stay open)").strong());
    ui.horizontal_wrapped(|ui| {
        let given = field::text(ui, &mut screen.exercise.typed, ("part", "Part"), &answers.part, 90.0);
        if let Some(text) = given {
            screen.exercise.typed.remove("part");
            let named = text.trim();
            // As the drawing writes it, where it is on the drawing.
            let parts = session.board.faces.iter().flat_map(|f| &f.parts);
            let drawn = parts.map(|p| &p.designator).find(|d| d.eq_ignore_ascii_case(named));
            let part = drawn.cloned().unwrap_or_else(|| named.to_owned());
            if part != answers.part {
                out.push(answer("name the part", Answers { part, ..answers.clone() }));
            }
        }
        let under = answers.place.as_ref().and_then(|p| pane::part_at(session.board.face(&p.face)?, p));
        if let Some(under) = under.filter(|u| *u != answers.part)
            && ui.button(format!("Name {under}")).on_hover_text("The part under the cross").clicked()
        {
            out.push(answer("name the part", Answers { part: under.to_owned(), ..answers.clone() }));
        }
    });
    if !answers.part.is_empty() && session.board.part(&answers.part).is_none() {
        let p = Palette::of(ui);
        ui.label(RichText::new(format!("{} is not on the drawing", answers.part)).size(SMALL).color(p.refusal));
    }
}

fn looks(ui: &mut Ui, exercise: &Exercise) {
    let cost = match exercise.looks.len().saturating_sub(FREE_LOOKS as usize) {
        0 => format!("Up to {FREE_LOOKS} looks cost nothing."),
        1 => "Looks cost 1 point so far.".to_owned(),
        n => format!("Looks cost {} points so far.", n.min(10)),
    };
    weak(ui, format!("{cost} The plain frames are free; what was seen once stays open."));
}

fn hand_in(ui: &mut Ui, exercise: &Exercise, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    ui.add_space(SPACE);
    egui::Grid::new("who hands in").num_columns(2).spacing([8.0, 4.0]).show(ui, |ui| {
        ui.label("Your name");
        if let Some(name) = field::text(ui, &mut screen.exercise.typed, ("student", "Your name"), &screen.by, 190.0) {
            screen.exercise.typed.remove("student");
            out.push(Command::By(name));
        }
        ui.end_row();
        ui.label("Class file");
        let typed = &mut screen.exercise.typed;
        if let Some(file) = field::text(ui, typed, ("class", "Class file"), &exercise.class, 190.0) {
            typed.remove("class");
            out.push(Command::Exercise(ExerciseCommand::ClassFile(file)));
        }
        ui.end_row();
    });
    ui.add_space(SPACE / 2.0);
    let missing = exercise.answers.missing();
    ui.horizontal_wrapped(|ui| {
        if ui.add_enabled(missing.is_empty(), egui::Button::new("Hand in")).clicked() {
            out.push(Command::Exercise(ExerciseCommand::HandIn));
        }
        let words = if missing.is_empty() {
            "You see your points at once.".to_owned()
        } else {
            format!("Still open: {}", missing.join(", "))
        };
        ui.label(RichText::new(words).size(SMALL).color(p.weak));
    });
}
