//! Rise at the end of injection from coefficients, and maps of it for the eye.

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::{Plane, noise::PixelNoise, profile::profile};
use crate::{covariance, model::ResponseModel};

/// The time constant of a pixel is taken from its neighbourhood of this standard deviation: alone it is too noisy.
const TAU_NEIGHBOURHOOD_PX: f64 = 1.5;
/// Below this score a pixel's own time constant means nothing, and the board's is used for its rise.
const TRUSTED_SCORE: f32 = 4.0;
/// Places that enter the neighbourhood's covariance, at most.
const MOST_PLACES: usize = 20_000;

/// Generalised least squares per candidate: weights that turn one pixel's coefficients into its rise.
#[derive(Clone, Debug)]
pub struct RiseEstimator {
    /// Variance of the nuisances from pixel to pixel, in units of the noise.
    pub trend_variance: Vec<f64>,
    /// Per candidate, weights on coefficients in units of the pixel noise.
    pub weights: Vec<Vec<f32>>,
    /// Per candidate, standard error of the rise in units of the pixel noise.
    pub standard_error: Vec<f64>,
}

impl RiseEstimator {
    /// Learns the size of the trends from the board's pixels: over the whole take, but no more than the frames before
    /// injection allow (`before_slope`, two standard errors up), since heat is no drift. A bend is taken to be no larger
    /// than the slope.
    pub fn new(model: &ResponseModel, coefficients: &[Plane], before_slope: &Plane, board: &[bool]) -> Self {
        let excess = |plane: &Plane| {
            let sample = sample(std::slice::from_ref(plane), board);
            ((covariance::robust(&sample, 1.0)[(0, 0)] - 1.0).max(0.0), sample.ncols().max(1))
        };
        let planes: Vec<&Plane> = coefficients[..model.nuisances].iter().chain([before_slope]).collect();
        let mut excesses: Vec<(f64, usize)> = planes.into_par_iter().map(excess).collect();
        let (before, places) = excesses.pop().unwrap_or((0.0, 1));
        let allowed = (before + 2.0 * (2.0 / places as f64).sqrt()) * model.slope_ratio;
        let trend = |(nuisance, (found, _)): (usize, (f64, usize))| {
            if nuisance < model.trends { found.min(allowed) } else { found }
        };
        let trend_variance: Vec<f64> = excesses.into_iter().enumerate().map(trend).collect();
        let size = model.vectors.ncols();
        let inverse = DVector::from_fn(size, |i, _| 1.0 / (1.0 + trend_variance.get(i).copied().unwrap_or(0.0)));
        let (weights, standard_error) = model
            .members
            .iter()
            .map(|member| {
                let w = member.coordinates.component_mul(&inverse);
                let information = member.coordinates.dot(&w);
                let per_unit = member.end / member.norm;
                let weights = w.iter().map(|v| (v / information * per_unit) as f32).collect();
                (weights, per_unit / information.sqrt())
            })
            .unzip();
        Self { trend_variance, weights, standard_error }
    }

    /// Rise of one pixel for a candidate, in units of the pixel noise.
    pub fn rise(&self, candidate: usize, coefficients: &[Plane], pixel: usize) -> f32 {
        self.weights[candidate].iter().zip(coefficients).map(|(w, plane)| w * plane.values[pixel]).sum()
    }
}

/// Planes of the picture's size.
#[derive(Clone, Debug)]
pub struct RiseMaps {
    /// Rise at the last injected frame, in the take's unit.
    pub rise: Plane,
    /// Its standard error.
    pub rise_se: Plane,
    /// Rise over its standard error.
    pub z: Plane,
    /// Time constant in seconds, NaN below the noise.
    pub tau_s: Plane,
}

/// The candidate that follows the board as a whole best: what a pixel is taken to do where it shows nothing of its own.
fn common_candidate(model: &ResponseModel, coefficients: &[Plane], board: &[bool]) -> usize {
    let count = board.iter().filter(|b| **b).count().max(1) as f64;
    let mean_of = |plane: &Plane| {
        plane.values.iter().zip(board).filter(|(_, b)| **b).map(|(v, _)| f64::from(*v)).sum::<f64>() / count
    };
    let mean = DVector::from_vec(coefficients.par_iter().map(mean_of).collect());
    let likeness = |i: usize| model.members[i].coordinates.dot(&mean) / model.members[i].coordinates.norm();
    (0..model.members.len()).max_by(|&a, &b| likeness(a).total_cmp(&likeness(b))).unwrap_or(0)
}

/// Profiles the response per pixel.
pub fn rise_maps(
    model: &ResponseModel,
    estimator: &RiseEstimator,
    coefficients: &[Plane],
    noise: &PixelNoise,
    board: &[bool],
) -> RiseMaps {
    let width = coefficients[0].width;
    let common = common_candidate(model, coefficients, board);
    let smooth: Vec<Plane> = coefficients.par_iter().map(|p| p.smoothed(TAU_NEIGHBOURHOOD_PX)).collect();
    // White noise through a Gaussian keeps 1/(4 pi sigma^2) of its variance.
    let noise_variance = 1.0 / (4.0 * std::f64::consts::PI * TAU_NEIGHBOURHOOD_PX.powi(2));
    let spread = covariance::robust(&sample(&smooth, board), noise_variance);
    let scores = covariance::score_weights(&spread, model.members.iter().map(|m| &m.coordinates));
    let taus: Vec<f32> = model.members.iter().map(|m| model.time_constant_s(m.response) as f32).collect();
    let (best, which) = profile(&smooth.iter().collect::<Vec<_>>(), &scores);
    let pixel = |p: usize| {
        let trusted = best[p] > TRUSTED_SCORE;
        let j = if trusted { which[p].into() } else { common };
        let rise = estimator.rise(j, coefficients, p);
        let se = estimator.standard_error[j] as f32;
        [rise * noise.sigma[p], se * noise.sigma[p], rise / se, if trusted { taus[j] } else { f32::NAN }]
    };
    let values: Vec<[f32; 4]> = (0..coefficients[0].values.len()).into_par_iter().map(pixel).collect();
    let plane = |i: usize| Plane::new(width, values.par_iter().map(|v| v[i]).collect());
    RiseMaps { rise: plane(0), rise_se: plane(1), z: plane(2), tau_s: plane(3) }
}

/// Coefficient vectors of the board's pixels, as columns.
fn sample(planes: &[Plane], board: &[bool]) -> DMatrix<f64> {
    let on_board: Vec<usize> = (0..board.len()).filter(|&p| board[p]).collect();
    let stride = on_board.len().div_ceil(MOST_PLACES).max(1);
    let places: Vec<usize> = on_board.into_iter().step_by(stride).collect();
    DMatrix::from_fn(planes.len(), places.len(), |i, j| f64::from(planes[i].values[places[j]]))
}
