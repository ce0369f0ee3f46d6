//! Shapes of a drawing on the screen. The same shapes are laid on paper and into pictures; here are only the brushes.

use egui::{Color32, FontId, Mesh, Painter, Pos2, Rect, Shape as Brush, Stroke, TextureHandle, pos2, vec2};

use crate::{
    report::{
        drawing::{Anchor, Ink, Shape},
        typeface::Fonts,
    },
    theme,
};

/// Everything of a picture lies between these corners of its texture.
const WHOLE: Rect = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));

/// Draws shapes, the first one below. `pictures` holds the textures of those that are pictures, in their order.
pub fn shapes(painter: &Painter, shapes: &[Shape], pictures: &[TextureHandle]) {
    let mut pictures = pictures.iter();
    for shape in shapes {
        match shape {
            Shape::Picture { rect, .. } => {
                if let Some(texture) = pictures.next() {
                    picture(painter, *rect, texture);
                }
            }
            Shape::Line { points, closed, width, ink, opacity, dash } => {
                line(painter, points, *closed, Stroke::new(*width, colour(*ink, *opacity)), *dash);
            }
            Shape::Fill { rect, ink, opacity } => {
                painter.rect_filled(to_rect(*rect), 0.0, colour(*ink, *opacity));
            }
            Shape::Shade { rect, hole, ink, opacity } => {
                let rect = to_rect(*rect);
                painter.with_clip_rect(rect.intersect(painter.clip_rect())).add(shade(
                    rect,
                    hole,
                    colour(*ink, *opacity),
                ));
            }
            Shape::Words { text, at, size, bold, anchor, ink } => {
                words(painter, text, *at, theme::report(*size, *bold), *anchor, colour(*ink, 1.0));
            }
        }
    }
}

/// Draws pixels: left, top, width, height.
pub fn picture(painter: &Painter, rect: [f32; 4], texture: &TextureHandle) {
    painter.image(texture.id(), to_rect(rect), WHOLE, Color32::WHITE);
}

/// About the room that a shape takes.
pub fn rough(shape: &Shape, fonts: &Fonts) -> Rect {
    match shape {
        Shape::Words { text, at, size, bold, anchor, .. } => {
            let wide = fonts.face(*bold).width(text, *size);
            let left = at[0] - share(*anchor) * wide;
            Rect::from_min_max(pos2(left, at[1] - size), pos2(left + wide, at[1] + 0.3 * size))
        }
        Shape::Line { points, width, .. } => points
            .iter()
            .fold(Rect::NOTHING, |all, &p| all.union(Rect::from_center_size(p.into(), vec2(*width, *width)))),
        Shape::Shade { hole, .. } => Rect::from_points(&hole.iter().map(|&p| p.into()).collect::<Vec<_>>()),
        Shape::Fill { rect, .. } | Shape::Picture { rect, .. } => to_rect(*rect),
    }
}

/// The smallest rectangle around shapes; of a shade, around its hole. `None` where there is nothing.
pub fn bounds(shapes: &[Shape], fonts: &Fonts) -> Option<Rect> {
    let all = shapes.iter().fold(Rect::NOTHING, |all, shape| all.union(rough(shape, fonts)));
    all.is_positive().then_some(all)
}

/// How far shapes are from a point, in points: from their lines, and from within their filled rectangles.
pub fn distance(shapes: &[Shape], at: Pos2) -> f32 {
    let mut nearest = f32::INFINITY;
    for shape in shapes {
        let found = match shape {
            Shape::Line { points, closed, width, .. } => from_line(points, *closed, at) - width / 2.0,
            Shape::Shade { hole, .. } => from_line(hole, true, at),
            Shape::Fill { rect, .. } | Shape::Picture { rect, .. } => to_rect(*rect).distance_to_pos(at),
            Shape::Words { .. } => continue,
        };
        nearest = nearest.min(found.max(0.0));
    }
    nearest
}

fn to_rect([x, y, w, h]: [f32; 4]) -> Rect {
    Rect::from_min_size(pos2(x, y), vec2(w, h))
}

