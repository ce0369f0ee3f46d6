//! How probable a heat centre is at a place, if a given rectangle were the short.

use nalgebra::{Matrix2, Point2, Vector2};
use statrs::function::erf::erf;

use crate::{HotSpot, board::Footprint};

/// Drawings and placements are right to about this much: common practice, no published source.
const DRAWING_MM: f64 = 0.1;
/// Heat spreads unevenly (copper, edges), which pulls the seen centre by about this share of the spot's size: common
/// practice, no published source.
const PULL_SHARE: f64 = 0.12;
/// Share of cases in which something else is wrong (a bad pair, a moved board), and by what factor the centre is then
/// less certain. It keeps one far-off number from deciding alone.
const GROSS_SHARE: f64 = 0.05;
const GROSS_FACTOR: f64 = 4.0;
/// Heat from the far side of a board spreads by about the board's thickness, 1.6 mm.
const BOARD_MM: f64 = 1.6;

/// Uncertainty of the seen heat centre against the drawing.
#[derive(Clone, Copy, Debug)]
pub(super) struct Blur {
    covariance_mm2: Matrix2<f64>,
}

impl Blur {
    pub(super) fn of(spot: &HotSpot, mm_per_px: f64) -> Self {
        let pull_mm = PULL_SHARE * spot.scale_px * mm_per_px;
        let extra = DRAWING_MM.powi(2) + pull_mm.powi(2);
        Self { covariance_mm2: spot.covariance_mm2 + Matrix2::identity() * extra }
    }

    /// Equally uncertain in all directions.
    #[cfg(test)]
    pub(super) fn round(sigma_mm: f64) -> Self {
        Self { covariance_mm2: Matrix2::identity() * sigma_mm.powi(2) }
    }

    pub(super) fn through_board(&self) -> Self {
        Self { covariance_mm2: self.covariance_mm2 + Matrix2::identity() * BOARD_MM.powi(2) }
    }
}

/// Density of the seen centre at `centre`, per square millimetre.
pub(super) fn density_per_mm2(footprint: &Footprint, centre: Point2<f64>, blur: &Blur) -> f64 {
    let own = footprint.own_from_board(centre);
    let covariance = footprint.own_covariance(blur.covariance_mm2);
    let at = |factor: f64| {
        uniform_blurred(
            own,
            footprint.half_mm,
            Vector2::new(covariance[(0, 0)], covariance[(1, 1)]).map(|v| v.sqrt() * factor),
        )
    };
    with_gross_errors(at)
}

/// Density of the seen centre `off` from where it is expected with a covariance of `spread`, per square millimetre.
pub(super) fn gaussian_per_mm2(off: Vector2<f64>, spread: &Matrix2<f64>, blur: &Blur) -> f64 {
    let at = |factor: f64| {
        let covariance = spread + blur.covariance_mm2 * factor.powi(2);
        let scaled = covariance.try_inverse().map_or(f64::INFINITY, |inverse| off.dot(&(inverse * off)));
        (-0.5 * scaled).exp() / (std::f64::consts::TAU * covariance.determinant().max(f64::MIN_POSITIVE).sqrt())
    };
    with_gross_errors(at)
}

/// A density whose uncertainty is that many times as large in some cases.
fn with_gross_errors(at: impl Fn(f64) -> f64) -> f64 {
    (1.0 - GROSS_SHARE) * at(1.0) + GROSS_SHARE * at(GROSS_FACTOR)
}

/// A uniform density over a rectangle, blurred by a Gaussian along its own axes. The small correlation between the axes
/// is left out: spots are nearly round.
fn uniform_blurred(own: Vector2<f64>, half: Vector2<f64>, sigma: Vector2<f64>) -> f64 {
    let along = |x: f64, half: f64, sigma: f64| {
        let scale = sigma * std::f64::consts::SQRT_2;
        (erf((x + half) / scale) - erf((x - half) / scale)) / (4.0 * half)
    };
    along(own.x, half.x, sigma.x) * along(own.y, half.y, sigma.y)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_density_integrates_to_one() {
        let half = Vector2::new(0.8, 0.4);
        let sigma = Vector2::new(0.3, 0.5);
        let step = 0.05;
        let sum: f64 = (-100..=100)
            .flat_map(|i| (-100..=100).map(move |j| Vector2::new(f64::from(i) * step, f64::from(j) * step)))
            .map(|own| uniform_blurred(own, half, sigma) * step * step)
            .sum();
        // The midpoint rule over smooth edges ten steps wide.
        assert!((sum - 1.0).abs() < 1e-3, "{sum}");
    }

    #[test]
    fn a_small_part_beats_a_large_one_at_the_same_place() {
        let small = uniform_blurred(Vector2::zeros(), Vector2::new(0.5, 0.25), Vector2::new(0.2, 0.2));
        let large = uniform_blurred(Vector2::zeros(), Vector2::new(5.0, 5.0), Vector2::new(0.2, 0.2));
        assert!(small > 20.0 * large);
    }
}
