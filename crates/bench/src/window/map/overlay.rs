//! Board, suspects and hot spots over the map. Lines carry a dark halo, since no colour is safe on every map.

use egui::{Align2, Color32, Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, vec2};
use nalgebra::Matrix2;

use super::{
    super::{
        command::Command,
        screen::Screen,
        session::{Session, TakeView},
        words,
    },
    outline::DrawnPart,
    spot_label,
    view::{UiFromImage, around},
};
use crate::theme::{self, HALO, OVER_MAP, SUSPECT_OVER_MAP};

/// 95 % of a two-dimensional normal distribution lie within this many standard deviations: sqrt(-2 ln 0.05).
const SIGMAS_95: f64 = 2.447_746_830_680_816;
/// Rings and touch targets are never smaller than this radius, in points.
const LEAST_RADIUS: f32 = 9.0;
/// A part is named in the picture once it is this wide on screen, in points.
const NAMED_FROM: f32 = 30.0;
/// Suspects below this probability are not drawn.
const DRAWN_FROM: f64 = 0.02;

fn line(painter: &Painter, points: Vec<Pos2>, width: f32, colour: Color32) {
    painter.add(Shape::closed_line(points.clone(), Stroke::new(width + 2.0, HALO)));
    painter.add(Shape::closed_line(points, Stroke::new(width, colour)));
}

/// A footprint on the face behind: the same outline, broken.
fn broken(painter: &Painter, mut points: Vec<Pos2>, width: f32, colour: Color32) {
    points.extend(points.first().copied());
    painter.extend(Shape::dashed_line(&points, Stroke::new(width + 2.0, HALO), 5.0, 4.0));
    painter.extend(Shape::dashed_line(&points, Stroke::new(width, colour), 5.0, 4.0));
}

fn footprint(painter: &Painter, part: &DrawnPart, map: UiFromImage, width: f32, colour: Color32) {
    let points = corners(part, map);
    // A heavy line around a part of a few points would hide the very heat that it points at.
    let least = Rect::from_points(&points).size().min_elem();
    let width = width.min((least / 6.0).max(1.0));
    if part.behind { broken(painter, points, width, colour) } else { line(painter, points, width, colour) }
}

/// Text on its own dark ground.
pub fn text(painter: &Painter, at: Pos2, align: Align2, words: &str, colour: Color32) -> Rect {
    let galley = painter.layout_no_wrap(words.to_owned(), theme::small(), colour);
    let rect = align.anchor_size(at, galley.size());
    painter.rect_filled(rect.expand2(vec2(4.0, 1.0)), 2.0, HALO);
    painter.galley(rect.min, galley, colour);
    rect
}

/// Where the marks of hot spots are, so that no name is put under them.
fn ring_zones(view: &TakeView, map: UiFromImage) -> Vec<Rect> {
    let spots = view.located.iter().flat_map(|l| &l.hot_spots);
    let zone = |s: &joulemark_locate::HotSpot| {
        let ring = ellipse(map.to_ui([s.centre_px.x, s.centre_px.y]), &s.covariance_px2, map.points_per_px);
        let extent = around(&ring, 2.0 * LEAST_RADIUS);
        // The number stands at the upper left.
        extent.expand(4.0).union(Rect::from_min_size(extent.left_top() - vec2(18.0, 20.0), vec2(18.0, 20.0)))
    };
    spots.map(zone).collect()
}

/// A part's name within its footprint, in the middle or else where no hot spot is marked.
fn name_within(painter: &Painter, part: &DrawnPart, extent: Rect, rings: &[Rect]) {
    let inner = extent.shrink(3.0);
    let places = [
        (extent.center(), Align2::CENTER_CENTER),
        (inner.left_top(), Align2::LEFT_TOP),
        (inner.right_bottom(), Align2::RIGHT_BOTTOM),
        (inner.right_top(), Align2::RIGHT_TOP),
        (inner.left_bottom(), Align2::LEFT_BOTTOM),
    ];
    let size = painter.layout_no_wrap(part.designator.clone(), theme::small(), OVER_MAP).size();
    let free = |(at, align): &(Pos2, Align2)| !rings.iter().any(|r| r.intersects(align.anchor_size(*at, size)));
    let (at, align) = places.into_iter().find(free).unwrap_or(places[0]);
    text(painter, at, align, &part.designator, OVER_MAP);
}

fn corners(part: &DrawnPart, map: UiFromImage) -> Vec<Pos2> {
    part.corners_px.iter().map(|&c| map.to_ui(c)).collect()
}