fn colour([r, g, b]: Ink, opacity: f32) -> Color32 {
    Color32::from_rgba_unmultiplied(r, g, b, (255.0 * opacity.clamp(0.0, 1.0)).round() as u8)
}

fn share(anchor: Anchor) -> f32 {
    match anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => 0.5,
        Anchor::End => 1.0,
    }
}

fn line(painter: &Painter, points: &[[f32; 2]], closed: bool, stroke: Stroke, dash: Option<f32>) {
    let mut points: Vec<Pos2> = points.iter().map(|&p| p.into()).collect();
    match dash {
        Some(dash) if dash > 0.0 => {
            if closed {
                points.extend(points.first().copied());
            }
            painter.extend(Brush::dashed_line(&points, stroke, dash, dash));
        }
        _ if closed => {
            painter.add(Brush::closed_line(points, stroke));
        }
        _ => {
            painter.add(Brush::line(points, stroke));
        }
    }
}

/// `at` is where the baseline of the words has its anchor.
fn words(painter: &Painter, text: &str, at: [f32; 2], font: FontId, anchor: Anchor, ink: Color32) {
    let galley = painter.layout_no_wrap(text.to_owned(), font, ink);
    let baseline = galley.rows.first().and_then(|r| Some(r.pos.y + r.glyphs.first()?.pos.y)).unwrap_or_default();
    let corner = pos2(at[0] - share(anchor) * galley.size().x, at[1] - baseline);
    debug_assert_eq!(galley.rows.len().max(1), 1, "words are one line");
    painter.galley(corner, galley, ink);
}

/// A rectangle without a convex hole. The hole's edges that look up carry what lies above them, the others what lies below.
fn shade(rect: Rect, hole: &[[f32; 2]], colour: Color32) -> Mesh {
    let mut mesh = Mesh::default();
    let mut quad = |corners: [Pos2; 4]| {
        let first = mesh.vertices.len() as u32;
        corners.into_iter().for_each(|c| mesh.colored_vertex(c, colour));
        mesh.add_triangle(first, first + 1, first + 2);
        mesh.add_triangle(first, first + 2, first + 3);
    };
    let xs = hole.iter().map(|p| p[0]);
    let (left, right) = (xs.clone().fold(f32::INFINITY, f32::min), xs.fold(f32::NEG_INFINITY, f32::max));
    let area: f32 = edges(hole).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum();
    let wide = right > left;
    if !wide || area == 0.0 {
        quad([rect.left_top(), rect.right_top(), rect.right_bottom(), rect.left_bottom()]);
        return mesh;
    }
    let mut column = |from: f32, to: f32| {
        if to > from {
            quad([pos2(from, rect.top()), pos2(to, rect.top()), pos2(to, rect.bottom()), pos2(from, rect.bottom())]);
        }
    };
    column(rect.left(), left.min(rect.right()));
    column(right.max(rect.left()), rect.right());
    for (a, b) in edges(hole) {
        // With y down and the corners going round so that the area is positive, the upper edges run to the right.
        let above = (b[0] > a[0]) == (area > 0.0);
        let (a, b): (Pos2, Pos2) = (a.into(), b.into());
        // Beyond the rectangle there is nothing to shade.
        let (end, beyond) = if above {
            (rect.top(), a.y.max(b.y) <= rect.top())
        } else {
            (rect.bottom(), a.y.min(b.y) >= rect.bottom())
        };
        if !beyond {
            quad([a, b, pos2(b.x, end), pos2(a.x, end)]);
        }
    }
    mesh
}

fn edges(corners: &[[f32; 2]]) -> impl Iterator<Item = ([f32; 2], [f32; 2])> {
    corners.iter().copied().zip(corners.iter().copied().cycle().skip(1)).take(corners.len())
}

