//! Whether a weaker spot is a heat source of its own, or only how the field of a stronger one shows on the board's texture.
//!
//! Spread heat makes every dark part among shiny pads a local maximum. Emissivity cannot lift a place above its
//! surroundings by more than their own rise, so a spot must stand out by a good share of the field that the stronger spots
//! make at its distance.

use nalgebra::Point2;

use super::Window;
use crate::maps::Plane;

/// Least height above the surroundings as a share of the surrounding field. A matt part (0.95) among tinned pads and mask
/// (0.6 on average) reaches 0.6.
const LEAST_CONTRAST: f64 = 0.7;
/// The field at a distance is the median over a ring of this relative half-width.
const RING: f64 = 0.15;

/// Judges a spot of fitted height `height` on a level of `level`, both in the take's unit, against the stronger ones.
pub(crate) fn stands_apart(
    at_px: Point2<f64>,
    height: f64,
    level: f64,
    stronger_px: &[Point2<f64>],
    rise: &Plane,
    board: &[bool],
) -> bool {
    let field: f64 = stronger_px.iter().map(|s| ring_median(*s, (at_px - s).norm(), rise, board).max(0.0)).sum();
    height > LEAST_CONTRAST * field.max(level)
}

/// How much higher the middle of a window is than its rim, in the take's unit: the mean within one scale of the peak less the
/// median between two and three.
pub(super) fn contrast(window: &Window, at_px: Point2<f64>, scale_px: f64) -> f64 {
    let s = scale_px.max(1.0);
    let (mut sum, mut count, mut rim) = (0.0, 0.0_f64, Vec::new());
    for ((y, x), &rise) in window.rise.indexed_iter() {
        let r = (Point2::new((window.x0 + x) as f64, (window.y0 + y) as f64) - at_px).norm();
        if r <= s {
            sum += f64::from(rise);
            count += 1.0;
        } else if (2.0 * s..=3.0 * s + 1.0).contains(&r) {
            rim.push(rise);
        }
    }
    if count == 0.0 || rim.is_empty() {
        return 0.0;
    }
    let middle = rim.len() / 2;
    sum / count - f64::from(*rim.select_nth_unstable_by(middle, f32::total_cmp).1)
}

fn ring_median(centre: Point2<f64>, radius: f64, rise: &Plane, board: &[bool]) -> f64 {
    let (inner, outer) = ((1.0 - RING) * radius - 0.5, (1.0 + RING) * radius + 0.5);
    let mut ring: Vec<f32> = (0..rise.values.len())
        .filter(|&p| {
            let at = Point2::new((p % rise.width) as f64, (p / rise.width) as f64);
            board[p] && (inner..=outer).contains(&(at - centre).norm())
        })
        .map(|p| rise.values[p])
        .collect();
    if ring.is_empty() {
        return 0.0;
    }
    let middle = ring.len() / 2;
    f64::from(*ring.select_nth_unstable_by(middle, f32::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A field of 1/r around (32, 32), with pads that show 60 % of it and a second source.
    fn field(second_k: f64) -> Plane {
        let values = (0..64 * 64)
            .map(|p| {
                let (x, y) = ((p % 64) as f64, (p / 64) as f64);
                let r = ((x - 32.0).powi(2) + (y - 32.0).powi(2)).sqrt().max(1.0);
                let texture = if (x as usize / 4 + y as usize / 4).is_multiple_of(2) { 1.0 } else { 0.6 };
                let d2 = (x - 50.0).powi(2) + (y - 20.0).powi(2);
                (texture * 10.0 / r + second_k * (-d2 / 8.0).exp()) as f32
            })
            .collect();
        Plane::new(64, values)
    }

    #[test]
    fn texture_in_the_field_of_a_source_is_not_a_source() {
        let board = vec![true; 64 * 64];
        let strong = [Point2::new(32.0, 32.0)];
        // At 21 px the field is 0.46 K; texture lifts by 0.18 K, a source of its own by 2 K.
        let at = Point2::new(50.0, 20.0);
        assert!(!stands_apart(at, 0.18, 0.3, &strong, &field(0.0), &board));
        assert!(stands_apart(at, 2.0, 0.4, &strong, &field(2.0), &board));
    }
}
