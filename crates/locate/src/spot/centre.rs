//! Sub-pixel centre of a spot with its covariance.

use nalgebra::{Matrix2, Point2, Vector2};

use super::{Centre, Window, curve::weight_scale_px};
use crate::{
    fit::{
        fit_flanks,
        spot::{SpotFit, SpotStart, fit_spot},
    },
    peaks::Peak,
};

/// A fitted centre further from the peak than this many of its scales is another spot's.
const STRAY_SCALES: f64 = 1.5;

/// Fits the centre on the rise map around a peak. Where the fit does not converge the weighted centroid stands in.
pub(super) fn fit(window: &Window, peak: &Peak) -> Centre {
    let origin = Vector2::new(window.x0 as f64, window.y0 as f64);
    let start = SpotStart { centre_px: peak.at_px - origin, scale_px: peak.scale_px.max(1.0) };
    let found = fit_spot(window.rise.view(), window.rise_se, start);
    let stray = (found.centre_px - start.centre_px).norm() > STRAY_SCALES * start.scale_px;
    if found.converged && !stray {
        Centre {
            at_px: found.centre_px + origin,
            covariance_px2: found.covariance_px2,
            scale_px: found.scale_px().clamp(0.5 * peak.scale_px, 4.0 * peak.scale_px),
            shape_px2: Some(found.shape_px2),
            height: found.amplitude.value,
            level: found.plane[0],
            peak_share: fitted_share(&found, peak.scale_px),
            relative_error: found.amplitude.standard_error / found.amplitude.value,
        }
    } else {
        centroid(window, peak)
    }
}

/// The flanks may move the centre by this many of its scales, or its standard errors where those are wider.
const FLANK_REACH: f64 = 0.75;

impl Centre {
    /// Places the centre by the spot's flanks as well, where they agree that it is the same spot.
    pub(super) fn follow_flanks(&mut self, window: &Window) {
        let Some(shape_px2) = self.shape_px2 else { return };
        let origin = Vector2::new(window.x0 as f64, window.y0 as f64);
        let reach_px = FLANK_REACH * self.scale_px.max(1.0);
        if let Some(found) = fit_flanks(window.rise.view(), window.rise_se, self.at_px - origin, shape_px2, reach_px) {
            self.at_px = found.centre_px + origin;
            self.covariance_px2 = found.covariance_px2;
        }
    }
}

/// Rise at the centre over the mean rise under the curve's weights: a Gaussian of covariance `S` under weights of variance `w^2` averages to `sqrt(det S / det(S + w^2))` of its height;
/// the plane stays.
fn fitted_share(found: &SpotFit, peak_scale_px: f64) -> f64 {
    let weight_px = weight_scale_px(peak_scale_px);
    let wider = found.shape_px2 + Matrix2::identity() * weight_px.powi(2);
    let seen = (found.shape_px2.determinant() / wider.determinant()).max(0.0).sqrt();
    let level = found.plane[0].max(0.0);
    (found.amplitude.value + level) / (found.amplitude.value * seen + level)
}

/// Centroid under Gaussian weights, iterated. Its covariance is the bound for a Gaussian spot of that height in white
/// noise, `2/pi (noise/height)^2` per axis.
fn centroid(window: &Window, peak: &Peak) -> Centre {
    let s = peak.scale_px.max(1.0);
    let mut at = peak.at_px;
    for _ in 0..10 {
        let (mut sum, mut moment) = (0.0, Vector2::zeros());
        for ((y, x), &rise) in window.rise.indexed_iter() {
            let p = Vector2::new((window.x0 + x) as f64, (window.y0 + y) as f64);
            let w = f64::from(rise.max(0.0)) * (-0.5 * (p - at.coords).norm_squared() / (s * s)).exp();
            sum += w;
            moment += p * w;
        }
        if sum <= 0.0 {
            break;
        }
        at = Point2::from(moment / sum);
    }
    let height = f64::from(window.rise.iter().copied().fold(f32::MIN, f32::max));
    let variance = 2.0 / std::f64::consts::PI * (window.rise_se / height.max(window.rise_se)).powi(2);
    Centre {
        at_px: at,
        covariance_px2: Matrix2::identity() * variance,
        scale_px: peak.scale_px,
        shape_px2: None,
        // Without a fit nothing says how much of the height is the surroundings'.
        height: 0.0,
        level: height,
        peak_share: 1.0,
        relative_error: window.rise_se / height.max(window.rise_se),
    }
}
