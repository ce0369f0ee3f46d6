//! Drift of the whole picture, seen beside the board, where nothing is injected.

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use crate::repair::Frames;

/// Pixels beside the board that are looked at; more no longer sharpen the median.
const MOST_LOOKED_AT: usize = 1500;
/// Pixels further apart than this along a row are read on their own.
const MOST_BETWEEN: usize = 32;
/// Fewer pixels beside the board than this tell nothing: a hand or a lead may be all of them.
const LEAST_PIXELS: usize = 300;

/// How the level beside the board went, in the take's unit, one value per frame, zero on average before injection.
#[derive(Clone, Debug)]
pub(crate) struct LevelCourse(pub(crate) Vec<f64>);

impl LevelCourse {
    /// The median over pixels beside the board of their change since before the injection. `None` where the board leaves
    /// too little beside it.
    pub(crate) fn read(stack: &dyn Frames, before: &[f32], board: &[bool], unusable: &[bool]) -> Option<Self> {
        let shape = stack.shape();
        let beside: Vec<usize> = (0..board.len())
            .into_par_iter()
            .filter(|&p| !unusable[p] && far_from_board(p, board, shape.width_px))
            .collect();
        if beside.len() < LEAST_PIXELS {
            return None;
        }
        let stride = beside.len().div_ceil(MOST_LOOKED_AT);
        let looked_at: Vec<usize> = beside.into_iter().step_by(stride).collect();
        // Neighbours are read together: where the picture moved, each run is resampled from the rows around it.
        let together = |a: &usize, b: &usize| a / shape.width_px == b / shape.width_px && b - a <= MOST_BETWEEN;
        let runs: Vec<&[usize]> = looked_at.chunk_by(together).collect();
        let course = (0..shape.frames)
            .into_par_iter()
            .map_init(Vec::new, |values: &mut Vec<f32>, frame| {
                let mut changes: Vec<f32> = Vec::with_capacity(looked_at.len());
                for run in &runs {
                    let (first, last) = (run[0], run[run.len() - 1]);
                    values.resize(last + 1 - first, 0.0);
                    stack.copy_run(frame, first..last + 1, values);
                    changes.extend(run.iter().map(|&p| values[p - first] - before[p]));
                }
                let middle = changes.len() / 2;
                f64::from(*changes.select_nth_unstable_by(middle, f32::total_cmp).1)
            })
            .collect();
        Some(Self(course))
    }

    /// What it leaves in the coefficient of each vector.
    pub(crate) fn coefficients(&self, basis: &DMatrix<f64>) -> DVector<f64> {
        basis.tr_mul(&DVector::from_column_slice(&self.0))
    }

    /// Root mean square over the frames.
    pub(crate) fn size(&self) -> f64 {
        let n = self.0.len().max(1) as f64;
        let mean = self.0.iter().sum::<f64>() / n;
        (self.0.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt()
    }
}

/// Two pixels and more from the board: closer ones see it through the lens.
fn far_from_board(p: usize, board: &[bool], width: usize) -> bool {
    let height = board.len() / width;
    let (x, y) = (p % width, p / width);
    (y.saturating_sub(2)..=(y + 2).min(height - 1))
        .all(|v| (x.saturating_sub(2)..=(x + 2).min(width - 1)).all(|u| !board[v * width + u]))
}
