//! The recording's own null: the response vectors with the signs of blocks of frames flipped at random, made orthogonal
//! to background and signal, so that no true rise is left in them while noise and its correlation within a block stay.
//! Frames are never permuted.

use std::ops::Range;

use nalgebra::DMatrix;
use rand::{RngExt as _, SeedableRng, rngs::ChaCha8Rng};

use super::subspace::inverse_root;

/// Blocks that a recording is cut into. Sixteen leave blocks of a second or more, longer than the correlation of
/// camera noise, and enough of them to flip.
const BLOCKS: usize = 16;
/// The draws only have to be the same on every run.
const SEED: u64 = 0x6a6f_756c;

/// Draws whose vectors are the response vectors with the signs of whole blocks of frames flipped. Sums over the blocks therefore
/// give the coefficients of all of them, and each frame is multiplied by the response vectors alone.
#[derive(Clone, Debug)]
pub struct Flips {
    /// Background vectors. Flipped vectors have a part along them.
    pub background: DMatrix<f64>,
    /// The blocks of frames, one after the other.
    pub blocks: Vec<Range<usize>>,
    /// Sign of each block, per draw.
    pub signs: Vec<Vec<f64>>,
    /// What the null vectors of each draw are made of.
    pub mixes: Vec<Mix>,
}

/// Vectors as sums of others: `flipped A + signal B + background C`.
#[derive(Clone, Debug)]
pub struct Mix {
    /// `A`, flipped vectors x vectors.
    pub flipped: DMatrix<f64>,
    /// `B`, signal vectors x vectors.
    pub signal: DMatrix<f64>,
    /// `C`, background vectors x vectors.
    pub background: DMatrix<f64>,
}

/// `draws` sets of null vectors, each as many as there are signal vectors, and how they come about.
pub(super) fn vectors(background: &DMatrix<f64>, signal: &DMatrix<f64>, draws: usize) -> (Vec<DMatrix<f64>>, Flips) {
    let frames = signal.nrows();
    let blocks = BLOCKS.min(frames / 2).max(1);
    let mut random = ChaCha8Rng::seed_from_u64(SEED);
    let signs: Vec<Vec<f64>> =
        (0..draws).map(|_| (0..blocks).map(|_| if random.random::<bool>() { 1.0 } else { -1.0 }).collect()).collect();
    let flip =
        |signs: &[f64]| DMatrix::from_fn(frames, signal.ncols(), |i, j| signs[i * blocks / frames] * signal[(i, j)]);
    let (vectors, mixes) = signs.iter().map(|signs| beside(background, signal, &flip(signs))).unzip();
    let start = |block: usize| (block * frames).div_ceil(blocks);
    let blocks = (0..blocks).map(|b| start(b)..start(b + 1)).collect();
    (vectors, Flips { background: background.clone(), blocks, signs, mixes })
}

/// Vectors made orthonormal, and orthogonal to background and signal, as close as possible to what they were.
pub(super) fn beside(background: &DMatrix<f64>, signal: &DMatrix<f64>, vectors: &DMatrix<f64>) -> (DMatrix<f64>, Mix) {
    let mut rest = vectors.clone();
    let mut taken = [signal, background].map(|of| DMatrix::zeros(of.ncols(), vectors.ncols()));
    for _ in 0..2 {
        for (of, taken) in [signal, background].into_iter().zip(&mut taken) {
            let inside = of.tr_mul(&rest);
            rest -= of * &inside;
            *taken += inside;
        }
    }
    let flipped = inverse_root(&rest);
    let [signal, background] = taken.map(|taken| -taken * &flipped);
    (rest * &flipped, Mix { flipped, signal, background })
}
