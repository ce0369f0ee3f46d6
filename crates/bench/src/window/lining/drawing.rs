//! The right pane: the drawing of the face in millimetres; points snap to its corners.

use egui::{Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, vec2};
use joulemark_locate::board::{Face, Footprint};

use super::{
    Lining, LiningCommand, Side, corners, loupe,
    picture::{bounds, cross},
};
use crate::{
    theme::{Palette, SUSPECT_OVER_MAP},
    window::{command::Command, map::overlay_text, session::Session},
};

/// A click this near a corner means the corner, in points.
const SNAP_POINTS: f32 = 10.0;
/// Scroll distance, in points, that zooms by a factor of e.
const SCROLL_POINTS_PER_E: f32 = 240.0;
/// How much larger the loupe shows things.
const LOUPE_FACTOR: f32 = 4.0;

/// What part of the drawing is on screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct DrawingView {
    centre_mm: [f64; 2],
    points_per_mm: f32,
}

impl DrawingView {
    /// The whole face.
    pub(super) fn fit(face: Option<&Face>, canvas: Rect) -> Self {
        let [l, t, r, b] = face.and_then(|f| bounds(&f.outline)).unwrap_or([0.0, 0.0, 1.0, 1.0]);
        let scale = (canvas.width() / (r - l).max(1e-3) as f32).min(canvas.height() / (b - t).max(1e-3) as f32);
        Self { centre_mm: [0.5 * (l + r), 0.5 * (t + b)], points_per_mm: 0.9 * scale }
    }

    pub(super) fn to_ui(self, [x, y]: [f64; 2], canvas: Rect) -> Pos2 {
        canvas.center() + vec2((x - self.centre_mm[0]) as f32, (y - self.centre_mm[1]) as f32) * self.points_per_mm
    }

    fn to_mm(self, at: Pos2, canvas: Rect) -> [f64; 2] {
        let d = (at - canvas.center()) / self.points_per_mm;
        [self.centre_mm[0] + f64::from(d.x), self.centre_mm[1] + f64::from(d.y)]
    }
}

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
    let mut view = lining.view.unwrap_or_else(|| DrawingView::fit(Some(face), canvas));
    if response.dragged() {
        let d = response.drag_delta() / view.points_per_mm;
        view.centre_mm = [view.centre_mm[0] - f64::from(d.x), view.centre_mm[1] - f64::from(d.y)];
        lining.view = Some(view);
    }
    let pointer = response.hover_pos();
    if let Some(pointer) = pointer {
        let (scroll, pinch) = ui.input(|i| (i.smooth_scroll_delta().y, i.zoom_delta()));
        let factor = (scroll / SCROLL_POINTS_PER_E).exp() * pinch;
        if (factor - 1.0).abs() > 1e-4 {
            let before = view.to_mm(pointer, canvas);
            view.points_per_mm = (view.points_per_mm * factor).clamp(0.05, 2000.0);
            let after = view.to_mm(pointer, canvas);
            view.centre_mm = [0, 1].map(|k| view.centre_mm[k] + before[k] - after[k]);
            lining.view = Some(view);
        }
    }
    let points = corners(face);
    let snapped = |at: Pos2| {
        let near = points
            .iter()
            .map(|p| (view.to_ui(*p, canvas).distance(at), *p))
            .filter(|(d, _)| *d <= SNAP_POINTS)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        near.map_or_else(|| (view.to_mm(at, canvas), false), |(_, p)| (p, true))
    };
    if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        out.push(Command::Lining(LiningCommand::Point(Side::Drawing, snapped(at).0)));
    }
    let painter = ui.painter_at(canvas);
    painter.rect_filled(canvas, 0.0, Palette::of(ui).panel);
    draw(ui, &painter, face, |p| view.to_ui(p, canvas));
    marks(ui, &painter, session, lining, |p| view.to_ui(p, canvas));
    let accent = Palette::of(ui).accent;
    if let Some((at, true)) = pointer.map(snapped) {
        painter.circle_stroke(view.to_ui(at, canvas), 7.0, Stroke::new(2.0, accent));
    }
    let cursor = lining.cursor[1].map(|c| view.to_ui(c, canvas)).filter(|_| lining.turn == Side::Drawing);
    if let Some(c) = cursor {
        cross(&painter, c, 12.0, SUSPECT_OVER_MAP);
    }
    if let Some(under) = pointer.or(cursor) {
        let place = loupe::place(canvas, under);
        let middle = pointer.map_or(under, |p| view.to_ui(snapped(p).0, canvas));
        let inner = ui.painter_at(place);
        inner.rect_filled(place, 0.0, Palette::of(ui).raised);
        draw(ui, &inner, face, |p| place.center() + (view.to_ui(p, canvas) - middle) * LOUPE_FACTOR);
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