/// Outline and parts, thin; parts of the lit rail heavier.
pub fn board(painter: &Painter, session: &Session, view: &TakeView, screen: &Screen, map: UiFromImage) {
    let clip = painter.clip_rect();
    if view.drawn.outline_px.len() > 2 {
        line(painter, view.drawn.outline_px.iter().map(|&c| map.to_ui(c)).collect(), 1.5, OVER_MAP);
    }
    let rail = screen.hover.rail.as_deref().or(screen.selection.rail.as_deref());
    let joined = rail.map(|r| session.board.joined_rails(r)).unwrap_or_default();
    let thin = OVER_MAP.gamma_multiply(0.75);
    let suspected = view.answer(screen.lit_spot().unwrap_or(0));
    let rings = ring_zones(view, map);
    for part in view.drawn.parts.iter().chain(&view.drawn.behind) {
        let extent = Rect::from_points(&corners(part, map));
        if !extent.intersects(clip) {
            continue;
        }
        let on_rail = joined.iter().any(|j| part.rails.contains(&j.rail));
        let direct = rail.is_some_and(|r| part.rails.iter().any(|p| p == r));
        let lit = screen.part_selected(&part.designator) || screen.part_hovered(&part.designator);
        let (width, colour) = match () {
            () if lit => (2.5, SUSPECT_OVER_MAP),
            () if direct => (2.0, SUSPECT_OVER_MAP),
            () if on_rail => (1.5, SUSPECT_OVER_MAP),
            () if part.behind => continue,
            () => (0.75, thin),
        };
        footprint(painter, part, map, width, colour);
        // Suspects are named beside their footprint, where no ring hides the name.
        let beside = suspected.is_some_and(|a| a.suspects.iter().any(|s| s.part == part.designator));
        if !beside && (extent.width() >= NAMED_FROM && extent.height() >= 14.0 || lit || direct) {
            name_within(painter, part, extent, &rings);
        }
    }
}

/// Footprints of the suspects of the lit hot spot, heavy for the leading ones, each a canvas item of its own.
pub fn suspects(
    ui: &Ui,
    painter: &Painter,
    view: &TakeView,
    screen: &mut Screen,
    map: UiFromImage,
    out: &mut Vec<Command>,
) {
    let spot = screen.lit_spot().unwrap_or(0);
    let Some(answer) = view.answer(spot) else {
        return;
    };
    let leading = answer.suspects.first();
    let mut taken: Vec<Rect> = Vec::new();
    for suspect in answer.suspects.iter().filter(|s| s.probability >= DRAWN_FROM) {
        let Some(part) = view.drawn.part(&suspect.part) else {
            continue;
        };
        let leads = leading.is_some_and(|l| l.part == suspect.part || l.group.contains(&suspect.part));
        let (selected, hovered) = (screen.part_selected(&suspect.part), screen.part_hovered(&suspect.part));
        let extent = around(&corners(part, map), 2.0 * LEAST_RADIUS);
        let width = match (selected || hovered, leads) {
            (true, _) => 4.0,
            (false, true) => 3.0,
            (false, false) => 1.5,
        };
        footprint(painter, part, map, width, SUSPECT_OVER_MAP);
        let roomy = extent.width() >= NAMED_FROM;
        if leads || selected || hovered || roomy {
            let place = if part.behind { "  behind" } else { "" };
            let words = format!("{}  {}{place}", suspect.part, words::percent(suspect.probability));
            let (at, align) = beside(painter, view, map, extent, &words, &taken);
            taken.push(text(painter, at, align, &words, SUSPECT_OVER_MAP));
        }
        let target = extent.intersect(painter.clip_rect());
        if !target.is_positive() {
            continue;
        }
        let response = ui.interact(target, ui.scope_id().with(("suspect on the map", &suspect.part)), Sense::click());
        response.widget_info(|| {
            let label =
                format!("Part {} on the map, suspect, {}", suspect.part, words::percent_aloud(suspect.probability));
            WidgetInfo::selected(egui::Role::Button, true, selected, label)
        });
        focus_ring(painter, &response, extent);
        if response.hovered() || response.has_focus() {
            screen.hover_next.part = Some(suspect.part.clone());
        }
        if response.clicked() {
            out.push(Command::SelectSuspect { spot, part: suspect.part.clone() });
        }
    }
}

/// Where a name fits beside a footprint: the first side where it stays on the canvas and hides no other part and no
/// other name; otherwise the right.
fn beside(
    painter: &Painter,
    view: &TakeView,
    map: UiFromImage,
    extent: Rect,
    words: &str,
    taken: &[Rect],
) -> (Pos2, Align2) {
    const GAP: f32 = 12.0;
    let size = painter.layout_no_wrap(words.to_owned(), theme::small(), OVER_MAP).size() + vec2(8.0, 2.0);
    let parts = || view.drawn.parts.iter().map(|p| Rect::from_points(&corners(p, map)));
    let sides = [
        (extent.right_center() + vec2(GAP, 0.0), Align2::LEFT_CENTER),
        (extent.left_center() - vec2(GAP, 0.0), Align2::RIGHT_CENTER),
        (extent.center_bottom() + vec2(0.0, GAP), Align2::CENTER_TOP),
        (extent.center_top() - vec2(0.0, GAP + 16.0), Align2::CENTER_BOTTOM),
    ];
    let free = |(at, align): &(Pos2, Align2)| {
        let place = align.anchor_size(*at, size);
        // A part that holds both the footprint and the name, a shield say, is not hidden by it.
        painter.clip_rect().contains_rect(place)
            && !taken.iter().any(|t| t.intersects(place))
            && !parts().any(|p| p.intersects(place) && !p.contains_rect(place.union(extent)))
    };
    sides.iter().copied().find(free).unwrap_or(sides[0])
}

