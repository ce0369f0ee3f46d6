//! One hot spot measured: centre with covariance, curve and rise.

mod apart;
mod centre;
mod contrast;
mod curve;
mod pulse;

pub(crate) use contrast::contrast;

use nalgebra::{Matrix2, Point2};

use crate::{
    HotSpot, Scene,
    clean::LevelCourse,
    film::Film,
    maps::{PixelNoise, Plane, RiseEstimator},
    model::ResponseModel,
    peaks::Peak,
};

/// Peaks beyond this many are never sources of their own.
pub(crate) const MOST_LOOKED_AT: usize = 60;

/// A spot that warms by less than this share of the strongest one is not what pulls the rail down, and at such shares
/// bodies that lag the board around them pass for sources.
const LEAST_SHARE: f64 = 0.1;

/// A spot stands out of its surroundings by this share of its rise at least. Where the whole neighbourhood moves as one (level,
/// blotches, a broad reflection), the curve at the spot is not its own.
const LEAST_CONTRAST: f64 = 0.1;

/// How far the picture of a spot reaches that its form is read from, in scales of its peak.
const WINDOW_SCALES: f64 = 3.0;
/// And the one that its flanks are read from, in scales of the fitted form: those of the peak go in steps of half an octave, and noise
/// that moves the peak from one step to the next would move the centre as well.
const FLANK_SCALES: f64 = 5.0;

/// What measuring a spot needs from the rest of the computation.
pub(crate) struct Measured<'a> {
    pub(crate) film: Film<'a>,
    pub(crate) scene: &'a Scene<'a>,
    pub(crate) model: &'a ResponseModel,
    /// Coefficients in units of the pixel noise.
    pub(crate) coefficients: &'a [Plane],
    pub(crate) noise: &'a PixelNoise,
    pub(crate) estimator: &'a RiseEstimator,
    /// Drift of the whole picture, where it is known.
    pub(crate) level: Option<&'a LevelCourse>,
}

impl Measured<'_> {
    /// Measures the real spots under the peaks, strongest first, at most `most`. What is only the field of a stronger spot
    /// on the board's texture is left out.
    pub(crate) fn spots(&self, peaks: &[&Peak], rise: &Plane, board: &[bool], most: usize) -> Vec<HotSpot> {
        let mut found: Vec<HotSpot> = Vec::new();
        let mut stronger: Vec<Point2<f64>> = Vec::new();
        for peak in peaks.iter().take(MOST_LOOKED_AT) {
            if found.len() == most {
                break;
            }
            let look =
                |peak: Peak| (peak, centre::fit(&self.rise_window(&peak, WINDOW_SCALES * peak.scale_px, None), &peak));
            let stands = |(_, centre): &(Peak, Centre)| {
                centre.height > 0.0
                    && (stronger.is_empty()
                        || apart::stands_apart(centre.at_px, centre.height, centre.level, &stronger, rise, board))
            };
            let fine = look(**peak);
            let found_at = if stands(&fine) { Some(fine) } else { Some(look(peak.broad())).filter(stands) };
            // Where no Gaussian fits, the strongest spot still has its centroid.
            let Some((peak, mut centre)) = found_at.or_else(|| stronger.is_empty().then(|| look(**peak))) else {
                continue;
            };
            // The flanks of a weaker spot hold the stronger one.
            let alone = |at: &Point2<f64>| (at - centre.at_px).norm() > 2.0 * FLANK_SCALES * centre.scale_px;
            if stronger.iter().all(alone) {
                centre.follow_flanks(&self.rise_window(&peak, FLANK_SCALES * centre.scale_px, Some(board)));
            }
            let spot = self.spot(&peak, &centre);
            let contrast = |look: &Peak| {
                apart::contrast(&self.rise_window(look, WINDOW_SCALES * look.scale_px, None), look.at_px, look.scale_px)
            };
            if contrast(&peak).max(contrast(&peak.broad())) < LEAST_CONTRAST * spot.rise.end {
                continue;
            }
            if found.first().is_none_or(|first| spot.rise.end >= LEAST_SHARE * first.rise.end) {
                stronger.push(centre.at_px);
                found.push(spot);
            }
        }
        found
    }

    fn spot(&self, peak: &Peak, centre: &Centre) -> HotSpot {
        let extracted = curve::extract(self.film, self.noise, self.level, centre.at_px, peak.scale_px);
        let (rise, curve, pulse) = curve::fit(&extracted, self, peak, centre);
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
            pulse,
        }
    }

    /// The rise at the end of injection around a peak, for the peak's own response: out to `radius_px`, and on the board only where
    /// one is given.
    fn rise_window(&self, peak: &Peak, radius_px: f64, board: Option<&[bool]>) -> Window {
        let (width, height) = (self.coefficients[0].width, self.coefficients[0].height);
        let radius = (radius_px + 2.0).ceil();
        let low = |at: f64| (at - radius).max(0.0) as usize;
        let high = |at: f64, size: usize| ((at + radius) as usize + 1).min(size);
        let (x0, x1) = (low(peak.at_px.x), high(peak.at_px.x, width));
        let (y0, y1) = (low(peak.at_px.y), high(peak.at_px.y, height));
        let rise = ndarray::Array2::from_shape_fn((y1 - y0, x1 - x0), |(y, x)| {
            let p = (y0 + y) * width + x0 + x;
            if board.is_some_and(|board| !board[p]) {
                return f32::NAN;
            }
            self.estimator.rise(peak.member, self.coefficients, p) * self.noise.sigma[p]
        });
        Window { x0, y0, rise, rise_se: self.estimator.standard_error[peak.member] * f64::from(self.noise.typical) }
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
    /// Covariance of the Gaussian that was fitted, where one was.
    pub(crate) shape_px2: Option<Matrix2<f64>>,
    /// Relative standard error of the height.
    pub(crate) relative_error: f64,
    /// Height above the surroundings, and the surroundings' rise, in the take's unit.
    pub(crate) height: f64,
    pub(crate) level: f64,
    /// Rise at the centre over the mean rise under the curve's weights.
    pub(crate) peak_share: f64,
}
