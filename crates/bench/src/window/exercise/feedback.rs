//! The column after handing in: points with their reasons, the limits with theirs, and what the program found.

use egui::{Grid, Panel, RichText, ScrollArea, Ui};
use joulemark_locate::Located;

use super::{
    super::{command::Command, session::Session, words},
    ExerciseCommand, Feedback, aloud,
};
use crate::{
    answer_words::LEAST_SHOWN,
    case::exercise::{Exercise, RailAnswer},
    exercise::RailLimits,
    numbers::ceiling,
    theme::{self, Palette, SMALL, SPACE},
};

/// Entries of the heat ledger that are listed.
const MOST_LEDGER: usize = 5;

/// Draws the column.
pub(super) fn show(
    ui: &mut Ui,
    session: &Session,
    exercise: &Exercise,
    feedback: &Feedback,
    busy: bool,
    out: &mut Vec<Command>,
) {
    Panel::bottom("after").frame(egui::Frame::new()).show(ui, |ui| {
        ui.add_space(SPACE);
        ui.horizontal_wrapped(|ui| {
            let another = "A new board, as hard as this one";
            if exercise.difficulty.is_some()
                && ui.add_enabled(!busy, egui::Button::new("Try another")).on_hover_text(another).clicked()
            {
                out.push(Command::Exercise(ExerciseCommand::Another));
            }
            let again = "Answers and looks start afresh; it counts as a further try";
            if ui.button("Work on it again").on_hover_text(again).clicked() {
                out.push(Command::Exercise(ExerciseCommand::Again));
            }
        });
    });
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        ui.spacing_mut().item_spacing.y = 4.0;
        points(ui, exercise, feedback);
        theme::hairline(ui);
        limits(ui, exercise, feedback);
        theme::hairline(ui);
        found(ui, session, feedback.answer.simulated);
    });
}

fn weak(ui: &mut Ui, text: impl Into<String>) {
    let p = Palette::of(ui);
    ui.label(RichText::new(text).size(SMALL).color(p.weak));
}

fn points(ui: &mut Ui, exercise: &Exercise, feedback: &Feedback) {
    let points = ui.label(RichText::new(format!("{} of 100 points", feedback.score.points)).font(theme::large()));
    aloud(ui, &points);
    if exercise.handed_in.len() > 1 {
        weak(ui, format!("Your try number {} at this exercise", exercise.handed_in.len()));
    }
    for item in &feedback.score.items {
        ui.add_space(SPACE / 2.0);
        ui.label(RichText::new(format!("{}: {} of {}", item.what, item.points, item.of)).strong());
        weak(ui, &item.because);
    }
}

fn limits(ui: &mut Ui, exercise: &Exercise, feedback: &Feedback) {
    let chosen = exercise.handed_in.last().map(|h| &h.answers.rail);
    let rail = match chosen {
        Some(RailAnswer::Rail(rail)) => rail,
        _ => &feedback.answer.rail,
    };
    let Some(limits) = feedback.answer.limits_of(rail) else { return };
    ui.label(RichText::new(format!("Limits of {rail}")).strong());
    if limits.steps.is_empty() {
        ui.label(format!("Nothing may be injected: {}.", limits.refused));
        return;
    }
    table(ui, limits);
    let first = &limits.steps[0];
    for (unit, most) in [("V", &first.volts), ("A", &first.amps), ("s", &first.seconds)] {
        weak(ui, format!("Step 1, {} {unit}: {} ({})", ceiling(most.value), most.because, most.source));
    }
}

fn table(ui: &mut Ui, limits: &RailLimits) {
    Grid::new("exercise limits").num_columns(4).spacing([18.0, 3.0]).show(ui, |ui| {
        for (number, step) in limits.steps.iter().enumerate() {
            ui.label(format!("step {}", number + 1));
            for (most, unit) in [(&step.volts, "V"), (&step.amps, "A"), (&step.seconds, "s")] {
                ui.label(format!("{} {unit}", ceiling(most.value)));
            }
            ui.end_row();
        }
    });
}

fn found(ui: &mut Ui, session: &Session, simulated: bool) {
    ui.label(RichText::new("What the program found").strong());
    let p = Palette::of(ui);
    match (&session.results.located, &session.results.fault) {
        (Some(located), _) => answer(ui, located, simulated),
        (None, Some(why)) => drop(ui.label(RichText::new(why).color(p.refusal))),
        (None, None) => drop(ui.label("Being worked out\u{2026}")),
    }
}

fn answer(ui: &mut Ui, located: &Located, simulated: bool) {
    if simulated {
        weak(ui, "In a simulated recording.");
    }
    if located.hot_spots.is_empty() {
        ui.label("Nothing above the noise: no place warms with the current.");
    }
    if let Some((index, answer)) = located.leading() {
        let rise = located.hot_spots[index].rise;
        ui.label(format!("Hot spot {}: {}", index + 1, words::with_doubt(rise.end, rise.end_se, located.unit)));
        let mut shares: Vec<String> = answer
            .suspects
            .iter()
            .filter(|s| s.probability >= LEAST_SHOWN)
            .take(3)
            .map(|s| format!("{} {}", s.part, words::percent(s.probability)))
            .collect();
        shares.push(format!("something not on the drawing {}", words::percent(answer.off_drawing_probability)));
        shares.push(format!("not the short at all {}", words::percent(answer.nothing_probability)));
        weak(ui, shares.join(", "));
    }
    ui.add_space(SPACE / 2.0);
    ui.label(RichText::new("Heat ledger").strong());
    let Some(ledger) = &located.ledger else {
        weak(ui, "There is no heat to share out, or the take has no temperatures.");
        return;
    };
    Grid::new("exercise ledger").num_columns(3).spacing([18.0, 3.0]).show(ui, |ui| {
        for entry in ledger.entries.iter().take(MOST_LEDGER) {
            ui.label(&entry.part);
            ui.label(words::measured(entry.watts, entry.watts_se, "W"));
            ui.label(entry.share.map_or_else(String::new, words::percent));
            ui.end_row();
        }
    });
    let watts = located.electrical_watts.map(|w| format!("{} at the board", words::plain(w, "W")));
    let share = ledger.explained_share.map(|share| format!("{} of it explained", words::percent(share)));
    let said: Vec<String> = watts.into_iter().chain(share).collect();
    if !said.is_empty() {
        weak(ui, said.join(", "));
    }
    for hint in &ledger.hints {
        weak(ui, hint);
    }
}
