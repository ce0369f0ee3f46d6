//! Before filming: what can be measured from the take or the log, and what only a person can answer.

use egui::{RichText, Ui};

use super::super::{command::Command, engine::Readiness, plan::PlanCommand, session::Session};
use crate::theme::{Palette, SMALL};

/// How many points are still open.
pub fn open(session: &Session) -> usize {
    session.judged().ready.iter().filter(|item| !item.state.fine()).count()
}

/// Draws the list.
pub fn show(ui: &mut Ui, session: &Session, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    ui.label(RichText::new("Before filming").strong());
    let columns = if ui.available_width() < 640.0 { 1 } else { 2 };
    let judged = session.judged();
    let items = &judged.ready;
    egui::Grid::new("before filming").num_columns(columns).spacing([24.0, 4.0]).show(ui, |ui| {
        for (index, item) in items.iter().enumerate() {
            ui.horizontal(|ui| {
                ui.set_max_width(ui.available_width().min(420.0));
                match item.state {
                    Readiness::Question(mut yes) => {
                        let tick = ui.checkbox(&mut yes, RichText::new(&item.words).size(SMALL));
                        if tick.on_hover_text(&item.because).clicked() {
                            out.push(Command::Plan(PlanCommand::Ready(item.id.clone(), yes)));
                        }
                    }
                    state => {
                        let (mark, colour) = match state {
                            Readiness::Good => ("measured: ", p.weak),
                            Readiness::Poor => ("not yet: ", p.caution),
                            _ => ("not known: ", p.weak),
                        };
                        let text = RichText::new(format!("{mark}{}", item.words)).size(SMALL).color(colour);
                        ui.add(egui::Label::new(text).wrap()).on_hover_text(&item.because);
                    }
                }
            });
            if (index + 1) % columns == 0 {
                ui.end_row();
            }
        }
    });
}