fn from_line(points: &[[f32; 2]], closed: bool, at: Pos2) -> f32 {
    let count = if closed { points.len() } else { points.len().saturating_sub(1) };
    let to_edge = |(a, b): ([f32; 2], [f32; 2])| {
        let (a, b): (Pos2, Pos2) = (a.into(), b.into());
        let along = b - a;
        let long = along.length_sq();
        let t = if long > 0.0 { ((at - a).dot(along) / long).clamp(0.0, 1.0) } else { 0.0 };
        at.distance(a + along * t)
    };
    edges(points).take(count).map(to_edge).fold(f32::INFINITY, f32::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(mesh: &Mesh, within: Rect) -> f64 {
        // Coverage by counting points of a fine grid that lie within a triangle; overlaps count twice.
        let side = |a: Pos2, b: Pos2, p: Pos2| (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
        let mut covered = 0;
        let steps = 200;
        for i in 0..steps {
            for j in 0..steps {
                // Off the diagonals, which belong to neither triangle.
                let share = |k: i32, off: f32| (k as f32 + off) / steps as f32;
                let p = within.min + vec2(share(i, 0.4831) * within.width(), share(j, 0.2713) * within.height());
                for t in mesh.indices.chunks(3) {
                    let [a, b, c] = [0, 1, 2].map(|k| mesh.vertices[t[k] as usize].pos);
                    let (x, y, z) = (side(a, b, p), side(b, c, p), side(c, a, p));
                    covered += i32::from((x > 0.0 && y > 0.0 && z > 0.0) || (x < 0.0 && y < 0.0 && z < 0.0));
                }
            }
        }
        f64::from(covered) / f64::from(steps * steps)
    }

    #[test]
    fn a_shade_covers_all_but_its_hole_once() {
        let rect = Rect::from_min_size(pos2(0.0, 0.0), vec2(100.0, 100.0));
        let ring = |cx: f32, cy: f32, a: f32, b: f32, way: f32| -> Vec<[f32; 2]> {
            let corner = |i: i32| (way * std::f32::consts::TAU * i as f32 / 48.0).sin_cos();
            (0..48).map(|i| [cx + a * corner(i).1, cy + b * corner(i).0]).collect()
        };
        // Area of an ellipse: pi a b. A 48-cornered one has 0.3 % less.
        for way in [1.0, -1.0] {
            let round = area(&shade(rect, &ring(50.0, 40.0, 30.0, 20.0, way), Color32::BLACK), rect);
            assert!((round - (1.0 - std::f64::consts::PI * 0.06)).abs() < 0.005, "{round}");
        }
        let thin = area(&shade(rect, &ring(50.0, 40.0, 40.0, 0.5, 1.0), Color32::BLACK), rect);
        assert!((thin - (1.0 - std::f64::consts::PI * 0.002)).abs() < 0.005, "{thin}");
        let outside = area(&shade(rect, &ring(300.0, 40.0, 30.0, 20.0, 1.0), Color32::BLACK), rect);
        assert!((outside - 1.0).abs() < 1e-9, "{outside}");
        let above = area(&shade(rect, &ring(50.0, -90.0, 30.0, 20.0, 1.0), Color32::BLACK), rect);
        assert!((above - 1.0).abs() < 1e-9, "{above}");
        let nothing = area(&shade(rect, &[[50.0, 50.0]; 3], Color32::BLACK), rect);
        assert!((nothing - 1.0).abs() < 1e-9, "{nothing}");
    }

    #[test]
    fn the_pointer_finds_lines_and_plates() {
        let line = |closed| Shape::Line {
            points: vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]],
            closed,
            width: 2.0,
            ink: [0; 3],
            opacity: 1.0,
            dash: None,
        };
        assert!((distance(&[line(false)], pos2(5.0, 4.0)) - 3.0).abs() < 1e-6);
        assert!(distance(&[line(true)], pos2(5.0, 5.0)) < 1e-6, "the closing edge counts");
        let plate = Shape::Fill { rect: [20.0, 20.0, 10.0, 5.0], ink: [0; 3], opacity: 1.0 };
        assert!(distance(&[line(false), plate], pos2(25.0, 22.0)) < 1e-6);
        assert_eq!(distance(&[], pos2(0.0, 0.0)), f32::INFINITY);
    }
}
