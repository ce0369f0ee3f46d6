//! The search itself: the largest standardised rise over all candidate responses, at every place and scale. The very
//! same search runs on the recording and on its null.

use nalgebra::DMatrix;
use rayon::prelude::*;

use super::scale_space::{self, LEVELS};
use crate::{
    covariance,
    maps::{Plane, weighted_sum},
    model::Member,
};

/// A set of coefficient planes, filtered: `[vector][octave][level]`.
pub(super) struct Filtered {
    planes: Vec<Vec<[Plane; LEVELS]>>,
}

impl Filtered {
    pub(super) fn new(coefficients: &[Plane], octaves: usize) -> Self {
        Self { planes: coefficients.par_iter().map(|plane| scale_space::filtered(plane, octaves)).collect() }
    }

    pub(super) fn octaves(&self) -> usize {
        self.planes.first().map_or(0, Vec::len)
    }

    pub(super) fn vectors(&self) -> usize {
        self.planes.len()
    }

    pub(super) fn plane(&self, vector: usize, octave: usize, level: usize) -> &Plane {
        &self.planes[vector][octave][level]
    }
}

/// Covariance of the filtered coefficients where nothing special happens: `[octave][level]`.
pub(super) type Spread = Vec<[DMatrix<f64>; LEVELS]>;

/// Standardised rise at one scale.
pub(super) struct Level {
    pub(super) octave: usize,
    pub(super) level: usize,
    /// Largest over the candidates, with sign.
    pub(super) z: Plane,
    /// Largest of the negated field; only its maximum matters, for the null.
    pub(super) negative: Vec<f32>,
    /// Candidate that gave `z`.
    pub(super) member: Vec<u16>,
}

/// Runs the search over all scales.
pub(super) fn search(filtered: &Filtered, spread: &Spread, members: &[Member]) -> Vec<Level> {
    let scales: Vec<(usize, usize)> = (0..filtered.octaves()).flat_map(|o| (0..LEVELS).map(move |k| (o, k))).collect();
    scales
        .into_par_iter()
        .map(|(octave, level)| search_level(filtered, &spread[octave][level], members, octave, level))
        .collect()
}

fn search_level(filtered: &Filtered, spread: &DMatrix<f64>, members: &[Member], octave: usize, level: usize) -> Level {
    let planes: Vec<&Plane> = (0..filtered.vectors()).map(|v| filtered.plane(v, octave, level)).collect();
    let (width, pixels) = (planes[0].width, planes[0].values.len());
    let mut z = vec![f32::NEG_INFINITY; pixels];
    let mut negative = vec![f32::NEG_INFINITY; pixels];
    let mut member = vec![0_u16; pixels];
    let mut row = vec![0.0_f32; width];
    let weights = covariance::score_weights(spread, members.iter().map(|m| &m.coordinates));
    for start in (0..pixels).step_by(width) {
        let range = start..start + width;
        let rows: Vec<&[f32]> = planes.iter().map(|plane| &plane.values[range.clone()]).collect();
        for (j, weights) in weights.iter().enumerate() {
            weighted_sum(&mut row, &rows, weights, false);
            let best = z[range.clone()].iter_mut().zip(&mut member[range.clone()]).zip(&mut negative[range.clone()]);
            for (((z, member), negative), &value) in best.zip(&row) {
                if value > *z {
                    *z = value;
                    *member = j as u16;
                }
                *negative = negative.max(-value);
            }
        }
    }
    Level { octave, level, z: Plane::new(width, z), negative, member }
}
