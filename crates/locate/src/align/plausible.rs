//! Point pairs that fit some mapping and still cannot be right: swapped columns, another picture's pairs, two pairs
//! exchanged. With them every answer would be wrong, "nothing found" among them.

use super::{Alignment, PointPair};
use crate::board::Face;

/// Pairs may lie outside the picture, or the outline's box, by these shares of its size: points on a frame around it.
const OUTSIDE_PICTURE: f64 = 0.1;
const OUTSIDE_BOARD: f64 = 0.5;
/// Root mean square of the residuals that no click explains: pixels, and share of the picture's width for a lens that
/// bends lines.
const WORST_PX: f64 = 6.0;
const WORST_SHARE: f64 = 0.03;

/// What is wrong with the pairs for this face and a picture of this size (columns, rows), in words; `None` when they may
/// be right. Pairs are counted from 1.
pub fn implausible(
    pairs: &[PointPair],
    alignment: &Alignment,
    face: &Face,
    picture_px: (usize, usize),
) -> Option<String> {
    let size = [picture_px.0 as f64, picture_px.1 as f64];
    let low: [f64; 2] = std::array::from_fn(|i| face.outline.iter().map(|p| p[i]).fold(f64::INFINITY, f64::min));
    let high: [f64; 2] = std::array::from_fn(|i| face.outline.iter().map(|p| p[i]).fold(f64::NEG_INFINITY, f64::max));
    for (index, pair) in pairs.iter().enumerate() {
        let (px, mm) = ([pair.x_px, pair.y_px], [pair.x_mm, pair.y_mm]);
        let off_picture =
            (0..2).any(|i| px[i] < -OUTSIDE_PICTURE * size[i] || px[i] > (1.0 + OUTSIDE_PICTURE) * size[i]);
        if off_picture {
            return Some(format!(
                "pair {} lies at column {}, row {}, outside the picture of {} x {} pixels",
                index + 1,
                pair.x_px,
                pair.y_px,
                picture_px.0,
                picture_px.1
            ));
        }
        let margin = |i: usize| OUTSIDE_BOARD * (high[i] - low[i]);
        if (0..2).any(|i| mm[i] < low[i] - margin(i) || mm[i] > high[i] + margin(i)) {
            return Some(format!(
                "pair {} lies at {}, {} mm, far outside the outline of face {}",
                index + 1,
                pair.x_mm,
                pair.y_mm,
                face.name
            ));
        }
    }
    let rms_px = alignment.rms_px();
    (rms_px > WORST_PX.max(WORST_SHARE * size[0]))
        .then(|| format!("the pairs contradict each other by {rms_px:.0} pixels"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn face() -> Face {
        let outline = vec![[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0]];
        Face { name: "top".into(), outline, ..Face::default() }
    }

    fn judged(points: &[[f64; 4]]) -> Option<String> {
        let pairs: Vec<PointPair> =
            points.iter().map(|&[x_px, y_px, x_mm, y_mm]| PointPair { x_px, y_px, x_mm, y_mm }).collect();
        implausible(&pairs, &Alignment::fit(&pairs).unwrap(), &face(), (160, 120))
    }

    const GOOD: [[f64; 4]; 5] = [
        [10.0, 10.0, 0.0, 0.0],
        [130.3, 10.0, 60.0, 0.0],
        [130.0, 90.0, 60.0, 40.0],
        [10.0, 89.8, 0.0, 40.0],
        [50.0, 30.0, 20.0, 10.0],
    ];

    #[test]
    fn honest_clicks_pass() {
        assert_eq!(judged(&GOOD), None);
    }

    #[test]
    fn swapped_columns_and_foreign_pairs_are_named() {
        let swapped = GOOD.map(|[a, b, c, d]| [c, d, a, b]);
        assert!(judged(&swapped).is_some_and(|m| m.contains("outside the outline of face top")));
        let far = GOOD.map(|[a, b, c, d]| [a + 5000.0, b, c, d]);
        assert!(judged(&far).is_some_and(|m| m.contains("outside the picture of 160 x 120 pixels")));
    }

    #[test]
    fn exchanged_pairs_contradict_each_other() {
        let mut exchanged = [[0.0; 4]; 6];
        exchanged[..5].copy_from_slice(&GOOD);
        exchanged[5] = [90.0, 70.0, 40.0, 30.0];
        (exchanged[4][2], exchanged[4][3]) = (40.0, 30.0);
        (exchanged[5][2], exchanged[5][3]) = (20.0, 10.0);
        assert!(judged(&exchanged).is_some_and(|m| m.contains("contradict")));
    }
}
