//! The search itself: the largest standardised rise over all candidate responses, at every place and scale. The very
//! same search runs on the recording and on its null.

use nalgebra::DMatrix;
use rayon::prelude::*;

use super::scale_space::{self, LEVELS, Scratch, Space};
use crate::{
    covariance,
    maps::{self, Plane},
    model::Member,
};

/// A set of coefficient planes, filtered: `[vector][octave][level]`.
#[derive(Default)]
pub(super) struct Filtered {
    planes: Vec<Space>,
}

impl Filtered {
    pub(super) fn new(coefficients: &[Plane], octaves: usize) -> Self {
        let mut filtered = Self::default();
        filtered.fill(coefficients, octaves);
        filtered
    }

    /// Filters another set into the same memory.
    pub(super) fn fill(&mut self, coefficients: &[Plane], octaves: usize) {
        self.planes.resize_with(coefficients.len(), Space::new);
        self.planes.par_iter_mut().zip(coefficients).for_each_init(Scratch::default, |scratch, (space, plane)| {
            scale_space::filter(plane, octaves, space, scratch);
        });
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

    /// All vectors' planes of one scale.
    pub(super) fn planes(&self, octave: usize, level: usize) -> Vec<&Plane> {
        self.planes.iter().map(|p| &p[octave][level]).collect()
    }

    /// Octaves and levels, finest first.
    pub(super) fn scales(&self) -> Vec<(usize, usize)> {
        (0..self.octaves()).flat_map(|o| (0..LEVELS).map(move |k| (o, k))).collect()
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
    /// Candidate that gave `z`.
    pub(super) member: Vec<u16>,
}

/// Runs the search over all scales.
pub(super) fn search(filtered: &Filtered, spread: &Spread, members: &[Member]) -> Vec<Level> {
    let level = |(octave, level): (usize, usize)| {
        let weights = covariance::score_weights(&spread[octave][level], members.iter().map(|m| &m.coordinates));
        let planes = filtered.planes(octave, level);
        let (z, member) = maps::profile(&planes, &weights);
        Level { octave, level, z: Plane::new(planes[0].width, z), member }
    };
    filtered.scales().into_iter().map(level).collect()
}
