//! Pixels to millimetres from point pairs, with the uncertainty of doing so.

mod camera;
mod error;
mod exact;
mod fit;
mod off_board;
mod outlier;
mod plausible;
mod refine;
mod solve;
mod stored;
#[cfg(test)]
mod tests;
mod uncertainty;

pub use camera::{CameraMove, STILL_PX, camera_move};
pub use error::AlignError;
pub use fit::ASSUMED_CLICK_SIGMA_PX;
pub use off_board::off_board;
pub use plausible::implausible;
pub use refine::{RefineError, Refined};
pub use stored::Refinement;

use nalgebra::{DMatrix, Matrix2, Matrix3, Point2};
use serde::{Deserialize, Serialize};

/// A point named in both spaces.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PointPair {
    /// Column in the picture.
    pub x_px: f64,
    /// Row in the picture.
    pub y_px: f64,
    /// On the face.
    pub x_mm: f64,
    /// On the face.
    pub y_mm: f64,
}

/// The kind of mapping.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AlignmentKind {
    /// Turn, one scale, shift: from two pairs.
    Similarity,
    /// Also shear and two scales: from three pairs.
    Affine,
    /// Also perspective: from four pairs.
    Homography,
}

/// A fitted mapping between picture and face.
#[derive(Clone, Debug, PartialEq)]
pub struct Alignment {
    pub(crate) kind: AlignmentKind,
    pub(crate) board_from_image: Matrix3<f64>,
    pub(crate) image_from_board: Matrix3<f64>,
    /// Scaled coordinates in which the free parameters are counted; see `solve`.
    pub(crate) scaling: solve::Scaling,
    /// Covariance of the free parameters, in the order of `solve::Mapping`; empty for an exact mapping.
    pub(crate) parameter_covariance: DMatrix<f64>,
    pub(crate) residuals_mm: Vec<f64>,
    pub(crate) residuals_px: Vec<f64>,
    pub(crate) pair_sigma_px: f64,
    pub(crate) suspicious_pair: Option<usize>,
}

impl Alignment {
    /// The kind of mapping that was chosen.
    pub fn kind(&self) -> AlignmentKind {
        self.kind
    }

    /// Pixels from millimetres, homogeneous.
    pub fn image_from_board(&self) -> &Matrix3<f64> {
        &self.image_from_board
    }

    /// Millimetres from pixels, homogeneous.
    pub fn board_from_image(&self) -> &Matrix3<f64> {
        &self.board_from_image
    }

    /// Distance between each pair's stated and mapped point, in millimetres, in the order of the pairs.
    pub fn residuals_mm(&self) -> &[f64] {
        &self.residuals_mm
    }

    /// Distance between each pair's stated and mapped point, in pixels, in the order of the pairs. The fit minimises the
    /// sum of their squares.
    pub fn residuals_px(&self) -> &[f64] {
        &self.residuals_px
    }

    /// Root mean square of [`Self::residuals_px`]; 0 without pairs.
    pub fn rms_px(&self) -> f64 {
        root_mean_square(&self.residuals_px)
    }

    /// Root mean square of [`Self::residuals_mm`]; 0 without pairs.
    pub fn rms_mm(&self) -> f64 {
        root_mean_square(&self.residuals_mm)
    }

    /// The one pair (counted from 0) that spoils an otherwise good fit, if there is one.
    pub fn suspicious_pair(&self) -> Option<usize> {
        self.suspicious_pair
    }

    /// Standard deviation of one clicked coordinate that the covariance assumes, in pixels.
    pub fn pair_sigma_px(&self) -> f64 {
        self.pair_sigma_px
    }

    /// A picture point on the face.
    pub fn to_board(&self, image_px: Point2<f64>) -> Point2<f64> {
        apply(&self.board_from_image, image_px)
    }

    /// A face point in the picture.
    pub fn to_image(&self, board_mm: Point2<f64>) -> Point2<f64> {
        apply(&self.image_from_board, board_mm)
    }

    /// Derivative of [`Self::to_board`]: millimetres per pixel, rows x and y.
    pub fn jacobian_mm_per_px(&self, image_px: Point2<f64>) -> Matrix2<f64> {
        let h = &self.board_from_image;
        let w = h[(2, 0)] * image_px.x + h[(2, 1)] * image_px.y + h[(2, 2)];
        let p = self.to_board(image_px);
        Matrix2::new(
            h[(0, 0)] - p.x * h[(2, 0)],
            h[(0, 1)] - p.x * h[(2, 1)],
            h[(1, 0)] - p.y * h[(2, 0)],
            h[(1, 1)] - p.y * h[(2, 1)],
        ) / w
    }

    /// Millimetres per pixel at a point: the square root of the area of one pixel.
    pub fn mm_per_px(&self, image_px: Point2<f64>) -> f64 {
        self.jacobian_mm_per_px(image_px).determinant().abs().sqrt()
    }
}

fn apply(h: &Matrix3<f64>, p: Point2<f64>) -> Point2<f64> {
    let v = h * p.to_homogeneous();
    Point2::new(v.x / v.z, v.y / v.z)
}

fn root_mean_square(values: &[f64]) -> f64 {
    (values.iter().map(|v| v * v).sum::<f64>() / values.len().max(1) as f64).sqrt()
}
