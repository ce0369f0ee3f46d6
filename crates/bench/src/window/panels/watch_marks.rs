//! Marks on the time strip where the take left the plan: a wedge, its words on hover and focus, a click goes there.

use egui::{Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};
use egui_plot::{PlotPoint, PlotTransform};

use super::super::{command::Command, engine::EventView};
use crate::theme::Palette;

/// Draws the marks over a plot of the strip.
pub fn show(ui: &mut Ui, transform: &PlotTransform, time_s: &[f64], events: &[EventView], out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let frame = *transform.frame();
    for (index, event) in events.iter().enumerate() {
        let first = *event.frames.start();
        let Some(&t) = time_s.get(first) else {
            continue;
        };
        let x = transform.position_from_point(&PlotPoint::new(t, 0.0)).x;
        let top = pos2(x, frame.top());
        let colour = if event.stop { p.refusal } else { p.caution };
        let painter = ui.painter_at(frame.expand(1.0));
        painter.vline(x, frame.y_range(), Stroke::new(1.0, colour));
        let wedge = vec![top + vec2(-5.0, 0.0), top + vec2(5.0, 0.0), top + vec2(0.0, 9.0)];
        // One that stops is filled, others are hollow: told by shape, not by colour alone.
        let fill = if event.stop { colour } else { p.panel };
        painter.add(Shape::convex_polygon(wedge, fill, Stroke::new(1.5, colour)));
        let rect = egui::Rect::from_center_size(top + vec2(0.0, 5.0), vec2(12.0, 12.0));
        let response = ui.interact(rect, ui.scope_id().with(("watch mark", index)), Sense::click());
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Button, true, format!("Mark: {}", event.said)));
        if response.clicked() {
            out.push(Command::SetFrame(first));
        }
        if response.has_focus() {
            ui.painter().rect_stroke(rect, 2.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Outside);
            response.show_tooltip_text(&event.said);
        } else {
            let _ = response.on_hover_text(&event.said);
        }
    }
}
