//! What is drawn on the canvas, from the photo's marks to the rubber band.

use egui::{Align2, Color32, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};
use joulemark_locate::board::{Board, Face, Footprint, Part};

use super::{Drawing, Tool, gesture::Gesture, parts, photo, view::UiFromBoard};
use crate::theme::{self, HALO, OVER_MAP, SUSPECT_OVER_MAP};

/// A part is named once it is this wide on screen, in points.
const NAMED_FROM: f32 = 16.0;

fn ring(painter: &Painter, points: Vec<Pos2>, width: f32, colour: Color32) {
    painter.add(Shape::closed_line(points.clone(), Stroke::new(width + 2.0, HALO)));
    painter.add(Shape::closed_line(points, Stroke::new(width, colour)));
}

/// Corners of a part on screen.
pub fn corners(part: &Part, map: UiFromBoard) -> Vec<Pos2> {
    Footprint::from(part).corners_mm().iter().map(|c| map.to_ui([c.x, c.y])).collect()
}

/// Names a part that is large enough for it, or that is `lit`.
fn named(painter: &Painter, part: &Part, points: &[Pos2], mark: &str, lit: bool) {
    let rect = Rect::from_points(points);
    if !lit && rect.width().max(rect.height()) < NAMED_FROM {
        return;
    }
    let words = format!("{}{mark}", part.designator);
    let galley = painter.layout_no_wrap(words, theme::small(), OVER_MAP);
    // Beside the part where it would be covered.
    let align = if galley.size().x + 2.0 < rect.width() && galley.size().y < rect.height() {
        Align2::CENTER_CENTER
    } else {
        Align2::CENTER_BOTTOM
    };
    let anchor = if align == Align2::CENTER_CENTER { rect.center() } else { rect.center_top() - vec2(0.0, 2.0) };
    let place = align.anchor_size(anchor, galley.size());
    painter.rect_filled(place.expand2(vec2(2.0, 0.0)), 2.0, HALO);
    painter.galley(place.min, galley, OVER_MAP);
}

/// Outline, holes, what lies behind, and parts; `under` is the one under the pointer.
pub fn face(
    painter: &Painter,
    board: &Board,
    face: &Face,
    drawing: &Drawing,
    map: UiFromBoard,
    lit_rail: Option<&str>,
    under: Option<&str>,
) {
    if face.outline.len() >= 3 {
        ring(painter, face.outline.iter().map(|c| map.to_ui(*c)).collect(), 1.5, OVER_MAP);
    }
    for hole in &face.holes {
        let (at, radius) = (map.to_ui([hole.x_mm, hole.y_mm]), hole.diameter_mm as f32 / 2.0 * map.points_per_mm);
        painter.circle_stroke(at, radius, Stroke::new(3.0, HALO));
        painter.circle_stroke(at, radius, Stroke::new(1.2, OVER_MAP));
        let arm = radius.min(5.0);
        for d in [vec2(arm, 0.0), vec2(0.0, arm)] {
            painter.line_segment([at - d, at + d], Stroke::new(1.0, OVER_MAP));
        }
    }
    if drawing.ghost {
        ghost(painter, board, face, map);
    }
    let by = match drawing.gesture {
        Some(Gesture::Move { by, .. }) => by,
        _ => [0.0, 0.0],
    };
    for part in &face.parts {
        let chosen = drawing.selected.contains(&part.designator);
        let shown = if chosen { parts::shifted(part, by[0], by[1]) } else { part.clone() };
        let points = corners(&shown, map);
        let on_rail = lit_rail.is_some_and(|r| part.rails.iter().any(|x| x == r));
        if chosen {
            painter.add(Shape::convex_polygon(points.clone(), Color32::from_black_alpha(90), Stroke::NONE));
        }
        let (width, colour) = if chosen { (2.5, SUSPECT_OVER_MAP) } else { (1.2, OVER_MAP) };
        ring(painter, points.clone(), width, colour);
        if chosen {
            for p in &points {
                painter.rect_filled(Rect::from_center_size(*p, vec2(5.0, 5.0)), 0.0, colour);
            }
        }
        // A part on the rail in hand carries a cross, so that it is told by shape as well.
        if on_rail {
            for (a, b) in [(0, 2), (1, 3)] {
                painter.line_segment([points[a], points[b]], Stroke::new(1.0, colour));
            }
        }
        let lit = chosen || under == Some(part.designator.as_str());
        named(painter, part, &points, if part.series { " \u{2014}" } else { "" }, lit);
    }
}

