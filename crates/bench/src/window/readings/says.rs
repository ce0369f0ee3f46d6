//! What the engine says about rails, beside the table and as a ranking.

use egui::{Color32, RichText, Stroke, Ui, vec2};

use super::super::{command::Command, document::Edit, screen::Screen, session::Session, survey::SurveyCommand};
use crate::{
    case::intervention::Doing,
    theme::{self, Palette, SMALL, SPACE},
};

/// How heavily a rail's readings weigh.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// Nothing measured, or nothing odd.
    Calm,
    /// Worth another look.
    Odd,
    /// Shorted.
    Shorted,
}

impl Weight {
    /// Colour of the words; the words themselves say it too.
    pub fn colour(self, p: &Palette) -> Color32 {
        match self {
            Self::Calm => p.weak,
            Self::Odd => p.caution,
            Self::Shorted => p.refusal,
        }
    }
}

/// What is said about one rail.
#[derive(Clone, Debug, PartialEq)]
pub struct RailSays {
    /// Typical ranges, short.
    pub typical: String,
    /// Where they come from.
    pub source: String,
    /// What the readings mean, short.
    pub says: String,
    /// How heavily.
    pub weight: Weight,
}

/// The ranking, and what to measure next.
pub fn ranking(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let judged = session.judged();
    if let Some(next) = &judged.measure {
        theme::section(ui, "Measure next");
        let button = egui::Button::new(RichText::new(&next.words).strong())
            .stroke(Stroke::new(1.0, p.accent))
            .min_size(vec2(ui.available_width(), 28.0))
            .wrap();
        if ui.add(button).clicked() {
            out.push(next.command.clone());
        }
        ui.add(egui::Label::new(RichText::new(&next.because).size(SMALL).color(p.weak)).wrap());
        theme::hairline(ui);
    }
    theme::section(ui, "Rails, the most abnormal first");
    let ranked = &judged.ranked;
    if ranked.is_empty() {
        ui.label(
            RichText::new(
                "Nothing measured yet. Type what the meter shows beside each rail; Enter goes to the next one.",
            )
            .color(p.weak),
        );
    }
    for (index, rail) in ranked.iter().enumerate() {
        let chosen = session.document.case.rail == rail.rail;
        ui.horizontal_wrapped(|ui| {
            let lit = screen.selection.rail.as_ref() == Some(&rail.rail);
            let name = ui.selectable_label(lit, RichText::new(format!("{}  {}", index + 1, rail.rail)).strong());
            if name.hovered() {
                screen.hover_next.rail = Some(rail.rail.clone());
            }
            if name.clicked() {
                out.push(Command::SelectRail(rail.rail.clone()));
            }
            ui.label(RichText::new(&rail.words).color(rail.weight.colour(p)));
            if chosen {
                ui.label(RichText::new("chosen as the shorted rail").size(SMALL).color(p.weak));
            } else {
                let choose = ui.small_button("Choose it").on_hover_text("As the shorted rail of this case");
                if choose.accessible_name(format!("Choose {} as the shorted rail", rail.rail)).clicked() {
                    out.push(Command::Edit(Edit::Rail(rail.rail.clone())));
                }
            }
        });
        ui.add(egui::Label::new(RichText::new(&rail.because).size(SMALL).color(p.weak)).wrap());
        ui.add_space(SPACE / 2.0);
    }
    theme::hairline(ui);
    ui.horizontal_wrapped(|ui| {
        let survey = ui.button("Millivolt survey").on_hover_text("For a hard short that hardly warms");
        if survey.clicked() {
            out.push(Command::Survey(SurveyCommand::Open));
        }
        if ui.button("Note what was done\u{2026}").on_hover_text("Lifted, replaced, cleaned, dried, coated").clicked() {
            let part = screen.selection.part.clone().unwrap_or_default();
            out.push(Command::AskDone(Doing::Lifted, part));
        }
    });
}
