//! The shelf: find a drawing by name or rail and take it.

use std::time::SystemTime;

use egui::{Id, Modal, RichText, ScrollArea, Ui, WidgetInfo};

use super::super::{
    command::Command,
    drawing::shelf::{ShelfCommand, ShelfScreen, ago},
};
use crate::{
    shelf::Entry,
    theme::{Palette, SMALL, SPACE},
};

/// Draws the dialog when it is open.
pub fn show(ui: &Ui, screen: &mut Option<ShelfScreen>, out: &mut Vec<Command>) {
    let Some(state) = screen else {
        return;
    };
    let response = Modal::new(Id::unique("shelf")).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_width(520.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        ui.label(RichText::new("From the shelf").strong());
        ui.add_space(SPACE);
        let (up, down, take) = super::palette::list_keys(ui);
        let field = egui::TextEdit::singleline(&mut state.text)
            .desired_width(f32::INFINITY)
            .hint_text("Find by name or rail; Enter takes the first");
        let field = ui.add(field).accessible_name("Find a drawing by name or rail");
        field.request_focus();
        if field.changed() {
            state.at = 0;
        }
        let last = state.listed().len().saturating_sub(1);
        state.at = (state.at + usize::from(down)).saturating_sub(usize::from(up)).min(last);
        let (found, now) = (state.listed(), SystemTime::now());
        ui.add_space(SPACE);
        ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
            for (index, entry) in found.iter().enumerate() {
                let here = index == state.at;
                let words = in_words(entry, now);
                let button = egui::Button::selectable(here, words.as_str()).wrap();
                let response = ui.add(button.min_size(egui::vec2(ui.available_width(), 0.0)));
                response.widget_info(|| WidgetInfo::selected(egui::Role::ListBoxOption, true, here, &words));
                if here && (up || down) {
                    response.scroll_to_me(None);
                }
                if response.clicked() || (here && take) {
                    let (id, version) = (entry.id.clone(), entry.version);
                    out.push(Command::Shelf(ShelfCommand::Take { id, version }));
                }
            }
        });
        match &state.found {
            None => drop(ui.label("Looking\u{2026}")),
            Some(Err(error)) => drop(ui.label(RichText::new(error).color(p.refusal))),
            Some(Ok((all, damaged))) => {
                if all.is_empty() {
                    ui.label("Nothing is on the shelf yet. \"Put on the shelf\" in the drawing bench keeps a drawing.");
                } else if found.is_empty() {
                    ui.label("No drawing has that name or rail.");
                }
                for line in damaged {
                    ui.add(egui::Label::new(RichText::new(line).size(SMALL).color(p.caution)).wrap());
                }
            }
        }
        ui.add_space(SPACE);
        if ui.button("Cancel").clicked() {
            out.push(Command::Shelf(ShelfCommand::Cancel));
        }
    });
    if response.backdrop_response.clicked() {
        out.push(Command::Shelf(ShelfCommand::Cancel));
    }
}

fn in_words(entry: &Entry, now: SystemTime) -> String {
    let rails = if entry.rails.is_empty() { "no rails".to_owned() } else { entry.rails.join(", ") };
    let saved = entry.saved.map(|s| format!(", {}", ago(s, now))).unwrap_or_default();
    format!("{}: {} parts; {rails}; version {}{saved}", entry.name, entry.parts, entry.version)
}
