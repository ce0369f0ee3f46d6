//! Work under way: what it does, how far it is, and a button that stops it.

use egui::{ProgressBar, RichText, Ui};

use super::super::{command::Command, jobs::Job};
use crate::theme::{Palette, SMALL};

/// Draws one line per job.
pub fn show(ui: &mut Ui, jobs: &[&Job], out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    for job in jobs {
        ui.horizontal(|ui| {
            ui.label(RichText::new(&job.title).strong());
            let stage = if job.stopping() { "stopping".to_owned() } else { job.stage() };
            ui.label(RichText::new(&stage).size(SMALL).color(p.weak));
            if ui.add_enabled(!job.stopping(), egui::Button::new("Cancel")).on_hover_text("Esc").clicked() {
                out.push(Command::Cancel(job.id));
            }
            let bar = match job.fraction() {
                Some(fraction) => ProgressBar::new(fraction).show_percentage(),
                None => ProgressBar::new(0.0),
            };
            ui.add(bar.desired_width(ui.available_width().min(320.0)).fill(p.selected))
                .accessible_name(format!("{}: {stage}", job.title));
        });
    }
}
