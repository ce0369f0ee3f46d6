//! The verdict with its numbers, what changed part by part, and what is put on record.

use egui::{Frame, Grid, RichText, Stroke, TextEdit, Ui};
use joulemark_locate::repair_check::{Scaling, VerdictKind};

use super::{
    super::{
        command::{Command, Pick},
        panels::case_log,
        screen::Screen,
        session::Session,
        words,
    },
    CompareCommand, Compared,
};
use crate::theme::{self, LARGE, Palette, SMALL, SPACE};

/// Most parts in the table.
const MOST_PARTS: usize = 8;

/// Draws the section.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    match session.compared() {
        Some(compared) => verdict(ui, session, compared, screen, out),
        None => {
            theme::section(ui, "Verdict");
            ui.label("The verdict appears once two takes are compared.");
        }
    }
    on_record(ui, session, screen, out);
}

fn verdict(ui: &mut Ui, session: &Session, compared: &Compared, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let check = &compared.check;
    theme::section(ui, "Verdict");
    // Weight and words tell it; the colour only helps.
    let (width, colour) = match check.verdict.kind {
        VerdictKind::Cleared => (2.0, p.accent),
        VerdictKind::CannotTell => (1.0, p.hairline),
        _ => (2.0, p.refusal),
    };
    Frame::new().stroke(Stroke::new(width, colour)).inner_margin(8).corner_radius(3).show(ui, |ui| {
        ui.set_width(ui.available_width());
        ui.label(RichText::new(sentence_case(check.verdict.kind.words())).size(LARGE));
        for reason in &check.verdict.because {
            ui.add(egui::Label::new(RichText::new(reason).size(SMALL)).wrap());
        }
    });
    if compared.changes != session.changes() {
        ui.label(RichText::new("Out of date: you changed something since.").strong().color(p.caution));
        if ui.button("Compare again").clicked() {
            out.push(Command::Compare(CompareCommand::Run));
        }
    }
    let (before, after) = compared.names();
    let again = session.document.case.verdict().is_some_and(|v| {
        v.before == before && v.after == after && v.verdict == check.verdict.kind && v.because == check.verdict.because
    });
    ui.add_space(SPACE / 2.0);
    if screen.by.is_empty() {
        ui.horizontal(|ui| case_log::by(ui, screen, out));
        ui.label(RichText::new("A verdict on record needs a name.").size(SMALL).color(p.weak));
    }
    let button = egui::Button::new("Put this verdict on record");
    let button = ui.add_enabled(!again && !screen.by.is_empty(), button);
    let why = if again { "It is on record already" } else { "Say who is at the bench first" };
    if button.on_disabled_hover_text(why).clicked() {
        out.push(Command::Compare(CompareCommand::Record));
    }
    if let Scaling::ToPower(factor) = check.electrical.scaling
        && (factor - 1.0).abs() > 0.005
    {
        let text =
            format!("Numbers after are brought to the power before: times {factor:.3}. The pictures are as filmed.");
        ui.add(egui::Label::new(RichText::new(text).size(SMALL).color(p.weak)).wrap());
    }
    for note in &check.notes {
        ui.add(egui::Label::new(RichText::new(note).size(SMALL).color(p.caution)).wrap());
    }
    tables(ui, compared, screen, out);
}

