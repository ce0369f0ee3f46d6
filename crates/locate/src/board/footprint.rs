//! The rectangle under a part: inside or not, distances, corners, and the share of a blurred point that falls on it.

use nalgebra::{Matrix2, Point2, Vector2};

use super::{Face, Part};

/// A rotated rectangle in board millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Footprint {
    /// Centre.
    pub centre_mm: Point2<f64>,
    /// Half of width and height.
    pub half_mm: Vector2<f64>,
    /// Unit vector of the part's own x axis.
    axis: Vector2<f64>,
}

impl From<&Part> for Footprint {
    fn from(part: &Part) -> Self {
        let angle = part.rotation_deg.to_radians();
        Self {
            centre_mm: Point2::new(part.x_mm, part.y_mm),
            half_mm: Vector2::new(part.width_mm / 2.0, part.height_mm / 2.0),
            axis: Vector2::new(angle.cos(), angle.sin()),
        }
    }
}

impl Footprint {
    /// A board point in the part's own frame, its centre at zero.
    pub fn own_from_board(&self, point: Point2<f64>) -> Vector2<f64> {
        let d = point - self.centre_mm;
        Vector2::new(d.dot(&self.axis), d.dot(&Vector2::new(-self.axis.y, self.axis.x)))
    }

    /// The inverse of [`Self::own_from_board`].
    pub fn board_from_own(&self, own: Vector2<f64>) -> Point2<f64> {
        self.centre_mm + self.axis * own.x + Vector2::new(-self.axis.y, self.axis.x) * own.y
    }

    /// A covariance in the part's own axes.
    pub fn own_covariance(&self, board: Matrix2<f64>) -> Matrix2<f64> {
        self.turn() * board * self.turn().transpose()
    }

    /// The inverse of [`Self::own_covariance`].
    pub fn board_covariance(&self, own: Matrix2<f64>) -> Matrix2<f64> {
        self.turn().transpose() * own * self.turn()
    }

    /// From the board's axes to the part's own.
    fn turn(&self) -> Matrix2<f64> {
        Matrix2::new(self.axis.x, self.axis.y, -self.axis.y, self.axis.x)
    }

    /// Corners in order around the rectangle.
    pub fn corners_mm(&self) -> [Point2<f64>; 4] {
        let (w, h) = (self.half_mm.x, self.half_mm.y);
        [(-w, -h), (w, -h), (w, h), (-w, h)].map(|(x, y)| self.board_from_own(Vector2::new(x, y)))
    }

    /// Area in square millimetres.
    pub fn area_mm2(&self) -> f64 {
        4.0 * self.half_mm.x * self.half_mm.y
    }

    /// Whether a point lies inside or on the edge.
    pub fn contains(&self, point: Point2<f64>) -> bool {
        let own = self.own_from_board(point);
        own.x.abs() <= self.half_mm.x && own.y.abs() <= self.half_mm.y
    }

    /// Distance from a point to the rectangle; zero inside.
    pub fn distance_mm(&self, point: Point2<f64>) -> f64 {
        let own = self.own_from_board(point).abs() - self.half_mm;
        own.map(|v| v.max(0.0)).norm()
    }
}

impl Face {
    /// The smallest part that covers a point of the face.
    pub fn part_at(&self, point: Point2<f64>) -> Option<&Part> {
        let area = |part: &Part| part.width_mm * part.height_mm;
        let over = self.parts.iter().filter(|part| Footprint::from(*part).contains(point));
        over.min_by(|a, b| area(a).total_cmp(&area(b)))
    }

    /// Whether a point lies inside the outline (even-odd rule; a point on an edge counts to the side of smaller y, and
    /// on vertical edges to the side of smaller x, so a shared edge belongs to one polygon only).
    pub fn outline_contains(&self, point: Point2<f64>) -> bool {
        let n = self.outline.len();
        let mut inside = false;
        for i in 0..n {
            let (a, b) = (self.outline[i], self.outline[(i + 1) % n]);
            if (a[1] < point.y) != (b[1] < point.y)
                && point.x <= a[0] + (point.y - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
            {
                inside = !inside;
            }
        }
        inside
    }

    /// Area inside the outline by the shoelace formula, in square millimetres.
    pub fn outline_area_mm2(&self) -> f64 {
        let n = self.outline.len();
        let twice: f64 = (0..n)
            .map(|i| {
                let (a, b) = (self.outline[i], self.outline[(i + 1) % n]);
                a[0] * b[1] - b[0] * a[1]
            })
            .sum();
        twice.abs() / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(rotation_deg: f64) -> Footprint {
        Footprint::from(&Part { x_mm: 10.0, y_mm: 5.0, width_mm: 4.0, height_mm: 2.0, rotation_deg, ..Part::default() })
    }

    #[test]
    fn rotation_turns_x_towards_y() {
        let turned = part(90.0);
        assert!(turned.contains(Point2::new(10.0, 6.9)));
        assert!(!turned.contains(Point2::new(11.9, 5.0)));
        let slanted = part(30.0);
        // The part's own +x end, turned clockwise to the eye, lies right and below (y down).
        let end = slanted.board_from_own(Vector2::new(2.0, 0.0));
        assert!(end.x > 10.0 && end.y > 5.0);
        let back = slanted.own_from_board(end);
        assert!((back - Vector2::new(2.0, 0.0)).norm() < 1e-12);
    }

    #[test]
    fn distance_is_zero_inside_and_euclidean_outside() {
        assert_eq!(part(0.0).distance_mm(Point2::new(11.0, 5.5)), 0.0);
        assert!((part(0.0).distance_mm(Point2::new(15.0, 10.0)) - 5.0).abs() < 1e-12);
    }

    /// Published check: concave polygon of Hormann & Agathos, Comput. Geom. 20 (2001) 131, values of
    /// cv2.pointPolygonTest (OpenCV 5.0.0).
    #[test]
    fn concave_outline_agrees_with_the_published_points() {
        let face =
            Face { outline: vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [2.0, 1.0], [0.0, 4.0]], ..Face::default() };
        for (x, y) in [(2.0, 0.5), (1.0, 1.0), (3.5, 3.0), (2.0, 0.999)] {
            assert!(face.outline_contains(Point2::new(x, y)), "({x}, {y})");
        }
        for (x, y) in [(2.0, 2.0), (5.0, 1.0), (2.0, 1.001)] {
            assert!(!face.outline_contains(Point2::new(x, y)), "({x}, {y})");
        }
        assert_eq!(face.outline_area_mm2(), 10.0);
    }

    #[test]
    fn the_smallest_part_over_a_place_is_meant() {
        let part = |name: &str, side: f64| Part {
            designator: name.into(),
            width_mm: side,
            height_mm: side,
            ..Part::default()
        };
        let face = Face { parts: vec![part("C1", 1.0), part("SH1", 9.0)], ..Face::default() };
        let at = |x: f64| face.part_at(Point2::new(x, 0.2)).map(|p| p.designator.as_str());
        assert_eq!([at(0.3), at(2.0), at(5.0)], [Some("C1"), Some("SH1"), None]);
    }

    #[test]
    fn a_shared_edge_belongs_to_one_polygon_only() {
        let square =
            |x0: f64| Face { outline: vec![[x0, 0.0], [x0 + 1.0, 0.0], [x0 + 1.0, 1.0], [x0, 1.0]], ..Face::default() };
        let on_edge = Point2::new(1.0, 0.5);
        let owners = [square(0.0), square(1.0)].iter().filter(|f| f.outline_contains(on_edge)).count();
        assert_eq!(owners, 1);
    }
}
