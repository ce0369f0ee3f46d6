//! The cautions where the hands are: short and always visible for the stage in force; those of a connection are ticked
//! one by one, with time and name.

use egui::{Frame, RichText, Stroke, Ui};

use super::{
    super::{cautions, command::Command, engine::CautionView, screen::Screen, session::Session, stage::Stage},
    case_log,
};
use crate::theme::{self, Palette, SMALL};

/// Stages whose cautions are acknowledged: current flows at them.
fn acknowledged_at(stage: Stage) -> bool {
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
    // Whatever the window's height, the next sensible action below stays in sight.
    let room = (ui.available_height() - 8.0).max(60.0);
    egui::ScrollArea::vertical().id_salt("cautions").max_height(room).show(ui, |ui| {
        if acknowledged_at(screen.stage) || screen.refused.is_some() {
            connection(ui, session, screen, out);
        }
        if screen.cautions_open {
            for caution in &session.judged().cautions {
                bullet(ui, &caution.words);
            }
        } else {
            for caution in cautions::at(screen.stage) {
                bullet(ui, caution);
            }
            ui.label(RichText::new(cautions::LOCAL_RULES).size(SMALL).color(p.weak));
        }
    });
    theme::hairline(ui);
}

fn bullet(ui: &mut Ui, words: &str) {
    let p = Palette::of(ui);
    ui.horizontal_top(|ui| {
        ui.label(RichText::new("\u{2022}").color(p.caution));
        ui.add(egui::Label::new(RichText::new(words).size(SMALL)).wrap());
    });
}

/// Those that a connection has to acknowledge: spelled out until they are, one line afterwards.
fn connection(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    if session.limits_in_words().is_none() {
        // The card says why nothing may be injected; there is nothing to acknowledge.
        return;
    }
    let open = session.open_cautions();
    let stroke = if open.is_empty() { Stroke::new(1.0, p.hairline) } else { Stroke::new(2.0, p.caution) };
    Frame::new().stroke(stroke).inner_margin(6).corner_radius(3).show(ui, |ui| {
        ui.set_width(ui.available_width());
        if let Some(refused) = &screen.refused {
            ui.add(egui::Label::new(RichText::new(refused).strong().color(p.refusal)).wrap());
        }
        if open.is_empty() {
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(acknowledged(session)).size(SMALL).strong());
                again(ui, out);
            });
            egui::CollapsingHeader::new(RichText::new("What was acknowledged").size(SMALL))
                .id_salt("acknowledged")
                .show(ui, |ui| ticks(ui, session, screen, &open, out));
            return;
        }
        let count = session.judged().cautions.iter().filter(|c| c.before_injection).count();
        let title = format!("This connection: {} of {count} to acknowledge", open.len());
        ui.label(RichText::new(title).strong().color(p.caution));
        if screen.by.is_empty() {
            ui.horizontal(|ui| case_log::by(ui, screen, out));
            ui.label(RichText::new("Acknowledging needs a name.").size(SMALL).color(p.weak));
        }
        ticks(ui, session, screen, &open, out);
        if session.document.connection().is_some() {
            again(ui, out);
        }
    });
}

/// "All acknowledged by Ada, 09:30 UTC".
fn acknowledged(session: &Session) -> String {
    let last = session.document.connection().and_then(|c| c.acknowledged.iter().max_by(|a, b| a.time.cmp(&b.time)));
    last.map_or_else(String::new, |a| {
        format!("This connection: all acknowledged, last by {}, {} UTC", a.by, a.time.get(11..16).unwrap_or(&a.time))
    })
}

fn again(ui: &mut Ui, out: &mut Vec<Command>) {
    let button = ui.small_button("New connection");
    if button.on_hover_text("Leads off and on again: every connection asks for the cautions anew").clicked() {
        out.push(Command::NewConnection);
    }
}

fn ticks(ui: &mut Ui, session: &Session, screen: &Screen, open: &[CautionView], out: &mut Vec<Command>) {
    for caution in session.judged().cautions.iter().filter(|c| c.before_injection) {
        let mut seen = !open.contains(caution);
        let words = session.caution_in_words(caution);
        ui.horizontal_top(|ui| {
            let allowed = seen || !screen.by.is_empty();
            let tick = ui.add_enabled(allowed, egui::Checkbox::without_text(&mut seen));
            let tick = tick.accessible_name(format!("Acknowledge {}: {words}", caution.id.replace('_', " ")));
            if tick.clicked() {
                out.push(Command::Acknowledge(caution.id.clone(), seen));
            }
            ui.add(egui::Label::new(RichText::new(&words).size(SMALL)).wrap());
        });
    }
}
