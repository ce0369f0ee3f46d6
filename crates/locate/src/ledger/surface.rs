//! What lies under each place: emissivity, and the part that gives its own temperature to its whole top.

use nalgebra::Point2;

use super::{
    board_constants::{MASK_EMISSIVITY, emissivity, heat_capacity_j_per_k},
    geometry::Spread,
    samples::{Sample, cover},
};
use crate::board::{Face, Footprint};

/// A part's mean is taken over points no closer than this.
const POINTS_MM: f64 = 1.0;
/// Shares of a place below this are not looked at.
const LEAST_SHARE: f64 = 0.02;

/// A part on the face: one temperature, the mean of the board under it.
pub(super) struct Patch {
    /// Points under the part.
    pub(super) points: Vec<Point2<f64>>,
    /// Places that it covers, with the share of each.
    pub(super) places: Vec<(usize, f64)>,
}

/// The face as the places see it.
pub(super) struct Surface {
    /// Per place; zero off the board.
    pub(super) emissivity: Vec<f64>,
    /// Per place: share on parts of unstated emissivity.
    pub(super) unsure: Vec<f64>,
    pub(super) patches: Vec<Patch>,
}

impl Surface {
    pub(super) fn new(face: &Face, samples: &[Sample], sigma_mm: f64) -> Self {
        let mut mean = vec![0.0; samples.len()];
        let mut rest = vec![1.0; samples.len()];
        let mut unsure = vec![0.0; samples.len()];
        let mut patches = Vec::new();
        for part in &face.parts {
            let footprint = Footprint::from(part);
            let mut places = Vec::new();
            for (i, sample) in samples.iter().enumerate().filter(|(_, s)| s.on_board) {
                let sigma = blur_mm(sample, sigma_mm);
                if (footprint.centre_mm - sample.at_mm).norm() > footprint.half_mm.norm() + 4.0 * sigma {
                    continue;
                }
                let share = cover(&footprint, sample.at_mm, sigma).min(rest[i]);
                mean[i] += share * emissivity(part);
                rest[i] -= share;
                unsure[i] += if part.emissivity.is_none() { share } else { 0.0 };
                if share > LEAST_SHARE {
                    places.push((i, share));
                }
            }
            if heat_capacity_j_per_k(part) > 0.0 && !places.is_empty() {
                patches.push(Patch { points: Spread::of_footprint(&footprint, POINTS_MM).points, places });
            }
        }
        let emissivity = samples
            .iter()
            .zip(mean.iter().zip(&rest))
            .map(|(s, (mean, rest))| if s.on_board { mean + rest * MASK_EMISSIVITY } else { 0.0 })
            .collect();
        Self { emissivity, unsure, patches }
    }
}

/// Blur of a place: the point spread, and the cell's own size.
pub(super) fn blur_mm(sample: &Sample, sigma_mm: f64) -> f64 {
    sigma_mm.hypot(sample.side_mm / 12_f64.sqrt())
}
