//! Cases as they were found, the newest first.

use std::collections::HashMap;

use egui::{Rect, RichText, ScrollArea, Sense, Stroke, TextureHandle, Ui, WidgetInfo, pos2, vec2};

use super::{super::command::Command, DeskCommand, Page};
use crate::{
    library::Found,
    theme::{Palette, SMALL},
};

/// Height of a case in the list.
const ROW: f32 = 64.0;
/// Width of its small picture.
const PICTURE: f32 = 80.0;

/// Draws the list. Only what is in sight is laid out, so that thousands of cases are no burden.
pub(super) fn show(ui: &mut Ui, page: &Page, pictures: &HashMap<String, TextureHandle>, out: &mut Vec<Command>) {
    if page.found.is_empty() {
        let text = if page.text.trim().is_empty() {
            "No case in this folder yet. Save a case into a folder within it, and it is listed here."
        } else {
            "No case is like that. Fewer words find more."
        };
        ui.label(text);
        return;
    }
    ScrollArea::vertical().auto_shrink(false).show_rows(ui, ROW, page.found.len(), |ui, rows| {
        for found in &page.found[rows] {
            case(ui, found, pictures.get(&found.row.folder), out);
        }
    });
}

/// State in words: "cleared, waits for a signature".
fn state(found: &Found) -> String {
    let row = &found.row;
    let verdict = row.verdict.map_or("no verdict", |v| v.words());
    match (&row.sign_off, row.waiting) {
        (Some(signed), _) => format!("{verdict}, signed by {}", signed.by),
        (None, true) => format!("{verdict}, waits for a signature"),
        (None, false) => verdict.to_owned(),
    }
}

fn case(ui: &mut Ui, found: &Found, picture: Option<&TextureHandle>, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let row = &found.row;
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW - 4.0), Sense::click());
    let name = if row.name.is_empty() { row.folder.clone() } else { row.name.clone() };
    let day = row.opened.get(..10).unwrap_or(&row.opened).to_owned();
    let told = row.fault.clone().unwrap_or_else(|| state(found));
    let label = format!("Case {name}, {}, rail {}, {told}, {day}", row.model, row.rail);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, &label));
    let fill = if response.hovered() { p.hovered } else { p.panel };
    ui.painter().rect_filled(rect, 3.0, fill);
    if response.has_focus() {
        ui.painter().rect_stroke(rect, 3.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Inside);
    }
    let place = Rect::from_min_size(rect.min + vec2(6.0, 4.0), vec2(PICTURE, rect.height() - 8.0));
    match picture {
        Some(handle) => {
            let size = handle.size_vec2();
            let scale = (place.width() / size.x).min(place.height() / size.y);
            let inner = Rect::from_center_size(place.center(), size * scale);
            let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
            ui.painter().image(handle.id(), inner, whole, egui::Color32::WHITE);
        }
        None => {
            ui.painter().rect_filled(place, 2.0, p.canvas);
        }
    }
    let text = Rect::from_min_max(pos2(place.right() + 10.0, rect.top() + 4.0), rect.max - vec2(8.0, 4.0));
    ui.scope_builder(egui::UiBuilder::new().max_rect(text), |ui| {
        ui.spacing_mut().item_spacing.y = 1.0;
        let line = |ui: &mut Ui, text: RichText| {
            ui.add(egui::Label::new(text).truncate().selectable(false));
        };
        let back = if found.comeback_of.is_some() { "  comeback" } else { "" };
        let practice = if row.practice { "  practice, simulated" } else { "" };
        line(ui, RichText::new(format!("{name}{back}{practice}")).strong());
        if let Some(fault) = &row.fault {
            line(ui, RichText::new(fault).size(SMALL).color(p.refusal));
            return;
        }
        let serial = if row.serial.is_empty() { String::new() } else { format!(", serial {}", row.serial) };
        let culprits =
            if row.culprits.is_empty() { String::new() } else { format!(", fault: {}", row.culprits.join(", ")) };
        line(ui, RichText::new(format!("{}{serial}, rail {}{culprits}", row.model, row.rail)).size(SMALL));
        let symptom = if row.symptom.is_empty() { String::new() } else { format!("  {}", row.symptom) };
        line(ui, RichText::new(format!("{day}  {told}{symptom}")).size(SMALL).color(p.weak));
    });
    if response.clicked() {
        out.push(Command::Desk(DeskCommand::Case(row.folder.clone())));
    }
}
