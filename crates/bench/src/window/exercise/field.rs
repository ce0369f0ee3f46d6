//! Text fields that are taken over when they are left or Enter is pressed.

use std::collections::BTreeMap;

use egui::{RichText, TextEdit, Ui};

use crate::theme::{Palette, SMALL};

/// A field with its label; returns the text once it was changed and left.
pub(super) fn text(
    ui: &mut Ui,
    typed: &mut BTreeMap<&'static str, String>,
    (name, label): (&'static str, &str),
    said: &str,
    width: f32,
) -> Option<String> {
    let mut now = typed.get(name).cloned().unwrap_or_else(|| said.to_owned());
    let response = ui.add(TextEdit::singleline(&mut now).desired_width(width)).accessible_name(label);
    if response.changed() {
        typed.insert(name, now.clone());
    }
    (response.lost_focus() && typed.contains_key(name)).then_some(now)
}

/// What is wrong with what was typed as a number; empty where nothing is.
fn fault(text: &str) -> Option<String> {
    let text = text.trim();
    (!text.is_empty() && number(text).is_none()).then(|| format!("'{text}' is no number"))
}

/// A number as people type it.
pub(super) fn number(text: &str) -> Option<f64> {
    text.trim().replace(',', ".").parse::<f64>().ok().filter(|v| v.is_finite())
}

/// A field for a number. Returns what was typed: `Some(None)` when it was emptied.
pub(super) fn value(
    ui: &mut Ui,
    typed: &mut BTreeMap<&'static str, String>,
    names: (&'static str, &str),
    said: Option<f64>,
) -> Option<Option<f64>> {
    let shown = said.map(|v| ((v * 1e3).round() / 1e3).to_string()).unwrap_or_default();
    let left = text(ui, typed, names, &shown, 64.0);
    if let Some(why) = typed.get(names.0).and_then(|t| fault(t)) {
        ui.label(RichText::new(why).size(SMALL).color(Palette::of(ui).refusal));
    }
    let left = left.filter(|text| fault(text).is_none())?;
    typed.remove(names.0);
    Some(number(&left))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_taken_as_people_type_them() {
        assert_eq!((number(" 0,3 "), number("-1.5"), number("")), (Some(0.3), Some(-1.5), None));
        assert_eq!((number("NaN"), number("1e999"), number("0.3 V")), (None, None, None));
        assert_eq!((fault(""), fault("0,3")), (None, None));
        assert_eq!(fault("x").as_deref(), Some("'x' is no number"));
    }
}
