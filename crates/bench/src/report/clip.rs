//! Shapes cut to a rectangle, so that a drawing's marks do not leave its picture.

use super::drawing::Shape;

/// A place.
type At = [f32; 2];

/// What is left of a shape within a rectangle (left, top, width, height). Words stay whole where their place is within,
/// and go where it is not.
pub fn shape(shape: Shape, rect: [f32; 4]) -> Vec<Shape> {
    match shape {
        Shape::Picture { .. } => vec![shape],
        Shape::Words { at, .. } => Vec::from_iter(holds(rect, at).then_some(shape)),
        Shape::Fill { rect: filled, ink, opacity } => {
            let rect = shared(filled, rect);
            Vec::from_iter(rect.map(|rect| Shape::Fill { rect, ink, opacity }))
        }
        Shape::Shade { rect: shaded, hole, ink, opacity } => {
            let left = shared(shaded, rect).map(|rect| (rect, ring(&hole, rect)));
            Vec::from_iter(left.map(|(rect, hole)| Shape::Shade { rect, hole, ink, opacity }))
        }
        Shape::Line { points, closed, width, ink, opacity, dash } => {
            if points.iter().all(|p| holds(rect, *p)) {
                return vec![Shape::Line { points, closed, width, ink, opacity, dash }];
            }
            let pieces = pieces(&points, closed, rect).into_iter();
            pieces.map(|points| Shape::Line { points, closed: false, width, ink, opacity, dash }).collect()
        }
    }
}

fn holds([left, top, width, height]: [f32; 4], [x, y]: At) -> bool {
    (left..=left + width).contains(&x) && (top..=top + height).contains(&y)
}

fn shared(a: [f32; 4], b: [f32; 4]) -> Option<[f32; 4]> {
    let (x0, y0) = (a[0].max(b[0]), a[1].max(b[1]));
    let (x1, y1) = ((a[0] + a[2]).min(b[0] + b[2]), (a[1] + a[3]).min(b[1] + b[3]));
    (x1 > x0 && y1 > y0).then_some([x0, y0, x1 - x0, y1 - y0])
}

/// The pieces of a line within; neighbours that meet stay one piece.
fn pieces(points: &[At], closed: bool, rect: [f32; 4]) -> Vec<Vec<At>> {
    let count = if closed { points.len() } else { points.len().saturating_sub(1) };
    let mut out: Vec<Vec<At>> = Vec::new();
    for i in 0..count {
        let Some([a, b]) = piece(points[i], points[(i + 1) % points.len()], rect) else { continue };
        match out.last_mut() {
            Some(before) if before.last() == Some(&a) => before.push(b),
            _ => out.push(vec![a, b]),
        }
    }
    out
}

/// The piece of a straight line within (Liang and Barsky, ACM Trans. Graph. 3 (1984) 1).
pub fn piece(a: At, b: At, [left, top, width, height]: [f32; 4]) -> Option<[At; 2]> {
    let (mut from, mut to) = (0.0_f32, 1.0_f32);
    for (axis, least, most) in [(0, left, left + width), (1, top, top + height)] {
        let along = b[axis] - a[axis];
        for (way, room) in [(-along, a[axis] - least), (along, most - a[axis])] {
            if way == 0.0 {
                if room < 0.0 {
                    return None;
                }
            } else if way < 0.0 {
                from = from.max(room / way);
            } else {
                to = to.min(room / way);
            }
        }
    }
    let at = |t: f32| match t {
        // The ends themselves, so that neighbours meet whatever the rounding.
        0.0 => a,
        1.0 => b,
        t => [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])],
    };
    (from < to).then(|| [at(from), at(to)])
}

