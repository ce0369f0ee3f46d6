//! How hot a place may be that a pixel shows: small parts share their pixel with what is around them, and no surface sends all that a
//! black one would.

use statrs::function::erf::erf;

/// Blur of a lens in focus beside the pixel's own area, standard deviation in pixels: common practice, no published source.
const BLUR_PX: f64 = 1.0;
/// Variance of the pixel's own area, pixels squared.
const PIXEL_VARIANCE_PX2: f64 = 1.0 / 12.0;
/// Lowest emissivity of coated, plastic and ceramic parts that is counted with: common practice, no published source. Bare metal
/// lies far below; a picture cannot bound it.
const LOWEST_EMISSIVITY: f64 = 0.8;
/// Where pixel and part are not known, a pixel shows this share of the part's rise.
const SHARE_UNKNOWN: f64 = 0.4;
/// And never is less counted with: such a part is not resolved at all.
const LEAST_SHARE: f64 = 0.2;
/// Standard errors of a pixel that are added.
const ERRORS: f64 = 2.0;

/// What is known of the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sight {
    /// Millimetres per pixel.
    pub mm_per_px: Option<f64>,
    /// Shortest side of the smallest part on the rail.
    pub smallest_mm: Option<f64>,
    /// Noise of a pixel in one frame.
    pub netd_k: f64,
}

impl Sight {
    /// Share of a part's rise that the pixel at its middle shows: a square under the blur's Gaussian.
    pub fn shown_share(&self) -> f64 {
        let (Some(mm_per_px), Some(side_mm)) = (self.mm_per_px, self.smallest_mm) else { return SHARE_UNKNOWN };
        if !(mm_per_px > 0.0 && side_mm > 0.0) {
            return SHARE_UNKNOWN;
        }
        let sigma_px = (BLUR_PX * BLUR_PX + PIXEL_VARIANCE_PX2).sqrt();
        let along = erf(side_mm / mm_per_px / (2.0 * std::f64::consts::SQRT_2 * sigma_px));
        (along * along).max(LEAST_SHARE)
    }

    /// The hottest place per frame, °C, as an upper bound. `hottest_c` is the hottest pixel per frame, `before` the number of frames
    /// without current; what was warm before the current is not the part's rise.
    pub fn upper_bounds_c(&self, hottest_c: &[f64], before: usize) -> Vec<f64> {
        let mut cold: Vec<f64> = hottest_c.iter().take(before.max(1)).copied().filter(|v| v.is_finite()).collect();
        cold.sort_by(f64::total_cmp);
        let Some(&start_c) = cold.get(cold.len() / 2) else { return hottest_c.to_vec() };
        let factor = 1.0 / (LOWEST_EMISSIVITY * self.shown_share());
        let errors_k = ERRORS * self.netd_k;
        hottest_c.iter().map(|c| c + (factor - 1.0) * (c - start_c).max(0.0) + errors_k).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_parts_may_be_hotter_than_their_pixel_and_large_ones_hardly() {
        let sight = |side_mm| Sight { mm_per_px: Some(0.25), smallest_mm: Some(side_mm), netd_k: 0.0 };
        // By hand: 2 px under sigma 1.0408 px, erf(2 / 2.9438)^2 = 0.6633^2.
        assert!((sight(0.5).shown_share() - 0.4400).abs() < 5e-4, "{}", sight(0.5).shown_share());
        assert!(sight(5.0).shown_share() > 0.999);
        assert_eq!(sight(0.01).shown_share(), LEAST_SHARE);
        let at = |s: Sight| s.upper_bounds_c(&[25.0, 25.0, 25.0, 45.0], 3)[3];
        assert!((at(sight(5.0)) - (25.0 + 20.0 / 0.8)).abs() < 0.05);
        assert!(at(sight(0.5)) > at(sight(1.0)) && at(sight(1.0)) > at(sight(5.0)));
        // What is not known makes it stricter than a part that is resolved.
        assert!(at(Sight::default()) > at(sight(1.0)));
    }
}
