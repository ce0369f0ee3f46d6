//! Fits the mapping. (Being written.)

use nalgebra::{Matrix2, Point2};

use super::{AlignError, Alignment, PointPair};

impl Alignment {
    /// Fits the simplest mapping that the pairs support.
    ///
    /// # Errors
    /// See [`AlignError`].
    pub fn fit(pairs: &[PointPair]) -> Result<Self, AlignError> {
        Err(AlignError::TooFew(pairs.len()))
    }

    /// Covariance on the face of a picture point that itself is exact, in square millimetres.
    pub fn covariance_mm2(&self, image_px: Point2<f64>) -> Matrix2<f64> {
        let _ = (image_px, &self.parameter_covariance);
        Matrix2::zeros()
    }
}