/// What is left of a closed ring, side by side (Sutherland and Hodgman, Commun. ACM 17 (1974) 32).
fn ring(points: &[At], [left, top, width, height]: [f32; 4]) -> Vec<At> {
    let sides = [(0, 1.0, left), (0, -1.0, left + width), (1, 1.0, top), (1, -1.0, top + height)];
    sides.iter().fold(points.to_vec(), |points, &(axis, way, edge)| {
        let within = |p: At| way * (p[axis] - edge);
        let mut out = Vec::with_capacity(points.len() + 4);
        for (i, &a) in points.iter().enumerate() {
            let b = points[(i + 1) % points.len()];
            let (da, db) = (within(a), within(b));
            if da >= 0.0 {
                out.push(a);
            }
            if (da >= 0.0) != (db >= 0.0) {
                let t = da / (da - db);
                out.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
            }
        }
        out
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::drawing::{Anchor, BLACK};

    const SQUARE: [f32; 4] = [0.0, 0.0, 10.0, 10.0];

    fn line(points: &[At], closed: bool) -> Shape {
        Shape::Line { points: points.to_vec(), closed, width: 1.0, ink: BLACK, opacity: 1.0, dash: None }
    }

    #[test]
    fn lines_end_at_the_edge() {
        assert_eq!(piece([-5.0, 5.0], [15.0, 5.0], SQUARE), Some([[0.0, 5.0], [10.0, 5.0]]));
        assert_eq!(piece([2.0, 2.0], [4.0, 2.0], SQUARE), Some([[2.0, 2.0], [4.0, 2.0]]));
        assert_eq!(piece([-5.0, -1.0], [15.0, -1.0], SQUARE), None);
        assert_eq!(piece([-1.0, 2.0], [-1.0, 4.0], SQUARE), None);
        assert_eq!(piece([5.0, 5.0], [5.0, 20.0], [2.0, 3.0, 5.0, 5.0]), Some([[5.0, 5.0], [5.0, 8.0]]));
    }

    #[test]
    fn a_line_that_leaves_and_comes_back_is_two_and_one_that_stays_is_whole() {
        let leaves = shape(line(&[[1.0, 1.0], [9.0, 1.0], [20.0, 1.0], [20.0, 9.0], [9.0, 9.0]], false), SQUARE);
        let points: Vec<_> =
            leaves.iter().map(|s| if let Shape::Line { points, .. } = s { points.clone() } else { vec![] }).collect();
        assert_eq!(points, [vec![[1.0, 1.0], [9.0, 1.0], [10.0, 1.0]], vec![[10.0, 9.0], [9.0, 9.0]]]);
        let stays = line(&[[1.0, 1.0], [9.0, 1.0], [9.0, 9.0]], true);
        assert_eq!(shape(stays.clone(), SQUARE), [stays]);
    }

    #[test]
    fn the_hole_of_a_shade_is_cut_with_it() {
        let hole = vec![[5.0, 5.0], [15.0, 5.0], [15.0, 15.0], [5.0, 15.0]];
        let whole = Shape::Shade { rect: [-5.0, -5.0, 30.0, 30.0], hole, ink: BLACK, opacity: 0.5 };
        let left = shape(whole, SQUARE);
        let [Shape::Shade { rect, hole, .. }] = &left[..] else { panic!("{left:?}") };
        assert_eq!(*rect, SQUARE);
        // Shoelace formula: a quarter of the square stays open.
        let area: f32 = (0..hole.len())
            .map(|i| (hole[i], hole[(i + 1) % hole.len()]))
            .map(|(a, b)| (a[0] * b[1] - b[0] * a[1]) / 2.0)
            .sum();
        assert!((area.abs() - 25.0).abs() < 1e-3, "{hole:?}");
    }

    #[test]
    fn words_and_plates_go_where_their_place_is_out_of_sight() {
        let words = |x| Shape::Words {
            text: "here".into(),
            at: [x, 5.0],
            size: 2.0,
            bold: false,
            anchor: Anchor::Start,
            ink: BLACK,
        };
        assert_eq!((shape(words(5.0), SQUARE).len(), shape(words(11.0), SQUARE).len()), (1, 0));
        let fill = |x| Shape::Fill { rect: [x, 0.0, 4.0, 4.0], ink: BLACK, opacity: 1.0 };
        assert_eq!(shape(fill(8.0), SQUARE), [Shape::Fill { rect: [8.0, 0.0, 2.0, 4.0], ink: BLACK, opacity: 1.0 }]);
        assert!(shape(fill(12.0), SQUARE).is_empty());
    }
}
