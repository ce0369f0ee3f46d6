//! What the clicks' uncertainty does to a mapped point.

use nalgebra::{DMatrix, Matrix2, Point2};

use super::{Alignment, apply, fit::unit_corner, solve::parameter_jacobian};

impl Alignment {
    /// Covariance on the face of a picture point that itself is exact, in square millimetres.
    ///
    /// To first order: with `image = G(board; p)`, a change of the parameters at a fixed picture point moves the face
    /// point by `-(dG/dboard)⁻¹ dG/dp`. Zero for an exact mapping.
    pub fn covariance_mm2(&self, image_px: Point2<f64>) -> Matrix2<f64> {
        if self.parameter_covariance.is_empty() {
            return Matrix2::zeros();
        }
        let Some(px_from_scaled) = self.scaling.from_image.try_inverse() else { return Matrix2::zeros() };
        let Some(board_from_scaled) = self.scaling.from_board.try_inverse() else { return Matrix2::zeros() };
        let scaled = unit_corner(self.scaling.from_image * self.image_from_board * board_from_scaled);
        let at = apply(&self.scaling.from_board, self.to_board(image_px));
        let mut jacobian = DMatrix::zeros(2, self.parameter_covariance.nrows());
        parameter_jacobian(self.kind, &scaled, at, &mut jacobian, 0);
        let mm_per_scaled = self.jacobian_mm_per_px(image_px) * px_from_scaled[(0, 0)];
        let in_scaled = &jacobian * &self.parameter_covariance * jacobian.transpose();
        let in_scaled = in_scaled.fixed_view::<2, 2>(0, 0).into_owned();
        mm_per_scaled * in_scaled * mm_per_scaled.transpose()
    }

    /// Covariance in the picture of where a face point is seen, in square pixels; zero for an exact mapping. With
    /// [`Self::covariance_mm2`] this is what a map of the uncertainty draws.
    pub fn covariance_px2(&self, board_mm: Point2<f64>) -> Matrix2<f64> {
        let image = self.to_image(board_mm);
        let mm = self.covariance_mm2(image);
        match self.jacobian_mm_per_px(image).try_inverse() {
            Some(px_per_mm) => px_per_mm * mm * px_per_mm.transpose(),
            None => Matrix2::zeros(),
        }
    }

    /// The pair (counted from 0) that lies furthest from where the mapping puts it, and its distance in pixels; `None`
    /// without pairs.
    pub fn worst_pair(&self) -> Option<(usize, f64)> {
        self.residuals_px.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1))
    }
}
