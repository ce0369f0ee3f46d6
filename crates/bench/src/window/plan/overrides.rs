//! Limits that were loosened, and the form that loosens one. A reason is typed; it is printed in the report.

use egui::{ComboBox, RichText, TextEdit, Ui};

use super::{
    super::{command::Command, screen::Screen, session::Session},
    PlanCommand,
};
use crate::theme::{Palette, SMALL, SPACE};

/// Draws both.
pub fn show(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let judged = session.judged();
    let plan = &judged.plan;
    let case = &session.document.case;
    for (index, over) in case.plan.overrides.iter().enumerate().filter(|(_, o)| o.rail == case.rail) {
        ui.horizontal_wrapped(|ui| {
            let text =
                format!("Override in force: {} {}, because {} ({})", over.rule, over.value, over.reason, over.by);
            ui.label(RichText::new(text).size(SMALL).strong().color(p.caution));
            if ui.small_button("Take it back").accessible_name(format!("Take override of {} back", over.rule)).clicked()
            {
                out.push(Command::Plan(PlanCommand::DropOverride(index)));
            }
        });
    }
    if plan.loosened.is_empty() {
        return;
    }
    ui.add_space(SPACE / 2.0);
    ui.collapsing("Override a limit", |ui| {
        let why = "Only up to the rail's nominal volts and the weakest part; past those, never. The reason is printed in \
                   the report.";
        ui.label(RichText::new(why).size(SMALL).color(p.weak));
        let (rule, value, reason) = &mut screen.plan.loosening;
        ui.horizontal_wrapped(|ui| {
            let chosen = plan.loosened.iter().find(|l| l.rule == *rule);
            let shown = chosen.map_or("choose a limit".to_owned(), |l| format!("{}: {} {}", l.words, l.value, l.unit));
            let response = ComboBox::from_id_salt("override rule")
                .selected_text(&shown)
                .width(240.0)
                .show_ui(ui, |ui| {
                    for choice in &plan.loosened {
                        let words = format!("{}: {} {}", choice.words, choice.value, choice.unit);
                        if ui.selectable_label(choice.rule == *rule, words).clicked() {
                            rule.clone_from(&choice.rule);
                        }
                    }
                })
                .response;
            let _ = response.accessible_name(format!("Limit to override: {shown}"));
            let label = ui.label(RichText::new("instead").size(SMALL));
            ui.add(TextEdit::singleline(value).desired_width(56.0)).labelled_by(label.id);
            ui.label(RichText::new(chosen.map_or("", |l| l.unit.as_str())).size(SMALL));
            let label = ui.label(RichText::new("because").size(SMALL));
            ui.add(TextEdit::singleline(reason).desired_width(240.0)).labelled_by(label.id);
            let number = value.trim().replace(',', ".").parse::<f64>().ok().filter(|v| v.is_finite() && *v > 0.0);
            let ready = chosen.is_some() && number.is_some();
            let button = ui.add_enabled(ready, egui::Button::new("Override"));
            if button.on_disabled_hover_text("Choose a limit, type a value and the reason").clicked()
                && let Some(value) = number
            {
                let (rule, reason) = (rule.clone(), reason.clone());
                out.push(Command::Plan(PlanCommand::Override { rule, value, reason }));
            }
        });
    });
}
