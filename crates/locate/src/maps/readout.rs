//! What is summed up of every pixel's time course, and what the coefficients are made of.
//!
//! The null vectors of a step recording are the response vectors with the signs of whole blocks of frames flipped, brought beside
//! background and signal ([`Flips`]). Sums of the response vectors over each block therefore hold all of them: each frame is multiplied
//! by a dozen vectors instead of some sixty, and what is left is a few hundred products per pixel however long the recording.

use std::ops::Range;

use nalgebra::DMatrix;

use super::panel::{Rows, SUMS, Start, Wanted, Weights, weighted_sums};
use crate::model::{Flips, Mix, ResponseModel};

/// Frames folded into the sums at a time, so that these are loaded and stored once for several frames.
const FRAMES_AT_ONCE: usize = 64;
/// Pixels whose sums are mixed at a time: they stay in the second-level cache.
const PIXELS_AT_ONCE: usize = 320;
/// Where a vector lives in one block, flipping its sign changes next to nothing else, and what is left of it is blown up. With factors
/// beyond this the digits of f32 would not do, and the frames are multiplied by the null's vector itself.
const MOST_FACTOR: f64 = 16.0;

/// Sums over frames, and how coefficients follow from them.
#[derive(Debug)]
pub struct Readout {
    /// Frames that are read together, one after the other.
    pieces: Vec<Piece>,
    /// Sums over all frames, filled up with zeros to whole groups.
    whole: usize,
    coefficients: Coefficients,
}

/// Some frames of one block.
#[derive(Debug)]
struct Piece {
    frames: Range<usize>,
    block: usize,
    /// Whether it is the block's first.
    first: bool,
    /// For the sums over each block. Empty where there are none.
    by_block: Weights,
    /// For the sums over all frames.
    whole: Weights,
}

#[derive(Debug)]
enum Coefficients {
    /// The sums over all frames, as many as this.
    Whole(usize),
    Mixed(Mixture),
}

/// The coefficients of the response vectors and of the same with flipped signs.
#[derive(Debug)]
struct Mixture {
    /// Response vectors.
    signal: usize,
    /// The same, filled up with zeros to whole groups.
    filled: usize,
    blocks: usize,
    /// Per block, its sign in each draw, and then that in the plain sum.
    signs: Weights,
    draws: Vec<Draw>,
}

/// The coefficients of one draw.
#[derive(Debug)]
struct Draw {
    /// Weights of the sums with the draw's signs.
    flipped: Weights,
    /// Weights of the plain sums of the response vectors.
    signal: Weights,
    /// Weights of the other sums over all frames.
    whole: Weights,
    /// Coefficients that are a sum over all frames, and which.
    direct: Vec<(usize, usize)>,
}

/// Memory of the sums of one tile, which it leaves to the next.
#[derive(Debug, Default)]
pub struct Sums {
    by_block: Rows,
    whole: Rows,
    flipped: Rows,
    mixed: Rows,
}

impl Readout {
    /// The coefficients of the columns of `basis` (frames x vectors), each frame multiplied by all of them.
    pub fn plain(basis: &DMatrix<f64>) -> Self {
        let nothing = DMatrix::zeros(basis.nrows(), 0);
        let all = 0..basis.nrows();
        Self {
            pieces: pieces(&nothing, basis, std::slice::from_ref(&all)),
            whole: basis.ncols().next_multiple_of(SUMS),
            coefficients: Coefficients::Whole(basis.ncols()),
        }
    }

    /// The coefficients of [`ResponseModel::basis`], in that order.
    pub fn of(model: &ResponseModel) -> Self {
        let Some(flips) = &model.flips else { return Self::plain(&model.basis()) };
        let badly_mixed = |mix: &Mix, k: usize| mix.flipped.column(k).amax() > MOST_FACTOR;
        let direct: Vec<(usize, usize)> = flips
            .mixes
            .iter()
            .enumerate()
            .flat_map(|(d, mix)| (0..mix.flipped.ncols()).filter(|k| badly_mixed(mix, *k)).map(move |k| (d, k)))
            .collect();
        // Flipped vectors are not orthogonal to the background, so its coefficients enter.
        let slope = [model.before_slope.clone()].into_iter();
        let background = flips.background.column_iter().map(|c| c.into_owned());
        let nulls = direct.iter().map(|&(d, k)| model.nulls[d].column(k).into_owned());
        let whole = DMatrix::from_columns(&slope.chain(background).chain(nulls).collect::<Vec<_>>());
        Self {
            pieces: pieces(&model.vectors, &whole, &flips.blocks),
            whole: whole.ncols().next_multiple_of(SUMS),
            coefficients: Coefficients::Mixed(Mixture::new(model.vectors.ncols(), flips, &direct)),
        }
    }

