//! Where a source lies, and its mirror images in the board's edges, through which no heat goes.

use nalgebra::Point2;

use crate::board::{Face, Footprint};

/// An outline whose area is this share of its bounding box counts as a rectangle.
const RECTANGLE_SHARE: f64 = 0.97;
/// Most points per side of a footprint.
const MOST_POINTS: usize = 6;

/// Points that stand for a source, with shares that sum to 1.
#[derive(Clone, Debug)]
pub(super) struct Spread {
    pub(super) centre_mm: Point2<f64>,
    pub(super) points: Vec<Point2<f64>>,
    /// Half of the source's diagonal.
    pub(super) radius_mm: f64,
}

impl Spread {
    pub(super) fn of_footprint(footprint: &Footprint, pitch_mm: f64) -> Self {
        let count = |half: f64| ((2.0 * half / pitch_mm).round() as usize).clamp(1, MOST_POINTS);
        let (nx, ny) = (count(footprint.half_mm.x), count(footprint.half_mm.y));
        let place = |i: usize, n: usize, half: f64| half * ((2 * i + 1) as f64 / n as f64 - 1.0);
        let points = (0..nx)
            .flat_map(|i| (0..ny).map(move |j| (i, j)))
            .map(|(i, j)| {
                footprint.board_from_own(nalgebra::Vector2::new(
                    place(i, nx, footprint.half_mm.x),
                    place(j, ny, footprint.half_mm.y),
                ))
            })
            .collect();
        Self { centre_mm: footprint.centre_mm, points, radius_mm: footprint.half_mm.norm() }
    }

    pub(super) fn point(at_mm: Point2<f64>) -> Self {
        Self { centre_mm: at_mm, points: vec![at_mm], radius_mm: 0.0 }
    }

    /// From a place to the nearest of the points.
    pub(super) fn distance_mm(&self, at_mm: Point2<f64>) -> f64 {
        self.points.iter().map(|p| (p - at_mm).norm()).fold(f64::INFINITY, f64::min)
    }
}

/// Mirrors of a board.
#[derive(Clone, Debug)]
pub(super) enum Mirrors {
    /// An upright rectangle: images on a lattice, exact.
    Rectangle {
        /// Smallest x and y.
        low: Point2<f64>,
        /// Largest x and y.
        high: Point2<f64>,
    },
    /// Any other outline: one image per edge that faces the source.
    Edges(Vec<[f64; 2]>),
}

impl Mirrors {
    pub(super) fn of(face: &Face) -> Self {
        let fold =
            |axis: usize, f: fn(f64, f64) -> f64, start: f64| face.outline.iter().map(|p| p[axis]).fold(start, f);
        let low = Point2::new(fold(0, f64::min, f64::INFINITY), fold(1, f64::min, f64::INFINITY));
        let high = Point2::new(fold(0, f64::max, f64::NEG_INFINITY), fold(1, f64::max, f64::NEG_INFINITY));
        let size = high - low;
        if face.outline.len() >= 3 && face.outline_area_mm2() >= RECTANGLE_SHARE * size.x * size.y {
            Self::Rectangle { low, high }
        } else {
            Self::Edges(face.outline.clone())
        }
    }

    /// Images of a point, itself left out, as far as `reach_mm` from the board.
    pub(super) fn images(&self, point: Point2<f64>, reach_mm: f64) -> Vec<Point2<f64>> {
        match self {
            Self::Rectangle { low, high } => {
                let along = |x: f64, low: f64, high: f64| -> Vec<f64> {
                    let size = high - low;
                    let orders = (reach_mm / (2.0 * size)).ceil().min(6.0) as i32;
                    (-orders..=orders)
                        .flat_map(|n| {
                            let shift = 2.0 * f64::from(n) * size;
                            [x + shift, 2.0 * low - x + shift]
                        })
                        .filter(|v| *v > low - reach_mm && *v < high + reach_mm)
                        .collect()
                };
                let ys = along(point.y, low.y, high.y);
                along(point.x, low.x, high.x)
                    .into_iter()
                    .flat_map(|x| ys.iter().map(move |y| Point2::new(x, *y)))
                    .filter(|image| *image != point)
                    .collect()
            }
            Self::Edges(outline) => (0..outline.len())
                .filter_map(|i| {
                    let (a, b) = (Point2::from(outline[i]), Point2::from(outline[(i + 1) % outline.len()]));
                    let along = b - a;
                    let t = (point - a).dot(&along) / along.norm_squared();
                    let foot = a + along * t;
                    ((0.0..=1.0).contains(&t) && (point - foot).norm() < reach_mm).then(|| foot + (foot - point))
                })
                .collect(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rectangle_mirrors_on_a_lattice_and_an_edge_once() {
        let face = Face { outline: vec![[0.0, 0.0], [10.0, 0.0], [10.0, 6.0], [0.0, 6.0]], ..Face::default() };
        let images = Mirrors::of(&face).images(Point2::new(2.0, 1.0), 5.0);
        let mut found: Vec<(f64, f64)> = images.iter().map(|p| (p.x, p.y)).collect();
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        // x at -2 and 2 (18 is beyond the reach), y at -1, 1 and 11 (beyond: 5 over the edge at 6 is not below 5).
        assert_eq!(found, [(-2.0, -1.0), (-2.0, 1.0), (2.0, -1.0)]);
        let corner = Face { outline: vec![[0.0, 0.0], [10.0, 0.0], [0.0, 6.0]], ..Face::default() };
        let images = Mirrors::of(&corner).images(Point2::new(2.0, 1.0), 1.5);
        assert_eq!(images, [Point2::new(2.0, -1.0)]);
    }
}
