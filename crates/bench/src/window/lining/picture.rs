//! The left pane: the thermal picture with the drawing over it, pairs, and the uncertainty of the mapping.

use egui::{Color32, Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, pos2};
use nalgebra::{Matrix2, Point2, Vector2};

use super::{Lining, LiningCommand, Look, Side, loupe};
use crate::{
    theme::{HALO, OVER_MAP, Palette, SUSPECT_OVER_MAP},
    window::{
        command::Command,
        map::{
            overlay_text,
            texture::{MapTexture, Shown},
            view::{MapView, UiFromImage, zoom_asked},
        },
        screen::Screen,
        session::{Session, TakeView},
    },
};

/// 95 % of a two-dimensional normal distribution: sqrt(-2 ln 0.05) standard deviations.
const SIGMAS_95: f64 = 2.447_746_830_680_816;
/// The loupe shows a picture pixel this large, in points, at least.
const LOUPE_POINTS_PER_PX: f32 = 12.0;
/// Half a period of blinking.
const BLINK_S: f64 = 0.5;

#[expect(clippy::too_many_arguments, reason = "a view of the screen's whole state")]
pub(super) fn show(
    ui: &mut Ui,
    canvas: Rect,
    session: &Session,
    view: &TakeView,
    screen: &mut Screen,
    lining: &mut Lining,
    texture: &mut MapTexture,
    out: &mut Vec<Command>,
) {
    lining.canvas[0] = Some(canvas);
    screen.canvas = Some(canvas);
    let shape = view.take.stack.shape();
    let response = ui.interact(canvas, ui.scope_id().with("lining picture"), Sense::click_and_drag());
    let turn = if lining.turn == Side::Picture { "; its turn" } else { "" };
    let label = format!("Picture of take {} for lining up{turn}", view.take.name);
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, &label));
    let mut at = screen.map.unwrap_or_else(|| MapView::fit(shape, canvas.size()));
    if response.dragged() {
        at.pan(response.drag_delta(), shape);
        screen.map = Some(at);
    }
    let pointer = response.hover_pos();
    if let Some(pointer) = pointer {
        let factor = zoom_asked(ui);
        if (factor - 1.0).abs() > 1e-4 {
            at.zoom(factor, pointer, canvas, shape);
            screen.map = Some(at);
        }
    }
    let map = UiFromImage::new(&at, canvas);
    if response.clicked()
        && let Some(p) = response.interact_pointer_pos()
    {
        out.push(Command::Lining(LiningCommand::Point(Side::Picture, map.to_image(p))));
    }
    texture.update(ui.ctx(), view, Shown::of(screen, view));
    let painter = ui.painter_at(canvas);
    painter.rect_filled(canvas, 0.0, Palette::of(ui).canvas);
    let whole = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
    if let Some(handle) = texture.handle() {
        painter.image(handle.id(), map.picture(shape), whole, Color32::WHITE);
    }
    over(ui, canvas, lining, map);
    uncertainty(&painter, session, lining, map);
    marks(ui, &painter, session, lining, map);
    let cursor = lining.cursor[0].map(|c| map.to_ui(c)).filter(|_| lining.turn == Side::Picture);
    if let Some(c) = cursor {
        cross(&painter, c, 12.0, SUSPECT_OVER_MAP);
    }
    if let Some(under) = pointer.or(cursor)
        && let Some(handle) = texture.handle()
    {
        let place = loupe::place(canvas, under);
        let scale = (4.0 * at.points_per_px).max(LOUPE_POINTS_PER_PX);
        let here = map.to_image(under);
        let large = UiFromImage::new(&MapView { centre_px: here, points_per_px: scale }, place);
        let inner = ui.painter_at(place);
        inner.rect_filled(place, 0.0, Palette::of(ui).canvas);
        inner.image(handle.id(), large.picture(shape), whole, Color32::WHITE);
        loupe::frame(&painter, place);
    }
    if lining.turn == Side::Picture {
        let accent = Stroke::new(2.0, Palette::of(ui).accent);
        painter.rect_stroke(canvas.shrink(1.0), 0.0, accent, egui::StrokeKind::Inside);
    }
}

/// The drawing over the picture, in the way chosen for judging.
fn over(ui: &Ui, canvas: Rect, lining: &Lining, map: UiFromImage) {
    let Some(fit) = &lining.fit else { return };
    let clip = match lining.look {
        Look::Wipe => canvas.with_max_x(canvas.min.x + lining.wipe * canvas.width()),
        _ => canvas,
    };
    if lining.look == Look::Blink {
        ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(BLINK_S));
        if (ui.input(|i| i.time) / BLINK_S) as i64 % 2 == 1 {
            return;
        }
    }
    let painter = ui.painter_at(clip);
    let fill = match lining.look {
        Look::Opacity => SUSPECT_OVER_MAP.gamma_multiply(lining.opacity),
        Look::Wipe => SUSPECT_OVER_MAP.gamma_multiply(0.35),
        _ => Color32::TRANSPARENT,
    };
    let shape = |corners: &[[f64; 2]]| corners.iter().map(|c| map.to_ui(*c)).collect::<Vec<Pos2>>();
    for part in &fit.drawn.parts {
        let corners = shape(&part.corners_px);
        painter.add(Shape::convex_polygon(corners.clone(), fill, Stroke::NONE));
        line(&painter, corners, 1.0);
    }
    if fit.drawn.outline_px.len() > 2 {
        line(&painter, shape(&fit.drawn.outline_px), 1.5);
    }
    if lining.look == Look::Wipe {
        ui.painter_at(canvas).vline(clip.max.x, canvas.y_range(), Stroke::new(1.5, OVER_MAP));
    }
}

