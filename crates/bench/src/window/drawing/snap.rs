//! Where a click lands: on a corner nearby, in line with the last corner, or on the grid.

use joulemark_locate::board::Face;

/// What a point was drawn to, for the mark under the pointer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SnappedTo {
    /// A corner of the outline.
    Corner,
    /// The same x or y as the corner before: a right angle.
    Line,
    /// The grid.
    Grid,
    /// Nothing.
    Free,
}

/// Rounds to the grid; a grid of zero leaves a value as it is.
pub fn to_grid(value: f64, grid_mm: f64) -> f64 {
    if grid_mm > 0.0 { tidy((value / grid_mm).round() * grid_mm) } else { value }
}

/// Micrometres are far below what a photo shows; rounding to them keeps 0.30000000000000004 out of files.
pub fn tidy(mm: f64) -> f64 {
    (mm * 1e3).round() / 1e3
}

/// Snaps a point. `before` are corners set so far, `reach_mm` how near a corner or line must be.
pub fn snap(
    face: Option<&Face>,
    before: &[[f64; 2]],
    point: [f64; 2],
    grid_mm: f64,
    reach_mm: f64,
) -> ([f64; 2], SnappedTo) {
    let distance = |c: &[f64; 2]| (c[0] - point[0]).hypot(c[1] - point[1]);
    let corners = before.iter().chain(face.into_iter().flat_map(|f| &f.outline));
    if let Some(corner) = corners.filter(|c| distance(c) <= reach_mm).min_by(|a, b| distance(a).total_cmp(&distance(b)))
    {
        return (*corner, SnappedTo::Corner);
    }
    let mut at = point.map(|v| to_grid(v, grid_mm));
    let mut to = if grid_mm > 0.0 { SnappedTo::Grid } else { SnappedTo::Free };
    for line in before.last().into_iter().chain(before.first()) {
        for axis in 0..2 {
            if (line[axis] - point[axis]).abs() <= reach_mm {
                at[axis] = line[axis];
                to = SnappedTo::Line;
            }
        }
    }
    (at, to)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_go_before_lines_and_lines_before_the_grid() {
        let face = Face { outline: vec![[0.0, 0.0], [20.13, 0.0], [20.13, 10.0]], ..Face::default() };
        let before = [[5.02, 7.77]];
        let at = |x, y| snap(Some(&face), &before, [x, y], 0.5, 0.3);
        assert_eq!(at(20.3, 0.1), ([20.13, 0.0], SnappedTo::Corner));
        assert_eq!(at(12.6, 7.6), ([12.5, 7.77], SnappedTo::Line), "a right angle to the corner before");
        assert_eq!(at(12.6, 3.1), ([12.5, 3.0], SnappedTo::Grid));
        assert_eq!(snap(None, &[], [1.23, 4.56], 0.0, 0.3), ([1.23, 4.56], SnappedTo::Free));
        assert_eq!(to_grid(0.3, 0.1), 0.3);
    }
}
