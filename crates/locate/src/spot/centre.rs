//! Sub-pixel centre of a spot with its covariance.

use nalgebra::{Matrix2, Point2};

use super::{Centre, Window, curve::weight_scale_px};
use crate::peaks::Peak;

/// Weighted centroid; see the pipeline for what replaces it.
pub(super) fn fit(window: &Window, peak: &Peak) -> Centre {
    let s = peak.scale_px.max(1.0);
    let mut at = peak.at_px;
    for _ in 0..10 {
        let (mut sum, mut sx, mut sy) = (0.0, 0.0, 0.0);
        for ((y, x), &v) in window.rise.indexed_iter() {
            let (x, y) = ((window.x0 + x) as f64, (window.y0 + y) as f64);
            let w = f64::from(v.max(0.0)) * (-0.5 * ((x - at.x).powi(2) + (y - at.y).powi(2)) / (s * s)).exp();
            sum += w;
            sx += w * x;
            sy += w * y;
        }
        if sum <= 0.0 {
            break;
        }
        at = Point2::new(sx / sum, sy / sum);
    }
    let amplitude = f64::from(window.rise.iter().copied().fold(f32::MIN, f32::max));
    let sigma = window.rise_se / amplitude.max(window.rise_se) * (2.0 / std::f64::consts::PI).sqrt();
    let _ = weight_scale_px(s);
    Centre { at_px: at, covariance_px2: Matrix2::identity() * sigma * sigma, scale_px: peak.scale_px, peak_share: 1.0 }
}
