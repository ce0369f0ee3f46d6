//! Below the map: what lies under the cursor, and which layer is shown in which colours.

use egui::{ComboBox, DragValue, RichText, Ui};

use super::super::{
    command::Command,
    map::{readout, texture, texture::MapTexture},
    screen::{Layer, Screen},
    session::TakeView,
};
use crate::theme::{Palette, SMALL, ramp::ColourScale};

/// Draws both lines.
pub fn show(ui: &mut Ui, view: &TakeView, screen: &mut Screen, map: &MapTexture, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let line = readout::line(view, screen, map).unwrap_or_else(|| "Point at the map to read it.".to_owned());
    ui.add(egui::Label::new(RichText::new(line).size(SMALL).color(p.text)).truncate());
    ui.horizontal_wrapped(|ui| {
        let response = ComboBox::from_id_salt("layer")
            .width(if screen.narrow { 120.0 } else { 180.0 })
            .selected_text(screen.layer.words())
            .truncate()
            .show_ui(ui, |ui| {
                for layer in Layer::ALL {
                    let there = view.located.is_some() || !layer.needs_answer();
                    ui.add_enabled_ui(there, |ui| {
                        if ui.selectable_label(screen.layer == layer, layer.words()).clicked() {
                            out.push(Command::SetLayer(layer));
                        }
                    });
                }
            })
            .response;
        let _ = response.accessible_name(format!("Layer: {}", screen.layer.words()));
        let response = ComboBox::from_id_salt("colours")
            .width(84.0)
            .selected_text(screen.scale.words())
            .show_ui(ui, |ui| {
                for scale in ColourScale::ALL {
                    if ui.selectable_label(screen.scale == scale, scale.words()).clicked() {
                        out.push(Command::SetScale(scale));
                    }
                }
            })
            .response;
        let _ = response.accessible_name(format!("Colour scale: {}", screen.scale.words()));
        range(ui, view, screen, out);
        if ui.button("Fit").on_hover_text("Fit the picture: F").clicked() {
            out.push(Command::Fit);
        }
    });
}

fn range(ui: &mut Ui, view: &TakeView, screen: &Screen, out: &mut Vec<Command>) {
    // Fields are in the unit that the colour bar shows.
    let offset = readout::shown_offset(view, screen.layer);
    let (low, high) = texture::range(screen, view);
    let speed = f64::from(high - low).abs().max(1e-6) / 200.0;
    let field = |value| DragValue::new(value).speed(speed).max_decimals(2);
    // The unit that the bar prints after its numbers; scores have none.
    let end = readout::end(view, screen.layer, high);
    let unit = end.split_once(' ').map_or("", |(_, unit)| unit);
    let (mut low, mut high) = (low - offset, high - offset);
    let from = ui.label(if unit.is_empty() { "range".to_owned() } else { format!("range, {unit}") });
    let first = ui.add(field(&mut low)).labelled_by(from.id).on_hover_text("Lower end; drag, or click and type");
    let second = ui.add(field(&mut high)).accessible_name("range, upper end").on_hover_text("Upper end");
    if (first.changed() || second.changed()) && low < high {
        out.push(Command::SetRange(Some((low + offset, high + offset))));
    }
    if ui.add_enabled(screen.range.is_some(), egui::Button::new("Auto")).clicked() {
        out.push(Command::SetRange(None));
    }
}