    /// Number of coefficients.
    pub fn len(&self) -> usize {
        match &self.coefficients {
            Coefficients::Whole(count) => *count,
            Coefficients::Mixed(mixture) => mixture.signal * (1 + mixture.draws.len()) + 1,
        }
    }

    /// Most frames that [`Self::pieces`] has in one.
    pub fn frames_at_once(&self) -> usize {
        self.pieces.iter().map(|p| p.frames.len()).max().unwrap_or(0)
    }

    /// The frames that are to be added together, in their order.
    pub fn pieces(&self) -> impl Iterator<Item = (usize, Range<usize>)> {
        self.pieces.iter().map(|p| p.frames.clone()).enumerate()
    }

    /// Adds the frames of a piece, one row each. The first piece starts the sums anew.
    pub fn add(&self, sums: &mut Sums, piece: usize, frames: &Rows, width: usize) {
        let Piece { block, first, by_block, whole, .. } = &self.pieces[piece];
        let start = |first: bool| if first { Start::Zero } else { Start::Sums };
        if piece == 0 {
            sums.whole.shape(self.whole, width);
        }
        let frames = frames.each(0, 1, 0);
        let whole = Wanted { groups: whole, start: start(piece == 0), sums: sums.whole.rest_mut(0) };
        match &self.coefficients {
            Coefficients::Whole(_) => weighted_sums(frames, width, [whole]),
            Coefficients::Mixed(Mixture { filled, blocks, .. }) => {
                if piece == 0 {
                    sums.by_block.shape(blocks * filled, width);
                }
                let sums = sums.by_block.rest_mut(block * filled);
                weighted_sums(frames, width, [whole, Wanted { groups: by_block, start: start(*first), sums }]);
            }
        }
    }

    /// The coefficients of a tile, one slice each, when all pieces are added.
    pub fn coefficients(&self, sums: &mut Sums, out: &mut [&mut [f32]]) {
        match &self.coefficients {
            Coefficients::Whole(_) => {
                out.iter_mut().enumerate().for_each(|(k, out)| out.copy_from_slice(sums.whole.row(k)));
            }
            Coefficients::Mixed(mixture) => {
                let width = out.first().map_or(0, |c| c.len());
                for from in (0..width).step_by(PIXELS_AT_ONCE) {
                    mixture.mix(sums, from..width.min(from + PIXELS_AT_ONCE), out);
                }
            }
        }
    }
}

impl Mixture {
    /// `direct` are the columns of the null that are summed themselves, by draw and vector.
    fn new(signal: usize, flips: &Flips, direct: &[(usize, usize)]) -> Self {
        let sign = |block: usize, draw: usize| flips.signs.get(draw).map_or(1.0, |signs| signs[block]);
        let background = flips.background.ncols();
        let draw = |(draw, mix): (usize, &Mix)| {
            // As `Readout::of` lays the sums over all frames out: slope, background, what is summed itself.
            let whole = |i: usize, k: usize| {
                let row = i.checked_sub(1).filter(|i| *i < background);
                row.map_or(0.0, |i| mix.background[(i, k)])
            };
            let own = direct.iter().enumerate().filter(|(_, (d, _))| *d == draw);
            Draw {
                flipped: weights(signal, signal, |i, k| mix.flipped[(i, k)]),
                signal: weights(signal, signal, |i, k| mix.signal[(i, k)]),
                whole: weights(1 + background, signal, whole),
                direct: own.map(|(i, (_, k))| (*k, 1 + background + i)).collect(),
            }
        };
        let blocks = flips.blocks.len();
        Self {
            signal,
            filled: signal.next_multiple_of(SUMS),
            blocks,
            signs: weights(blocks, flips.signs.len() + 1, sign),
            draws: flips.mixes.iter().enumerate().map(draw).collect(),
        }
    }

