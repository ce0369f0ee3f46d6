//! Below the map: what lies under the cursor, and which layer is shown in which colours.

use egui::{
    ComboBox, DragValue, PopupCloseBehavior, RichText, Slider, Ui,
    containers::menu::{MenuButton, MenuConfig},
};

use super::super::{
    command::Command,
    map::{readout, texture, texture::MapTexture},
    screen::{Layer, Over, Range, Screen},
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
        // Several choices are made in one visit: only a click beside it closes it.
        let stays = MenuConfig::new().close_behavior(PopupCloseBehavior::CloseOnClickOutside);
        MenuButton::new("Range, layers\u{2026}").config(stays).ui(ui, |ui| more(ui, view, screen, out));
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
        out.push(Command::SetRange(Range::Between(low + offset, high + offset)));
    }
    if ui.add_enabled(screen.range != Range::Auto, egui::Button::new("Auto")).clicked() {
        out.push(Command::SetRange(Range::Auto));
    }
}

/// Range by percentiles, kept over takes; a second layer.
fn more(ui: &mut Ui, view: &TakeView, screen: &Screen, out: &mut Vec<Command>) {
    ui.set_min_width(300.0);
    let (mut low, mut high) = match screen.range {
        Range::Percentiles(low, high) => (low, high),
        _ => (2.0, 99.5),
    };
    ui.horizontal(|ui| {
        let by = matches!(screen.range, Range::Percentiles(..));
        let chosen = ui.selectable_label(by, "Range by percentiles").clicked();
        let field = |value| DragValue::new(value).speed(0.1).range(0.0..=100.0).max_decimals(1).suffix(" %");
        let first = ui.add(field(&mut low)).accessible_name("lower percentile");
        let second = ui.add(field(&mut high)).accessible_name("upper percentile");
        if (chosen || first.changed() || second.changed()) && low < high {
            out.push(Command::SetRange(Range::Percentiles(low, high)));
        }
    });
    let mut keep = screen.range_kept;
    let words = "Keep this range for every take";
    if ui.checkbox(&mut keep, words).on_hover_text("The same colours then mean the same values").changed() {
        out.push(Command::KeepRange(keep));
    }
    ui.separator();
    ui.label("Second layer over the first");
    let over = screen.over;
    let set = |over| Command::SetOver(over);
    if ui.selectable_label(over.is_none(), "none").clicked() {
        out.push(set(None));
    }
    for layer in Layer::ALL.into_iter().filter(|l| *l != screen.layer) {
        let there = view.located.is_some() || !layer.needs_answer();
        ui.add_enabled_ui(there, |ui| {
            if ui.selectable_label(over.is_some_and(|o| o.layer == layer), layer.words()).clicked() {
                let fresh = Over { layer, share: 0.7, by_value: true };
                out.push(set(Some(over.map_or(fresh, |o| Over { layer, ..o }))));
            }
        });
    }
    if let Some(mut over) = over {
        let share = ui.add(Slider::new(&mut over.share, 0.0..=1.0).show_value(false).text("how much of it"));
        let by_value = ui.checkbox(&mut over.by_value, "clearer where its value is higher");
        if share.changed() || by_value.changed() {
            out.push(set(Some(over)));
        }
    }
}
