//! The right pane: the drawing of the face in millimetres; points snap to its corners.

use egui::{Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo};
use joulemark_locate::board::{Face, Footprint};

use super::{Lining, LiningCommand, Side, corners, loupe, picture::cross};
use crate::{
    theme::{Palette, SUSPECT_OVER_MAP},
    window::{
        command::Command,
        drawing::view::{DrawingView, UiFromBoard},
        map::{overlay_text, view::zoom_asked},
        session::Session,
    },
};

/// A click this near a corner means the corner, in points.
const SNAP_POINTS: f32 = 10.0;
/// How much larger the loupe shows things.
const LOUPE_FACTOR: f32 = 4.0;

pub(super) fn show(ui: &mut Ui, canvas: Rect, session: &Session, lining: &mut Lining, out: &mut Vec<Command>) {
    lining.canvas[1] = Some(canvas);
    let Some(face) = session.face() else {
        ui.put(canvas, egui::Label::new("The face in the picture is not drawn."));
        return;
    };
    let response = ui.interact(canvas, ui.scope_id().with("lining drawing"), Sense::click_and_drag());
    let turn = if lining.turn == Side::Drawing { "; its turn" } else { "" };
    let label = format!("Drawing of face {} for lining up{turn}", face.name);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, &label));
    let mut view = lining.view.unwrap_or_else(|| DrawingView::fit(Some(face), canvas.size()));
    if response.dragged() {
        view.pan(response.drag_delta());
        lining.view = Some(view);
    }
    let pointer = response.hover_pos();
    if let Some(pointer) = pointer {
        let factor = zoom_asked(ui);
        if (factor - 1.0).abs() > 1e-4 {
            view.zoom(factor, pointer, canvas);
            lining.view = Some(view);
        }
    }
    let on_screen = UiFromBoard::new(&view, canvas);
    let points = corners(face);
    let snapped = |at: Pos2| {
        let near = points
            .iter()
            .map(|p| (on_screen.to_ui(*p).distance(at), *p))
            .filter(|(d, _)| *d <= SNAP_POINTS)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        near.map_or_else(|| (on_screen.to_mm(at), false), |(_, p)| (p, true))
    };
    if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        out.push(Command::Lining(LiningCommand::Point(Side::Drawing, snapped(at).0)));
    }
    let painter = ui.painter_at(canvas);
    painter.rect_filled(canvas, 0.0, Palette::of(ui).panel);
    draw(ui, &painter, face, |p| on_screen.to_ui(p));
    marks(ui, &painter, session, lining, |p| on_screen.to_ui(p));
    let accent = Palette::of(ui).accent;
    if let Some((at, true)) = pointer.map(snapped) {
        painter.circle_stroke(on_screen.to_ui(at), 7.0, Stroke::new(2.0, accent));
    }
    let cursor = lining.cursor[1].map(|c| on_screen.to_ui(c)).filter(|_| lining.turn == Side::Drawing);
    if let Some(c) = cursor {
        cross(&painter, c, 12.0, SUSPECT_OVER_MAP);
    }
    if let Some(under) = pointer.or(cursor) {
        let place = loupe::place(canvas, under);
        let middle = pointer.map_or(under, |p| on_screen.to_ui(snapped(p).0));
        let inner = ui.painter_at(place);
        inner.rect_filled(place, 0.0, Palette::of(ui).raised);
        draw(ui, &inner, face, |p| place.center() + (on_screen.to_ui(p) - middle) * LOUPE_FACTOR);
        loupe::frame(&painter, place);
    }
    if lining.turn == Side::Drawing {
        painter.rect_stroke(canvas.shrink(1.0), 0.0, Stroke::new(2.0, accent), egui::StrokeKind::Inside);
    }
}

fn draw(ui: &Ui, painter: &Painter, face: &Face, to_ui: impl Fn([f64; 2]) -> Pos2) {
    let p = Palette::of(ui);
    let outline: Vec<Pos2> = face.outline.iter().map(|c| to_ui(*c)).collect();
    painter.add(Shape::closed_line(outline, Stroke::new(2.0, p.text)));
    for part in &face.parts {
        let corners: Vec<Pos2> = Footprint::from(part).corners_mm().iter().map(|c| to_ui([c.x, c.y])).collect();
        let extent = Rect::from_points(&corners);
        painter.add(Shape::convex_polygon(corners, p.raised, Stroke::new(1.0, p.weak)));
        if extent.width() > 30.0 && extent.height() > 14.0 {
            let place = egui::Align2::CENTER_CENTER;
            painter.text(extent.center(), place, &part.designator, crate::theme::small(), p.text);
        }
    }
}

fn marks(ui: &mut Ui, painter: &Painter, session: &Session, lining: &Lining, to_ui: impl Fn([f64; 2]) -> Pos2) {
    let accent = Palette::of(ui).accent;
    let pairs = session.document.take(&session.shown).map(|t| t.pairs.as_slice()).unwrap_or_default();
    for (i, pair) in pairs.iter().enumerate() {
        let at = to_ui([pair.x_mm, pair.y_mm]);
        cross(painter, at, 9.0, accent);
        overlay_text(painter, at + Vec2::new(8.0, -8.0), &(i + 1).to_string());
        let id = ui.scope_id().with(("pair on the drawing", i));
        let label = format!("Pair {} on the drawing", i + 1);
        ui.interact(Rect::from_center_size(at, Vec2::splat(14.0)), id, Sense::hover())
            .widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &label));
    }
    if let Some((Side::Drawing, at)) = lining.pending {
        cross(painter, to_ui(at), 9.0, accent);
        overlay_text(painter, to_ui(at) + Vec2::new(8.0, -8.0), "now in the picture");
    }
    if let Some((Side::Drawing, at)) = lining.predicted() {
        painter.circle_stroke(to_ui(at), 7.0, Stroke::new(1.5, accent));
    }
}
