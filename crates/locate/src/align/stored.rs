//! A refined mapping as it is kept beside the pairs that it was refined from, so that it need not be refined again.

use nalgebra::{DMatrix, Matrix3};
use serde::{Deserialize, Serialize};

use super::{AlignError, Alignment, AlignmentKind, PointPair, solve::Scaling};

/// What refinement found: it says nothing without the pairs that it started from, whose scaling its covariance is in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Refinement {
    /// The kind of mapping.
    pub kind: AlignmentKind,
    /// Pixels from millimetres, homogeneous, row by row.
    pub image_from_board: [[f64; 3]; 3],
    /// Covariance of the mapping's free parameters in the scaled coordinates of the pairs, row by row: the upper
    /// triangle, diagonal included.
    pub covariance: Vec<f64>,
}

impl Refinement {
    /// The refined mapping, together with the pairs it was refined from.
    pub fn of(alignment: &Alignment) -> Self {
        let (m, c) = (&alignment.image_from_board, &alignment.parameter_covariance);
        let n = c.nrows();
        Self {
            kind: alignment.kind,
            image_from_board: [0, 1, 2].map(|i| [0, 1, 2].map(|j| m[(i, j)])),
            covariance: (0..n).flat_map(|i| (i..n).map(move |j| c[(i, j)])).collect(),
        }
    }

    /// The covariance as a matrix; `None` when it is not one of that many parameters.
    fn matrix(&self) -> Option<DMatrix<f64>> {
        let n = self.kind.parameters();
        if self.covariance.len() != n * (n + 1) / 2 {
            return None;
        }
        let at = |i: usize, j: usize| i * n - i * (i + 1) / 2 + j;
        let full = DMatrix::from_fn(n, n, |i, j| self.covariance[at(i.min(j), i.max(j))]);
        // Only what can be a covariance: positive definite, all numbers.
        full.clone().cholesky().map(|_| full)
    }
}

impl Alignment {
    /// The mapping of pairs: the one that was refined from them, where that is known, else the one fitted to them.
    ///
    /// # Errors
    /// See [`AlignError`]; [`AlignError::Stored`] for a refinement that is damaged or was made from other pairs.
    pub fn of(pairs: &[PointPair], refined: Option<&Refinement>) -> Result<Self, AlignError> {
        let Some(refined) = refined else { return Self::fit(pairs) };
        let fitted = Self::fit_kind(refined.kind, pairs)?;
        let covariance = refined.matrix().ok_or(AlignError::Stored)?;
        let rows = refined.image_from_board;
        let matrix = Matrix3::from_fn(|i, j| rows[i][j]);
        let restored = Self { scaling: Scaling::of(pairs), ..fitted };
        restored.with_matrix(matrix, covariance, pairs).ok_or(AlignError::Stored)
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Point2;

    use super::*;

    fn pairs() -> Vec<PointPair> {
        [[0.0, 0.0], [60.0, 0.0], [60.0, 40.0], [0.0, 40.0], [25.0, 20.0]]
            .into_iter()
            .enumerate()
            .map(|(i, [x_mm, y_mm])| {
                let off = 0.3 * f64::from(i as u32 % 3);
                PointPair { x_px: 4.0 * x_mm + 20.0 + off, y_px: 4.1 * y_mm + 12.0 - off, x_mm, y_mm }
            })
            .collect()
    }

    /// A refinement that moves the mapping and shrinks its covariance.
    fn refined(kind: AlignmentKind) -> Alignment {
        let fitted = Alignment::fit_kind(kind, &pairs()).unwrap();
        let mut matrix = fitted.image_from_board;
        matrix[(0, 2)] += 0.7;
        let covariance = &fitted.parameter_covariance * 0.2;
        fitted.with_matrix(matrix, covariance, &pairs()).unwrap()
    }

    #[test]
    fn a_stored_refinement_is_the_same_mapping_with_the_same_uncertainty() {
        for kind in [AlignmentKind::Similarity, AlignmentKind::Affine, AlignmentKind::Homography] {
            let refined = refined(kind);
            let stored = Refinement::of(&refined);
            let restored = Alignment::of(&pairs(), Some(&stored)).unwrap();
            assert_eq!(restored.image_from_board, refined.image_from_board, "{kind:?}");
            assert_eq!(restored.residuals_px, refined.residuals_px, "{kind:?}");
            // One triangle is kept: an inverse is symmetric but for rounding.
            let at = Point2::new(150.0, 90.0);
            let apart = restored.covariance_mm2(at) - refined.covariance_mm2(at);
            assert!(apart.amax() < 1e-12 * refined.covariance_mm2(at).amax(), "{kind:?}");
            // JSON text may lose the last digit of a number.
            let text = serde_json::to_string(&stored).unwrap();
            let read = Alignment::of(&pairs(), Some(&serde_json::from_str(&text).unwrap())).unwrap();
            assert!((read.to_board(at) - refined.to_board(at)).norm() < 1e-10, "{kind:?}");
            assert_ne!(restored, Alignment::of(&pairs(), None).unwrap());
        }
    }

    #[test]
    fn what_cannot_be_a_refinement_is_an_error() {
        let good = Refinement::of(&refined(AlignmentKind::Affine));
        let mut short = good.clone();
        short.covariance.pop();
        let mut negative = good.clone();
        negative.covariance[0] = -1.0;
        let mut mirrored = good.clone();
        mirrored.image_from_board[0] = [-4.0, 0.0, 20.0];
        let mut unknown = good.clone();
        unknown.image_from_board[1][1] = f64::NAN;
        for bad in [short, negative, mirrored, unknown] {
            assert_eq!(Alignment::of(&pairs(), Some(&bad)), Err(AlignError::Stored), "{bad:?}");
        }
        assert!(matches!(Alignment::of(&pairs()[..2], Some(&good)), Err(AlignError::TooFewFor { .. })));
    }
}
