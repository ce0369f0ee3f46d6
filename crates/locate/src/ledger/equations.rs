//! Normal equations of the columns, in blocks of places that can be left out.

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::{samples::Sample, weights::Whitener};
use crate::fit::non_negative;

/// Blocks of places.
pub(super) const BLOCKS: usize = 10;

/// `A' A`, `A' b` and `b' b` of some places, with the level of each vector beside the columns.
#[derive(Clone, Debug)]
struct Part {
    gram: DMatrix<f64>,
    moment: DVector<f64>,
    /// Columns x vectors, vectors x vectors, vectors: the free level of the whole picture.
    level_cross: DMatrix<f64>,
    level_gram: DMatrix<f64>,
    level_moment: DVector<f64>,
    square: f64,
    rows: f64,
}

/// Normal equations for one set of templates.
#[derive(Clone, Debug)]
pub(super) struct Equations {
    blocks: Vec<Part>,
    /// Inverse variance that the level has beforehand.
    level_prior: f64,
}

/// Normal equations with the level eliminated.
#[derive(Clone, Debug)]
pub(super) struct Reduced {
    pub(super) gram: DMatrix<f64>,
    pub(super) moment: DVector<f64>,
    pub(super) square: f64,
    pub(super) rows: f64,
}

impl Equations {
    /// `templates` is columns x (samples, vectors), in the take's unit per watt; `level_sd` how far the level of
    /// the whole picture may drift along one vector.
    pub(super) fn new(templates: &DMatrix<f64>, samples: &[Sample], whiteners: &[Whitener], level_sd: f64) -> Self {
        let n = templates.nrows();
        let m = samples.first().map_or(0, |s| s.seen.len());
        let blocks = (0..BLOCKS)
            .into_par_iter()
            .map(|block| {
                let members: Vec<usize> = (0..samples.len()).filter(|&s| samples[s].block == block).collect();
                let mut columns = DMatrix::zeros(n, members.len() * m);
                let mut levels = DMatrix::zeros(m, members.len() * m);
                let mut seen = DVector::zeros(members.len() * m);
                let mut values = vec![0.0; m];
                for (place, &s) in members.iter().enumerate() {
                    let run = place * m..(place + 1) * m;
                    for row in 0..n {
                        for (k, value) in values.iter_mut().enumerate() {
                            *value = templates[(row, s * m + k)];
                        }
                        whiteners[s].apply(&mut values);
                        for (at, value) in run.clone().zip(&values) {
                            columns[(row, at)] = *value;
                        }
                    }
                    for row in 0..m {
                        values.fill(0.0);
                        values[row] = 1.0;
                        whiteners[s].apply(&mut values);
                        for (at, value) in run.clone().zip(&values) {
                            levels[(row, at)] = *value;
                        }
                    }
                    values.copy_from_slice(&samples[s].seen);
                    whiteners[s].apply(&mut values);
                    for (at, value) in run.zip(&values) {
                        seen[at] = *value;
                    }
                }
                let transposed = columns.transpose();
                let levels_transposed = levels.transpose();
                Part {
                    gram: &columns * &transposed,
                    moment: &columns * &seen,
                    level_cross: &columns * &levels_transposed,
                    level_gram: &levels * &levels_transposed,
                    level_moment: &levels * &seen,
                    square: seen.norm_squared(),
                    rows: seen.len() as f64,
                }
            })
            .collect();
        Self { blocks, level_prior: 1.0 / (level_sd * level_sd) }
    }

    /// Sums the blocks, `without` one of them, and eliminates the level.
    pub(super) fn reduced(&self, without: Option<usize>) -> Reduced {
        let mut kept = self.blocks.iter().enumerate().filter(|(i, _)| Some(*i) != without).map(|(_, b)| b);
        let Some(first) = kept.next() else {
            return Reduced { gram: DMatrix::zeros(0, 0), moment: DVector::zeros(0), square: 0.0, rows: 0.0 };
        };
        let sum = kept.fold(first.clone(), |mut sum, block| {
            sum.gram += &block.gram;
            sum.moment += &block.moment;
            sum.level_cross += &block.level_cross;
            sum.level_gram += &block.level_gram;
            sum.level_moment += &block.level_moment;
            sum.square += block.square;
            sum.rows += block.rows;
            sum
        });
        let m = sum.level_moment.len();
        let level = sum.level_gram + DMatrix::identity(m, m) * self.level_prior;
        let Some(factor) = level.cholesky() else {
            return Reduced { gram: sum.gram, moment: sum.moment, square: sum.square, rows: sum.rows };
        };
        let solved = factor.solve(&sum.level_cross.transpose());
        let level_seen = factor.solve(&sum.level_moment);
        Reduced {
            gram: sum.gram - &sum.level_cross * solved,
            moment: sum.moment - &sum.level_cross * &level_seen,
            square: sum.square - sum.level_moment.dot(&level_seen),
            rows: sum.rows,
        }
    }
}

/// Watts per column, and the sum of squares that they leave.
#[derive(Clone, Debug)]
pub(super) struct Solution {
    pub(super) watts: DVector<f64>,
    pub(super) chi_square: f64,
}

impl Reduced {
    /// Watts of the named columns alone.
    pub(super) fn solve_among(&self, active: &[usize]) -> Solution {
        let small = DMatrix::from_fn(active.len(), active.len(), |i, j| self.gram[(active[i], active[j])]);
        let moment = DVector::from_fn(active.len(), |i, _| self.moment[active[i]]);
        let found = non_negative(&small, &moment);
        let chi_square = self.square - 2.0 * moment.dot(&found) + found.dot(&(&small * &found));
        let mut watts = DVector::zeros(self.moment.len());
        for (&i, w) in active.iter().zip(found.iter()) {
            watts[i] = *w;
        }
        Solution { watts, chi_square }
    }
}
