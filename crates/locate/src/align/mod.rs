//! Pixels to millimetres from point pairs, with the uncertainty of doing so.

mod fit;

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
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
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
    /// Covariance of the free parameters, in the parametrisation of `fit`.
    pub(crate) parameter_covariance: DMatrix<f64>,
    pub(crate) residuals_mm: Vec<f64>,
    pub(crate) pair_sigma_px: f64,
}

/// Why point pairs give no alignment.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AlignError {
    /// Fewer than two pairs.
    #[error("{0} point pairs; at least 2 are needed")]
    TooFew(usize),
    /// A coordinate is not finite.
    #[error("point pair {0} holds a coordinate that is not a number; correct it")]
    NotANumber(usize),
    /// Two pairs name the same point.
    #[error("point pairs {0} and {1} name the same point; remove one")]
    Repeated(usize, usize),
    /// The pairs mirror the board.
    #[error("the point pairs mirror the board; check which face is in the picture, and that x runs right and y down")]
    Mirrored,
    /// The points lie on one line where they must not.
    #[error("the points lie on one line; add a pair away from it")]
    Collinear,
    /// The mapping folds over within the picture.
    #[error("the point pairs contradict each other (the mapping folds over); check them")]
    Folds,
}

impl Alignment {
    /// The kind of mapping that was chosen.
    pub fn kind(&self) -> AlignmentKind {
        self.kind
    }

    /// Millimetres from pixels, homogeneous.
    pub fn board_from_image(&self) -> &Matrix3<f64> {
        &self.board_from_image
    }

    /// Distance between each pair's stated and mapped point, in millimetres, in the order of the pairs.
    pub fn residuals_mm(&self) -> &[f64] {
        &self.residuals_mm
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
