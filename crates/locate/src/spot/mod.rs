//! One hot spot measured: centre with covariance, curve and rise.

mod centre;
mod curve;

use joulemark_frames::Take;
use nalgebra::{Matrix2, Point2};

use crate::{
    HotSpot, Scene,
    maps::{PixelNoise, Plane},
    model::ResponseModel,
    peaks::Peak,
};

/// What measuring a spot needs from the rest of the computation.
pub(crate) struct Measured<'a> {
    pub(crate) take: &'a Take,
    pub(crate) scene: &'a Scene<'a>,
    pub(crate) model: &'a ResponseModel,
    /// Signal coefficients in units of the pixel noise.
    pub(crate) signal: &'a [Plane],
    pub(crate) noise: &'a PixelNoise,
}

impl Measured<'_> {
    /// Measures the spot under a peak.
    pub(crate) fn spot(&self, peak: &Peak) -> HotSpot {
        let centre = centre::fit(&self.rise_window(peak), peak);
        let extracted = curve::extract(self.take, self.noise, centre.at_px, peak.scale_px);
        let (rise, curve) = curve::fit(&extracted, self.model, peak, centre.peak_share);
        let at_px = centre.at_px;
        let jacobian = self.scene.alignment.jacobian_mm_per_px(at_px);
        let covariance_mm2 =
            jacobian * centre.covariance_px2 * jacobian.transpose() + self.scene.alignment.covariance_mm2(at_px);
        HotSpot {
            centre_px: at_px,
            covariance_px2: centre.covariance_px2,
            centre_mm: self.scene.alignment.to_board(at_px),
            covariance_mm2,
            scale_px: centre.scale_px,
            z: peak.z,
            q_value: peak.q_value,
            rise,
            curve,
        }
    }

    /// The rise at the end of injection around a peak, for the peak's own response.
    fn rise_window(&self, peak: &Peak) -> Window {
        let member = &self.model.members[peak.member];
        let length = member.coordinates.norm();
        let weights: Vec<f32> = member.coordinates.iter().map(|c| (c / length) as f32).collect();
        let per_score = (member.end / (member.norm * length)) as f32;
        let (width, height) = (self.signal[0].width, self.signal[0].height);
        let radius = (3.0 * peak.scale_px + 2.0).ceil();
        let low = |at: f64| (at - radius).max(0.0) as usize;
        let high = |at: f64, size: usize| ((at + radius) as usize + 1).min(size);
        let (x0, x1) = (low(peak.at_px.x), high(peak.at_px.x, width));
        let (y0, y1) = (low(peak.at_px.y), high(peak.at_px.y, height));
        let rise = ndarray::Array2::from_shape_fn((y1 - y0, x1 - x0), |(y, x)| {
            let p = (y0 + y) * width + x0 + x;
            let score: f32 = self.signal.iter().zip(&weights).map(|(plane, w)| w * plane.values[p]).sum();
            score * per_score * self.noise.sigma[p]
        });
        Window { x0, y0, rise, rise_se: f64::from(self.noise.typical * per_score) }
    }
}

/// A cut-out of the rise map.
pub(crate) struct Window {
    pub(crate) x0: usize,
    pub(crate) y0: usize,
    pub(crate) rise: ndarray::Array2<f32>,
    pub(crate) rise_se: f64,
}

/// Where the spot is.
pub(crate) struct Centre {
    pub(crate) at_px: Point2<f64>,
    pub(crate) covariance_px2: Matrix2<f64>,
    pub(crate) scale_px: f64,
    /// Rise at the centre over the mean rise under the curve's weights.
    pub(crate) peak_share: f64,
}