fn sentence_case(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A row of either table.
struct Rises {
    name: String,
    /// What a click selects.
    part: Option<String>,
    before: (f64, f64),
    after: (f64, f64),
}

/// Rises at every hot spot of either take, and over the parts that changed most.
fn tables(ui: &mut Ui, compared: &Compared, screen: &Screen, out: &mut Vec<Command>) {
    let check = &compared.check;
    let unit = words::unit(check.unit);
    let spots = check.spots.iter().filter_map(|spot| {
        let rise = spot.rise?;
        let found = match (spot.index_before, spot.index_after) {
            (Some(_), Some(_)) => "both",
            (Some(_), None) => "before",
            _ => "after",
        };
        let name = format!("{} ({found})", spot.part.as_deref().unwrap_or("no part"));
        let (before, after) = ((rise.before, rise.before_se), (rise.after, rise.after_se));
        Some(Rises { name, part: spot.part.clone(), before, after })
    });
    table(ui, &format!("Hot spots, and in which take, {unit}"), &spots.collect::<Vec<_>>(), screen, out);
    let parts = check.parts.iter().take(MOST_PARTS).map(|p| Rises {
        name: p.part.clone(),
        part: Some(p.part.clone()),
        before: (p.before, p.before_se),
        after: (p.after, p.after_se),
    });
    table(ui, &format!("Mean rise over parts, {unit}"), &parts.collect::<Vec<_>>(), screen, out);
}

fn table(ui: &mut Ui, title: &str, rows: &[Rises], screen: &Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    if rows.is_empty() {
        return;
    }
    theme::hairline(ui);
    theme::section(ui, title);
    Grid::new(title).num_columns(3).spacing([8.0, 2.0]).show(ui, |ui| {
        for head in ["part", "before", "after"] {
            ui.label(RichText::new(head).size(SMALL).color(p.weak));
        }
        ui.end_row();
        for row in rows {
            let lit = row.part.as_deref().is_some_and(|part| screen.part_selected(part));
            if ui.selectable_label(lit, RichText::new(&row.name).size(SMALL)).clicked() {
                out.extend(row.part.clone().map(Command::SelectPart));
            }
            let value = |(v, se): (f64, f64)| words::measured(v, se, "").trim().to_owned();
            let change = (row.after.0 - row.before.0, row.before.1.hypot(row.after.1));
            let change = format!("changed by {}", value(change));
            for text in [value(row.before), value(row.after)] {
                ui.label(RichText::new(text).size(SMALL)).on_hover_text(&change);
            }
            ui.end_row();
        }
    });
}

/// What stands in the case: the newest verdict, and the lead's signature.
fn on_record(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let case = &session.document.case;
    let Some(entry) = case.verdict() else {
        return;
    };
    theme::hairline(ui);
    theme::section(ui, "On record");
    let day = entry.time.get(..10).unwrap_or(&entry.time);
    let text = format!("{}: {}, {} against {}, by {}", day, entry.verdict.words(), entry.before, entry.after, entry.by);
    ui.add(egui::Label::new(RichText::new(text).size(SMALL)).wrap());
    if !entry.culprits.is_empty() {
        let text = format!("lifted or replaced between them: {}", entry.culprits.join(", "));
        ui.add(egui::Label::new(RichText::new(text).size(SMALL)).wrap());
    }
    if ui.small_button("Write the report\u{2026}").on_hover_text("PDF or web page").clicked() {
        out.push(Command::Pick(Pick::Report));
    }
    if let Some(signed) = &case.sign_off {
        let note = if signed.note.is_empty() { String::new() } else { format!(": {}", signed.note) };
        let day = signed.time.get(..10).unwrap_or(&signed.time);
        ui.add(egui::Label::new(RichText::new(format!("Signed off {day} by {}{note}", signed.by)).strong()).wrap());
        if ui.small_button("Take the signature back").clicked() {
            out.push(Command::Compare(CompareCommand::Unsign));
        }
        return;
    }
    ui.label(RichText::new("Waiting for the lead's signature.").size(SMALL).color(p.weak));
    ui.horizontal(|ui| {
        let label = ui.label(RichText::new("word").size(SMALL));
        let field = TextEdit::singleline(&mut screen.compare.note).desired_width(140.0).hint_text("may stay empty");
        ui.add(field).labelled_by(label.id);
        let button = ui.add_enabled(!screen.by.is_empty(), egui::Button::new("Sign off"));
        if button.on_disabled_hover_text("Say who is at the bench first").clicked() {
            out.push(Command::Compare(CompareCommand::SignOff(screen.compare.note.clone())));
        }
    });
}
