//! Mappings that are known rather than fitted, and checks against the picture's size.

use nalgebra::{DMatrix, Matrix3, Point2};

use super::{AlignError, Alignment, AlignmentKind, apply, fit::unit_corner, solve::Scaling};

impl Alignment {
    /// A mapping that is known exactly: no covariance, no residuals. The kind is read off the matrix.
    ///
    /// # Errors
    /// [`AlignError::Singular`] and [`AlignError::Mirrored`].
    pub fn from_matrix(board_from_image: Matrix3<f64>) -> Result<Self, AlignError> {
        let board_from_image = unit_corner(board_from_image);
        if board_from_image.iter().any(|v| !v.is_finite()) {
            return Err(AlignError::Singular);
        }
        let inverse = board_from_image.try_inverse().filter(|m| m.iter().all(|v| v.is_finite()));
        let image_from_board = unit_corner(inverse.ok_or(AlignError::Singular)?);
        if board_from_image.determinant() * board_from_image[(2, 2)].signum() < 0.0 {
            return Err(AlignError::Mirrored);
        }
        Ok(Self {
            kind: kind_of(&board_from_image),
            board_from_image,
            image_from_board,
            scaling: Scaling::none(),
            parameter_covariance: DMatrix::zeros(0, 0),
            residuals_mm: Vec::new(),
            residuals_px: Vec::new(),
            pair_sigma_px: 0.0,
            suspicious_pair: None,
        })
    }

    /// Checks that the mapping does not fold over within a picture.
    ///
    /// # Errors
    /// [`AlignError::Folds`].
    pub fn check_picture(&self, width_px: usize, height_px: usize) -> Result<(), AlignError> {
        let h = &self.board_from_image;
        let (right, bottom) = (width_px as f64 - 0.5, height_px as f64 - 0.5);
        let denominator = |x: f64, y: f64| h[(2, 0)] * x + h[(2, 1)] * y + h[(2, 2)];
        // The sign that holds at the pairs: that of the point which the middle of the board's points comes from.
        let board_centre =
            self.scaling.from_board.try_inverse().map_or(Point2::origin(), |m| apply(&m, Point2::origin()));
        let known = if self.residuals_px.is_empty() {
            denominator(0.5 * right, 0.5 * bottom)
        } else {
            let p = self.to_image(board_centre);
            denominator(p.x, p.y)
        };
        let corners = [(-0.5, -0.5), (right, -0.5), (-0.5, bottom), (right, bottom)];
        if corners.iter().all(|(x, y)| denominator(*x, *y) * known > 0.0) { Ok(()) } else { Err(AlignError::Folds) }
    }
}

/// Reads the kind off a matrix, to rounding.
fn kind_of(m: &Matrix3<f64>) -> AlignmentKind {
    let linear = m.fixed_view::<2, 2>(0, 0).norm();
    let small = |v: f64| v.abs() <= 1e-12 * linear;
    if m[(2, 0)] != 0.0 || m[(2, 1)] != 0.0 {
        AlignmentKind::Homography
    } else if small(m[(0, 0)] - m[(1, 1)]) && small(m[(0, 1)] + m[(1, 0)]) {
        AlignmentKind::Similarity
    } else {
        AlignmentKind::Affine
    }
}