/// Rings around the hot spots, sized by their uncertainty (95 %), each a canvas item of its own.
pub fn spots(
    ui: &Ui,
    painter: &Painter,
    view: &TakeView,
    screen: &mut Screen,
    map: UiFromImage,
    out: &mut Vec<Command>,
) {
    let Some(located) = &view.located else {
        return;
    };
    for (index, spot) in located.hot_spots.iter().enumerate() {
        let centre = map.to_ui([spot.centre_px.x, spot.centre_px.y]);
        let ring = ellipse(centre, &spot.covariance_px2, map.points_per_px);
        let extent = around(&ring, 2.0 * LEAST_RADIUS);
        let selected = screen.selection.spot == Some(index);
        let lit = selected || screen.hover.spot == Some(index);
        let width = if lit { 2.5 } else { 1.25 };
        let tiny = Rect::from_points(&ring).size().max_elem() < 2.0 * LEAST_RADIUS;
        if tiny {
            // The true ring would not be seen: a cross marks the place, a thin circle helps to find it.
            let arm = LEAST_RADIUS + 4.0;
            for (from, to) in [(vec2(-arm, 0.0), vec2(-4.0, 0.0)), (vec2(4.0, 0.0), vec2(arm, 0.0))] {
                for turn in [|v: Vec2| v, |v: Vec2| vec2(v.y, v.x)] {
                    let ends = [centre + turn(from), centre + turn(to)];
                    painter.line_segment(ends, Stroke::new(width + 2.0, HALO));
                    painter.line_segment(ends, Stroke::new(width, OVER_MAP));
                }
            }
            painter.circle_stroke(centre, LEAST_RADIUS, Stroke::new(1.0, OVER_MAP.gamma_multiply(0.6)));
        }
        line(painter, ring, width, OVER_MAP);
        let number = (index + 1).to_string();
        text(painter, extent.left_top() - vec2(4.0, 2.0), Align2::RIGHT_BOTTOM, &number, OVER_MAP);

        let target = extent.intersect(painter.clip_rect());
        if !target.is_positive() {
            continue;
        }
        let response = ui.interact(target, ui.scope_id().with(("hot spot on the map", index)), Sense::click());
        response.widget_info(|| WidgetInfo::selected(egui::Role::Button, true, selected, spot_label(view, index)));
        focus_ring(painter, &response, extent.expand(4.0));
        if response.hovered() || response.has_focus() {
            screen.hover_next.spot = Some(index);
            if response.hovered() {
                screen.pointer_px = Some([spot.centre_px.x, spot.centre_px.y]);
            }
        }
        if response.clicked() {
            out.push(Command::SelectSpot(index));
        }
    }
}

fn focus_ring(painter: &Painter, response: &egui::Response, extent: Rect) {
    if response.has_focus() {
        painter.rect_stroke(extent.expand(3.0), 2.0, Stroke::new(4.0, HALO), egui::StrokeKind::Outside);
        painter.rect_stroke(extent.expand(3.0), 2.0, Stroke::new(2.0, SUSPECT_OVER_MAP), egui::StrokeKind::Outside);
    }
}

/// The 95 % ellipse of a covariance in pixels squared, on screen.
fn ellipse(centre: Pos2, covariance_px2: &Matrix2<f64>, points_per_px: f32) -> Vec<Pos2> {
    let axes = covariance_px2.symmetric_eigen();
    (0..48)
        .map(|i| {
            let angle = f64::from(i) / 48.0 * std::f64::consts::TAU;
            let along = [angle.cos(), angle.sin()].map(|c| c * SIGMAS_95);
            let at = axes.eigenvectors.column(0) * (along[0] * axes.eigenvalues[0].max(0.0).sqrt())
                + axes.eigenvectors.column(1) * (along[1] * axes.eigenvalues[1].max(0.0).sqrt());
            centre + vec2(at.x as f32, at.y as f32) * points_per_px
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ring_holds_95_percent() {
        // Closed form: the squared Mahalanobis radius r² of two dimensions holds 1 - exp(-r²/2).
        assert!((1.0 - (-SIGMAS_95 * SIGMAS_95 / 2.0).exp() - 0.95).abs() < 1e-12);
        let ring = ellipse(Pos2::ZERO, &Matrix2::new(4.0, 0.0, 0.0, 1.0), 10.0);
        let extent = Rect::from_points(&ring);
        // 48 points on the ring: the extremes are met exactly at the axes, up to f32.
        assert!((extent.width() - 20.0 * 2.0 * SIGMAS_95 as f32).abs() < 1e-2);
        assert!((extent.height() - 20.0 * SIGMAS_95 as f32).abs() < 1e-2);
    }
}