fn ghost(painter: &Painter, board: &Board, face: &Face, map: UiFromBoard) {
    let behind = face.through.iter().filter_map(|t| Some((t, board.face(&t.face)?)));
    for part in behind.flat_map(|(through, other)| other.parts.iter().map(|p| through.seen(p))) {
        let mut points = corners(&part, map);
        points.extend(points.first().copied());
        painter.extend(Shape::dashed_line(&points, Stroke::new(3.0, HALO), 5.0, 4.0));
        painter.extend(Shape::dashed_line(&points, Stroke::new(1.2, OVER_MAP), 5.0, 4.0));
        named(painter, &part, &points, " behind", false);
    }
}

/// Corners clicked so far, the rubber band, and where the next point lands.
pub fn doing(painter: &Painter, face: &Face, drawing: &Drawing, map: UiFromBoard, next: Option<[f64; 2]>) {
    let squaring = (drawing.tool == Tool::Square).then(|| face.photo.as_ref().and_then(|p| photo::squaring(p).ok()));
    let place = |c: &[f64; 2]| match &squaring {
        Some(Some(squaring)) => {
            let mm = squaring.to_board(nalgebra::Point2::new(c[0], c[1]));
            map.to_ui([mm.x, mm.y])
        }
        _ => map.to_ui(*c),
    };
    let mut points: Vec<Pos2> = drawing.points.iter().map(place).collect();
    for (i, p) in points.iter().enumerate() {
        painter.circle_filled(*p, 5.0, HALO);
        painter.circle_filled(*p, 3.0, SUSPECT_OVER_MAP);
        painter.text(*p + vec2(7.0, -7.0), Align2::LEFT_BOTTOM, i + 1, theme::small(), SUSPECT_OVER_MAP);
    }
    if let Some(next) = next {
        let at = map.to_ui(next);
        points.push(at);
        painter.circle_stroke(at, 4.0, Stroke::new(3.0, HALO));
        painter.circle_stroke(at, 4.0, Stroke::new(1.5, SUSPECT_OVER_MAP));
    }
    if drawing.tool != Tool::Hole && points.len() > 1 {
        painter.add(Shape::line(points.clone(), Stroke::new(3.0, HALO)));
        painter.add(Shape::line(points, Stroke::new(1.5, SUSPECT_OVER_MAP)));
    }
    if let Some(Gesture::Part { from, to } | Gesture::Box { from, to, .. }) = drawing.gesture {
        let rect = Rect::from_two_pos(map.to_ui(from), map.to_ui(to));
        let ends = [rect.left_top(), rect.right_top(), rect.right_bottom(), rect.left_bottom()];
        ring(painter, ends.to_vec(), 1.5, SUSPECT_OVER_MAP);
        if matches!(drawing.gesture, Some(Gesture::Part { .. })) {
            let size = format!("{:.1} \u{d7} {:.1} mm", (to[0] - from[0]).abs(), (to[1] - from[1]).abs());
            let galley = painter.layout_no_wrap(size, theme::small(), OVER_MAP);
            let at = pos2(rect.left(), rect.bottom() + 4.0);
            painter.rect_filled(Rect::from_min_size(at, galley.size()).expand(2.0), 2.0, HALO);
            painter.galley(at, galley, OVER_MAP);
        }
    }
}