/// Where a point of the drawing may lie: 95 % ellipses over the board, to scale.
fn uncertainty(painter: &Painter, session: &Session, lining: &Lining, map: UiFromImage) {
    let (Some(alignment), Some(face)) = (lining.alignment(), session.face()) else { return };
    let Some([l, t, r, b]) = bounds(&face.outline) else { return };
    for i in 0..5 {
        for j in 0..4 {
            let at = Point2::new(l + (r - l) * f64::from(i) / 4.0, t + (b - t) * f64::from(j) / 3.0);
            let covariance = alignment.covariance_px2(at);
            let p = alignment.to_image(at);
            let points = ellipse(map, [p.x, p.y], &covariance);
            painter.add(Shape::closed_line(points.clone(), Stroke::new(2.5, HALO)));
            painter.add(Shape::closed_line(points, Stroke::new(1.0, SUSPECT_OVER_MAP)));
        }
    }
}

fn ellipse(map: UiFromImage, [x, y]: [f64; 2], covariance: &Matrix2<f64>) -> Vec<Pos2> {
    let eigen = covariance.symmetric_eigen();
    let axis = |k: usize| eigen.eigenvectors.column(k) * (eigen.eigenvalues[k].max(0.0).sqrt() * SIGMAS_95);
    let (a, b): (Vector2<f64>, Vector2<f64>) = (axis(0), axis(1));
    (0..24)
        .map(|i| {
            let (sin, cos) = (f64::from(i) * std::f64::consts::TAU / 24.0).sin_cos();
            map.to_ui([x + a.x * cos + b.x * sin, y + a.y * cos + b.y * sin])
        })
        .collect()
}

fn marks(ui: &mut Ui, painter: &Painter, session: &Session, lining: &Lining, map: UiFromImage) {
    let pairs = session.document.take(&session.shown).map(|t| t.pairs.as_slice()).unwrap_or_default();
    let worst = lining.alignment().and_then(|a| a.worst_pair()).map(|(i, _)| i);
    for (i, pair) in pairs.iter().enumerate() {
        let at = map.to_ui([pair.x_px, pair.y_px]);
        cross(painter, at, 9.0, OVER_MAP);
        let name = if worst == Some(i) && pairs.len() > 2 { format!("{} worst", i + 1) } else { (i + 1).to_string() };
        overlay_text(painter, at + Vec2::new(8.0, -8.0), &name);
        // The residual, ten times as long as it is.
        if let Some(alignment) = lining.alignment() {
            let p = alignment.to_image(Point2::new(pair.x_mm, pair.y_mm));
            let tip = at + (map.to_ui([p.x, p.y]) - at) * 10.0;
            painter.line_segment([at, tip], Stroke::new(3.0, HALO));
            painter.line_segment([at, tip], Stroke::new(1.5, SUSPECT_OVER_MAP));
        }
        let id = ui.scope_id().with(("pair in the picture", i));
        let label = format!("Pair {} in the picture", i + 1);
        ui.interact(Rect::from_center_size(at, Vec2::splat(14.0)), id, Sense::hover())
            .widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &label));
    }
    if let Some((Side::Picture, at)) = lining.pending {
        cross(painter, map.to_ui(at), 9.0, SUSPECT_OVER_MAP);
        overlay_text(painter, map.to_ui(at) + Vec2::new(8.0, -8.0), "now on the drawing");
    }
    if let Some((Side::Picture, at)) = lining.predicted() {
        painter.circle_stroke(map.to_ui(at), 7.0, Stroke::new(1.5, SUSPECT_OVER_MAP));
    }
}

fn line(painter: &Painter, points: Vec<Pos2>, width: f32) {
    painter.add(Shape::closed_line(points.clone(), Stroke::new(width + 2.0, HALO)));
    painter.add(Shape::closed_line(points, Stroke::new(width, OVER_MAP)));
}

/// A cross whose middle stays free.
pub(super) fn cross(painter: &Painter, at: Pos2, size: f32, colour: Color32) {
    for (width, colour) in [(3.5, HALO), (1.5, colour)] {
        for d in [Vec2::new(1.0, 0.0), Vec2::new(-1.0, 0.0), Vec2::new(0.0, 1.0), Vec2::new(0.0, -1.0)] {
            painter.line_segment([at + d * 2.5, at + d * size], Stroke::new(width, colour));
        }
    }
}

fn bounds(points: &[[f64; 2]]) -> Option<[f64; 4]> {
    points.iter().fold(None, |b: Option<[f64; 4]>, [x, y]| {
        let [l, t, r, d] = b.unwrap_or([*x, *y, *x, *y]);
        Some([l.min(*x), t.min(*y), r.max(*x), d.max(*y)])
    })
}