    /// The coefficients of some pixels.
    fn mix(&self, sums: &mut Sums, some: Range<usize>, out: &mut [&mut [f32]]) {
        let Sums { by_block, whole, flipped, mixed } = sums;
        let (width, plain, signed) = (some.len(), self.draws.len(), self.signs.len() * SUMS);
        flipped.shape(self.signal * signed, width);
        mixed.shape(self.filled, width);
        let (signal, rest) = out.split_at_mut(self.signal);
        for (j, out) in signal.iter_mut().enumerate() {
            let rows = by_block.each(j, self.filled, some.start);
            let sums = flipped.rest_mut(j * signed);
            weighted_sums(rows, width, [Wanted { groups: &self.signs, start: Start::Zero, sums }]);
            out[some.clone()].copy_from_slice(flipped.row(j * signed + plain));
        }
        rest[0][some.clone()].copy_from_slice(&whole.row(0)[some.clone()]);
        for (d, (draw, out)) in self.draws.iter().zip(rest[1..].chunks_mut(self.signal)).enumerate() {
            let mut add = |rows, groups, start| {
                weighted_sums(rows, width, [Wanted { groups, start, sums: mixed.rest_mut(0) }]);
            };
            add(flipped.each(d, signed, 0), &draw.flipped, Start::Zero);
            add(flipped.each(plain, signed, 0), &draw.signal, Start::Sums);
            add(whole.each(0, 1, some.start), &draw.whole, Start::Sums);
            for (k, out) in out.iter_mut().enumerate() {
                out[some.clone()].copy_from_slice(mixed.row(k));
            }
            for &(k, sum) in &draw.direct {
                out[k][some.clone()].copy_from_slice(&whole.row(sum)[some.clone()]);
            }
        }
    }
}

/// The frames of each block in pieces, with the weights of the vectors that are summed per block and over all frames.
fn pieces(by_block: &DMatrix<f64>, whole: &DMatrix<f64>, blocks: &[Range<usize>]) -> Vec<Piece> {
    let of = |vectors: &DMatrix<f64>, frames: &Range<usize>| {
        weights(frames.len(), vectors.ncols(), |t, k| vectors[(frames.start + t, k)])
    };
    let piece = |block: usize, frames: Range<usize>| Piece {
        block,
        first: frames.start == blocks[block].start,
        by_block: of(by_block, &frames),
        whole: of(whole, &frames),
        frames,
    };
    let of_block = |(block, frames): (usize, &Range<usize>)| {
        let end = frames.end;
        let starts = frames.clone().step_by(FRAMES_AT_ONCE);
        starts.map(move |start| (block, start..end.min(start + FRAMES_AT_ONCE)))
    };
    blocks.iter().enumerate().flat_map(of_block).map(|(block, frames)| piece(block, frames)).collect()
}

/// Weights of `rows` rows for `sums` sums, filled up with zeros to whole groups.
fn weights(rows: usize, sums: usize, at: impl Fn(usize, usize) -> f64) -> Weights {
    let weight = |i: usize, k: usize| if k < sums { at(i, k) as f32 } else { 0.0 };
    let group = |g: usize| (0..rows).map(|i| std::array::from_fn(|k| weight(i, g * SUMS + k))).collect();
    (0..sums.div_ceil(SUMS)).map(group).collect()
}

#[cfg(test)]
mod tests {
    use joulemark_frames::Timeline;

    use super::*;
    use crate::model::Drive;

    /// Coefficients by way of blocks and mixtures against plain sums with the vectors themselves.
    #[test]
    fn mixtures_agree_with_the_vectors() {
        for (frames, before) in [(181, 45), (40, 11), (1300, 300)] {
            let mut timeline = Timeline::steady(frames, 9.0);
            timeline.inject_from(before);
            let model = ResponseModel::new(Drive::from_timeline(&timeline, 0.0), &[]);
            let (readout, basis, width) = (Readout::of(&model), model.basis(), 700);
            assert_eq!(readout.len(), basis.ncols());
            assert!(readout.frames_at_once() <= FRAMES_AT_ONCE);
            let value = |t: usize, x: usize| ((t * 37 + x * 11) % 64) as f32 / 16.0 + (x % 5) as f32;
            let mut sums = Sums::default();
            for (piece, frames) in readout.pieces() {
                let mut rows = Rows::default();
                rows.shape(frames.len(), width);
                for (j, t) in frames.enumerate() {
                    rows.row_mut(j).iter_mut().enumerate().for_each(|(x, v)| *v = value(t, x));
                }
                readout.add(&mut sums, piece, &rows, width);
            }
            let mut planes = vec![vec![0.0_f32; width]; basis.ncols()];
            let mut slices: Vec<&mut [f32]> = planes.iter_mut().map(Vec::as_mut_slice).collect();
            readout.coefficients(&mut sums, &mut slices);
            for (k, plane) in planes.iter().enumerate() {
                for x in (0..width).step_by(13).chain([width - 1]) {
                    let wanted: f64 = (0..frames).map(|t| basis[(t, k)] * f64::from(value(t, x))).sum();
                    // Values up to 8 times the root of the frames: f32 keeps six digits of that.
                    let digits = 8.0 * (frames as f64).sqrt() * 4e-7;
                    assert!(
                        (f64::from(plane[x]) - wanted).abs() < 10.0 * digits,
                        "{frames}: {k} {x} {} {wanted}",
                        plane[x]
                    );
                }
            }
        }
    }
}
