//! Which pixels do not see the board: a reference that injection does not warm.

use nalgebra::Point2;
use ndarray::Array2;

use super::Alignment;
use crate::board::Face;

/// Pixels this near the outline still see the board through the lens's blur and the pairs' error.
const MARGIN_PX: f64 = 2.0;

/// Pixels that lie off the outline with a margin, `[row, column]`.
pub fn off_board(face: &Face, alignment: &Alignment, width: usize, height: usize) -> Array2<bool> {
    Array2::from_shape_fn((height, width), |(y, x)| {
        let around = [-MARGIN_PX, 0.0, MARGIN_PX];
        around.iter().flat_map(|dx| around.map(|dy| (*dx, dy))).all(|(dx, dy)| {
            let at = Point2::new(x as f64 + dx, y as f64 + dy);
            !face.outline_contains(alignment.to_board(at))
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::PointPair;

    #[test]
    fn the_margin_is_kept_off_the_outline() {
        let face = Face { outline: vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]], ..Face::default() };
        // One pixel a millimetre; the face spans 5.25 to 15.25 in both directions.
        let pair = |x: f64, y: f64| PointPair { x_px: x + 5.25, y_px: y + 5.25, x_mm: x, y_mm: y };
        let alignment = Alignment::fit(&[pair(0.0, 0.0), pair(10.0, 0.0), pair(10.0, 10.0), pair(0.0, 10.0)]).unwrap();
        let off = off_board(&face, &alignment, 20, 20);
        let row: Vec<usize> = (0..20).filter(|&x| off[[10, x]]).collect();
        assert_eq!(row, [0, 1, 2, 3, 18, 19]);
        assert!(off.row(1).iter().all(|o| *o));
    }
}
