//! The ladder: every step with its ceilings, what to expect of it, and which one is in force.

use egui::{RichText, Ui};

use super::{
    super::{command::Command, session::Session},
    PlanCommand,
};
use crate::theme::{self, Palette, SMALL};

/// Draws the ladder, or why there is none.
pub fn show(ui: &mut Ui, session: &Session, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let judged = session.judged();
    let plan = &judged.plan;
    if !plan.refusals.is_empty() {
        for refusal in &plan.refusals {
            ui.add(egui::Label::new(RichText::new(refusal).strong().color(p.refusal)).wrap());
        }
        return;
    }
    let in_force = plan.in_force(session.document.case.plan.step).map(|(at, _)| at);
    theme::section(ui, "Steps, lowest first. One after another, and only as far as needed.");
    egui::Grid::new("ladder").num_columns(5).spacing([14.0, 4.0]).show(ui, |ui| {
        for head in ["step", "volts up to", "amps up to", "for", "stop at"] {
            ui.label(RichText::new(head).size(SMALL).color(p.weak));
        }
        ui.end_row();
        for (index, step) in plan.steps.iter().enumerate() {
            let here = in_force == Some(index);
            let label = ui.selectable_label(here, format!("{}{}", index + 1, if here { "  in force" } else { "" }));
            let label = label.accessible_name(format!(
                "Step {}: up to {}, up to {}, for {}{}",
                index + 1,
                step.volts.text,
                step.amps.text,
                step.dwell.text,
                if here { ", in force" } else { "" }
            ));
            if label.clicked() && !here {
                out.push(Command::Plan(PlanCommand::Step(index)));
            }
            for figure in [&step.volts, &step.amps, &step.dwell, &step.stop] {
                let text = RichText::new(&figure.text);
                ui.label(if here { text.strong() } else { text })
                    .on_hover_text(format!("{}\n{}", figure.because, figure.source));
            }
            ui.end_row();
        }
    });
    theme::section(ui, "What to expect");
    for (index, step) in plan.steps.iter().enumerate() {
        let text = format!("Step {}: {}", index + 1, step.expected.join("; "));
        let text = RichText::new(text).size(SMALL);
        ui.add(egui::Label::new(if in_force == Some(index) { text.strong() } else { text }).wrap());
        if let Some(note) = &step.note {
            ui.label(RichText::new(note).size(SMALL).color(p.caution));
        }
    }
    theme::section(ui, "Bear in mind");
    for advice in &plan.advice {
        ui.add(egui::Label::new(RichText::new(advice).size(SMALL)).wrap());
    }
}
