//! Horizontal bars with their numbers beside them, as drawn on the desk.

use egui::{Align2, Rect, Sense, Ui, WidgetInfo, vec2};

use crate::theme::{self, Palette};

/// A bar: what it is, how long, and its number in words.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// What it is.
    pub name: String,
    /// How long.
    pub value: f64,
    /// Its number in words.
    pub words: String,
}

const ROW: f32 = 20.0;
const NAMES: f32 = 150.0;

/// Draws them, the longest as long as there is room.
pub fn show(ui: &mut Ui, title: &str, bars: &[Bar]) {
    let p = Palette::of(ui);
    let most = bars.iter().map(|b| b.value).fold(f64::MIN_POSITIVE, f64::max);
    for bar in bars {
        let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::hover());
        let label = format!("{title}: {}, {}", bar.name, bar.words);
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Label, true, &label));
        let painter = ui.painter_at(rect);
        let names = painter.with_clip_rect(rect.with_max_x(rect.left() + NAMES - 6.0));
        names.text(rect.left_center(), Align2::LEFT_CENTER, &bar.name, theme::small(), p.text);
        let room = (rect.width() - NAMES - 64.0).max(8.0);
        let length = room * (bar.value / most) as f32;
        let place = Rect::from_min_size(rect.min + vec2(NAMES, 4.0), vec2(length.max(1.0), ROW - 8.0));
        painter.rect_filled(place, 2.0, p.accent);
        let at = place.right_center() + vec2(6.0, 0.0);
        painter.text(at, Align2::LEFT_CENTER, &bar.words, theme::small(), p.text);
    }
}
