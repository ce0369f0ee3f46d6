//! The cautions where the hands are: short and always visible for the stage in force; those of a connection are ticked
//! one by one, with time and name.

use egui::{Frame, RichText, Stroke, Ui};

use super::{
    super::{cautions, command::Command, screen::Screen, session::Session, stage::Stage},
    case_log,
};
use crate::{
    case::connection::Caution,
    theme::{self, Palette, SMALL, SPACE},
};

/// Stages whose cautions are acknowledged: current flows at them.
pub fn acknowledged_at(stage: Stage) -> bool {
    matches!(stage, Stage::Injection | Stage::Capture)
}

/// Draws what belongs to the stage.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    ui.horizontal(|ui| {
        theme::section(ui, "Cautions");
        let all = ui.small_button(if screen.cautions_open { "Fold" } else { "All of them" });
        if all.clicked() {
            out.push(Command::ShowCautions(!screen.cautions_open));
        }
    });
    if acknowledged_at(screen.stage) || screen.refused.is_some() {
        connection(ui, session, screen, out);
    }
    let said: &[&str] = if screen.cautions_open { &cautions::ALL } else { cautions::at(screen.stage) };
    for caution in said {
        bullet(ui, caution);
    }
    if !screen.cautions_open {
        ui.label(RichText::new(cautions::LOCAL_RULES).size(SMALL).color(p.weak));
    }
    theme::hairline(ui);
}

fn bullet(ui: &mut Ui, words: &str) {
    let p = Palette::of(ui);
    ui.horizontal_top(|ui| {
        ui.label(RichText::new("\u{2022}").color(p.caution));
        ui.add(egui::Label::new(RichText::new(words).size(SMALL)).wrap());
    });
}

/// The three that a connection has to acknowledge.
fn connection(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let rail = &session.document.case.rail;
    let Some(limits) = session.limits_in_words() else {
        // The card says why nothing may be injected; there is nothing to acknowledge.
        return;
    };
    let open = session.open_cautions();
    let stroke = if open.is_empty() { Stroke::new(1.0, p.hairline) } else { Stroke::new(2.0, p.caution) };
    Frame::new().stroke(stroke).inner_margin(6).corner_radius(3).show(ui, |ui| {
        ui.set_width(ui.available_width());
        if let Some(refused) = &screen.refused {
            ui.add(egui::Label::new(RichText::new(refused).strong().color(p.refusal)).wrap());
        }
        let title = if open.is_empty() {
            "This connection: all acknowledged".to_owned()
        } else {
            format!("This connection: {} of {} to acknowledge", open.len(), Caution::ALL.len())
        };
        ui.label(RichText::new(title).strong().color(if open.is_empty() { p.text } else { p.caution }));
        let named = !screen.by.is_empty();
        if !named && !open.is_empty() {
            ui.horizontal(|ui| case_log::by(ui, screen, out));
            ui.label(RichText::new("Acknowledging needs a name.").size(SMALL).color(p.weak));
        }
        for caution in Caution::ALL {
            let mut seen = !open.contains(&caution);
            let words = cautions::sentence(caution, rail, session.rail_is_negative(), &limits);
            let said = session
                .document
                .connection()
                .and_then(|c| c.acknowledged.iter().rev().find(|a| a.caution == caution))
                .filter(|_| seen)
                .map(|a| format!(" {}, {}.", a.by, a.time.get(11..16).unwrap_or(&a.time)));
            let text = RichText::new(format!("{words}{}", said.unwrap_or_default())).size(SMALL);
            ui.horizontal_top(|ui| {
                let allowed = seen || named;
                let tick = ui.add_enabled(allowed, egui::Checkbox::without_text(&mut seen));
                let tick = tick.accessible_name(format!("Acknowledge {}: {words}", caution.words()));
                if tick.clicked() {
                    out.push(Command::Acknowledge(caution, seen));
                }
                ui.add(egui::Label::new(text).wrap());
            });
        }
        ui.add_space(SPACE / 2.0);
        if session.document.connection().is_some() {
            let again = ui.small_button("New connection");
            if again.on_hover_text("Leads off and on again: every connection asks for the cautions anew").clicked() {
                out.push(Command::NewConnection);
            }
        }
    });
}
