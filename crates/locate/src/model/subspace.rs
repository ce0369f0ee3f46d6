//! Orthonormal bases and projections for matrices of few columns.

use nalgebra::{DMatrix, DVector};

/// An orthonormal basis of the column space (thin QR).
pub(super) fn orthonormal_columns(columns: &DMatrix<f64>) -> DMatrix<f64> {
    columns.clone().qr().q()
}

/// What is left of `vector` outside the space of the orthonormal `basis`. Projected twice: once leaves rounding errors
/// that matter when little remains.
pub(super) fn project_off(basis: &DMatrix<f64>, vector: &DVector<f64>) -> DVector<f64> {
    let mut rest = vector.clone();
    for _ in 0..2 {
        let inside = basis.tr_mul(&rest);
        rest -= basis * inside;
    }
    rest
}

/// The vector at unit length, and the length it had; zero vectors stay zero.
pub(super) fn normalised(vector: DVector<f64>) -> (DVector<f64>, f64) {
    let norm = vector.norm();
    if norm > 0.0 { (vector / norm, norm) } else { (vector, 0.0) }
}

/// `(A'A)^(-1/2)`: `A` times this are orthonormal vectors that stay as close as possible to the columns of `A`.
pub(super) fn inverse_root(columns: &DMatrix<f64>) -> DMatrix<f64> {
    let eigen = columns.tr_mul(columns).symmetric_eigen();
    let floor = 1e-12 * eigen.eigenvalues.max();
    let scale = DMatrix::from_diagonal(&eigen.eigenvalues.map(|v| 1.0 / v.max(floor).sqrt()));
    &eigen.eigenvectors * scale * eigen.eigenvectors.transpose()
}
