//! A field that keeps what is typed until it is left, so that typing a number is one change and not one a digit.

use egui::{Id, Ui};

/// A labelled text field. Returns the new text once it is left or Enter is pressed, when it differs.
pub fn text(ui: &mut Ui, label: &str, value: &str, width: f32) -> Option<String> {
    ui.horizontal(|ui| {
        let place = ui.add(egui::Label::new(label).selectable(false));
        let id = ui.scope_id().with(("field", label));
        kept(ui, id, value, |ui, typed| {
            ui.add(egui::TextEdit::singleline(typed).desired_width(width)).labelled_by(place.id)
        })
    })
    .inner
}

/// The same without a visible label: `name` is for assistive technology.
pub fn unlabelled(ui: &mut Ui, name: &str, value: &str, width: f32) -> Option<String> {
    let id = ui.scope_id().with(("field", name));
    kept(ui, id, value, |ui, typed| {
        ui.add(egui::TextEdit::singleline(typed).desired_width(width)).accessible_name(name)
    })
}

/// A labelled number.
pub fn number(ui: &mut Ui, label: &str, value: f64) -> Option<f64> {
    let typed = text(ui, label, &value.to_string(), 64.0)?;
    typed.trim().replace(',', ".").parse::<f64>().ok().filter(|v| v.is_finite() && *v != value)
}

/// A labelled number that may be left empty.
pub fn optional(ui: &mut Ui, label: &str, value: Option<f64>) -> Option<Option<f64>> {
    let shown = value.map_or_else(String::new, |v| v.to_string());
    let typed = text(ui, label, &shown, 64.0)?;
    if typed.trim().is_empty() {
        return Some(None);
    }
    typed.trim().replace(',', ".").parse::<f64>().ok().filter(|v| v.is_finite()).map(Some)
}

fn kept(
    ui: &mut Ui,
    id: Id,
    value: &str,
    field: impl FnOnce(&mut Ui, &mut String) -> egui::Response,
) -> Option<String> {
    let mut typed = ui.data(|d| d.get_temp::<String>(id)).unwrap_or_else(|| value.to_owned());
    let response = field(ui, &mut typed);
    if response.lost_focus() {
        ui.data_mut(|d| d.remove::<String>(id));
        // Esc leaves the value as it was.
        let left = !ui.input(|i| i.key_pressed(egui::Key::Escape));
        return (left && typed != value).then_some(typed);
    }
    // Asked before the data is locked: the answer needs the same lock.
    let focused = response.has_focus();
    ui.data_mut(|d| {
        if focused {
            d.insert_temp(id, typed);
        } else {
            d.remove::<String>(id);
        }
    });
    None
}
