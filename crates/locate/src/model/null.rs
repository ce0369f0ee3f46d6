//! The recording's own null: the response vectors with the signs of blocks of frames flipped at random, made orthogonal
//! to background and signal, so that no true rise is left in them while noise and its correlation within a block stay.
//! Frames are never permuted.

use nalgebra::DMatrix;
use rand::{RngExt as _, SeedableRng, rngs::ChaCha8Rng};

use super::subspace::nearest_orthonormal;

/// Blocks that a recording is cut into. Sixteen leave blocks of a second or more, longer than the correlation of
/// camera noise, and enough of them to flip.
const BLOCKS: usize = 16;
/// The draws only have to be the same on every run.
const SEED: u64 = 0x6a6f_756c;

/// `draws` sets of null vectors, each as many as there are signal vectors.
pub(super) fn vectors(background: &DMatrix<f64>, signal: &DMatrix<f64>, draws: usize) -> Vec<DMatrix<f64>> {
    let frames = signal.nrows();
    let blocks = BLOCKS.min(frames / 2).max(1);
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    (0..draws)
        .map(|_| {
            let signs: Vec<f64> = (0..blocks).map(|_| if random.random::<bool>() { 1.0 } else { -1.0 }).collect();
            let flipped = DMatrix::from_fn(frames, signal.ncols(), |i, j| signs[i * blocks / frames] * signal[(i, j)]);
            beside(background, signal, &flipped)
        })
        .collect()
}

/// Vectors made orthonormal, and orthogonal to background and signal, as close as possible to what they were.
pub(super) fn beside(background: &DMatrix<f64>, signal: &DMatrix<f64>, vectors: &DMatrix<f64>) -> DMatrix<f64> {
    let mut rest = vectors.clone();
    for _ in 0..2 {
        let inside = signal.tr_mul(&rest);
        rest -= signal * inside;
        let inside = background.tr_mul(&rest);
        rest -= background * inside;
    }
    nearest_orthonormal(&rest)
}
