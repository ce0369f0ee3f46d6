//! The seven stages on the left. Narrow windows show numbers, with the names on hover and focus.

use egui::{Align2, Key, Sense, Stroke, Ui, WidgetInfo, vec2};

use super::super::{
    command::Command,
    screen::Screen,
    session::Session,
    stage::{Stage, Standing},
};
use crate::theme::{self, Palette};

/// Width of the column.
pub fn width(narrow: bool) -> f32 {
    if narrow { 52.0 } else { 172.0 }
}

/// The key that opens a stage.
pub fn key(index: usize) -> Option<Key> {
    [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5, Key::Num6, Key::Num7].get(index).copied()
}

/// Draws the column.
pub fn show(ui: &mut Ui, session: Option<&Session>, screen: &Screen, out: &mut Vec<Command>) {
    ui.spacing_mut().item_spacing.y = 2.0;
    for (index, stage) in Stage::ALL.into_iter().enumerate() {
        entry(ui, index, stage, stage.standing(session), screen, out);
    }
}

fn entry(ui: &mut Ui, index: usize, stage: Stage, standing: Standing, screen: &Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let here = screen.stage == stage;
    let height = if screen.narrow { 40.0 } else { 46.0 };
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click());
    let words = if here { format!("here, {}", standing.words()) } else { standing.words().to_owned() };
    response.widget_info(|| {
        let label = format!("Stage {}, {}: {words}", index + 1, stage.words());
        WidgetInfo::selected(egui::Role::Button, true, here, label)
    });
    let painter = ui.painter();
    let fill = match (here, response.hovered()) {
        (true, _) => p.selected,
        (false, true) => p.hovered,
        (false, false) => p.panel,
    };
    painter.rect_filled(rect, 3.0, fill);
    if here {
        painter.rect_filled(rect.with_max_x(rect.left() + 3.0), 0.0, p.accent);
    }
    if response.has_focus() {
        painter.rect_stroke(rect, 3.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Inside);
    }
    let number = (index + 1).to_string();
    if screen.narrow {
        icon(painter, stage, rect.center(), Stroke::new(1.5, p.text));
        let corner = rect.left_top() + vec2(6.0, 4.0);
        painter.text(corner, Align2::LEFT_TOP, number, egui::FontId::proportional(10.0), p.weak);
        if standing.is_done() {
            tick(painter, rect.right_bottom() - vec2(8.0, 8.0), p.accent);
        }
        let name = format!("{}: {words}", stage.words());
        if response.has_focus() {
            response.show_tooltip_text(name);
        } else {
            let _ = response.clone().on_hover_text(name);
        }
    } else {
        let left = rect.left() + 12.0;
        painter.text(egui::pos2(left, rect.top() + 15.0), Align2::LEFT_CENTER, number, theme::small(), p.weak);
        let at = egui::pos2(left + 18.0, rect.top() + 15.0);
        painter.text(at, Align2::LEFT_CENTER, stage.words(), theme::body(), p.text);
        let below = egui::pos2(left + 18.0, rect.top() + 33.0);
        let colour = if matches!(standing, Standing::Needs(_)) { p.caution } else { p.weak };
        let mut job = egui::text::LayoutJob::simple_singleline(words, theme::small(), colour);
        job.wrap = egui::text::TextWrapping::truncate_at_width(rect.right() - below.x - 4.0);
        let galley = painter.layout_job(job);
        painter.galley(below - vec2(0.0, galley.size().y / 2.0), galley, colour);
        if standing.is_done() {
            tick(painter, egui::pos2(rect.right() - 14.0, rect.top() + 15.0), p.accent);
        }
    }
    if response.clicked() {
        out.push(Command::SetStage(stage));
    }
}

/// A line drawing of about 18 points for each stage.
fn icon(painter: &egui::Painter, stage: Stage, c: egui::Pos2, s: Stroke) {
    let line = |points: &[(f32, f32)]| {
        painter.line(points.iter().map(|&(x, y)| c + vec2(x, y)).collect(), s);
    };
    let frame = |w: f32, h: f32| {
        painter.rect_stroke(egui::Rect::from_center_size(c, vec2(w, h)), 2.0, s, egui::StrokeKind::Middle);
    };
    match stage {
        // A meter with its needle.
        Stage::Readings => {
            frame(18.0, 14.0);
            line(&[(-5.0, 4.0), (3.0, -4.0)]);
        }
        // Current into a rail.
        Stage::Injection => {
            line(&[(0.0, -9.0), (0.0, 4.0)]);
            line(&[(-4.0, 0.0), (0.0, 4.0), (4.0, 0.0)]);
            line(&[(-9.0, 8.0), (9.0, 8.0)]);
        }
        // A camera.
        Stage::Capture => {
            frame(18.0, 13.0);
            painter.circle_stroke(c, 3.5, s);
        }
        // Heat around a point.
        Stage::HotSpots => {
            painter.circle_filled(c, 2.0, s.color);
            painter.circle_stroke(c, 5.0, s);
            painter.circle_stroke(c, 9.0, s);
        }
        // A two-terminal part with a cross on it.
        Stage::Suspects => {
            frame(18.0, 9.0);
            line(&[(0.0, -8.0), (0.0, 8.0)]);
        }
        // A ring with a tick.
        Stage::RepairCheck => {
            painter.circle_stroke(c, 8.5, s);
            line(&[(-4.0, 0.0), (-1.0, 3.5), (4.5, -3.5)]);
        }
        // A page with lines.
        Stage::Handout => {
            frame(13.0, 17.0);
            line(&[(-3.5, -3.0), (3.5, -3.0)]);
            line(&[(-3.5, 1.0), (3.5, 1.0)]);
        }
    }
}

fn tick(painter: &egui::Painter, at: egui::Pos2, colour: egui::Color32) {
    let stroke = Stroke::new(2.0, colour);
    painter.line(vec![at + vec2(-4.0, 0.0), at + vec2(-1.0, 3.0), at + vec2(4.0, -4.0)], stroke);
}
