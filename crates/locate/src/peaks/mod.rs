//! Which warm places are real.
//!
//! Not which *pixels*: spread heat makes thousands of pixels truly warm. Each **peak** of the scale space is judged by
//! the maximum statistic against the recording's own null, with the same maximisation over responses inside it. Half
//! the error budget goes to footprints on the injected rail, half to everywhere else.

mod extremes;
mod null;
mod parts;
#[cfg(test)]
pub mod reference;
mod scale_space;
mod search;

use nalgebra::{DMatrix, DVector, Point2};
use rayon::prelude::*;

use crate::{covariance, maps::Plane, model::ResponseModel};
use extremes::{Extremes, Places};
use null::MaximumLaw;
pub use parts::PartPlace;
use search::{Filtered, Level, Spread};

/// Candidates below this score are never looked at: even the smallest region's maximum exceeds it by chance.
const LEAST_SCORE: f32 = 3.0;
/// Candidates nearer than this many scales of a stronger one belong to it.
const SAME_SPOT_SCALES: f64 = 2.5;
/// Scales finer than the strongest are preferred for the position while they keep this share of its score.
const FINER_SHARE: f64 = 0.6;

/// With the trends free, this score must remain at the place itself: one chance in 44 per place.
const LEAST_BREAK: f64 = 2.0;
/// And this share of what the rise found would leave; a straight or bent trend leaves nothing.
const BREAK_SHARE: f64 = 0.3;

/// Where the search looks, and where it looks first.
#[derive(Clone, Debug)]
pub struct Regions {
    /// Pixels on the board.
    pub board: Vec<bool>,
    /// Pixels on footprints that sit on the injected rail, or a rail joined to it.
    pub rail: Vec<bool>,
    /// The footprints that sit there.
    pub parts: Vec<PartPlace>,
    /// The other footprints.
    pub decoys: Vec<PartPlace>,
}

/// A peak of the scale space with its verdict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Grid position of the maximum, in picture pixels; refined later.
    pub at_px: Point2<f64>,
    /// Scale of the finest level that still shows the peak clearly.
    pub scale_px: f64,
    /// Place and scale of the strongest level.
    pub strongest_px: (Point2<f64>, f64),
    /// Largest standardised rise.
    pub z: f64,
    /// Index of the candidate response there.
    pub member: usize,
    /// Probability of a maximum this strong in its region, or at the middles of the parts, under the null, times its share in the
    /// budget of errors.
    pub p_value: f64,
    /// Adjusted over the peaks.
    pub q_value: f64,
    grid: GridPlace,
}

impl Peak {
    /// The same peak at the scale that shows it most strongly: a large part is a plateau on which the finest scale sees a corner.
    pub fn broad(&self) -> Self {
        let (at_px, scale_px) = self.strongest_px;
        Self { at_px, scale_px, ..*self }
    }
}

/// Where in the scale space a candidate is.
#[derive(Clone, Copy, Debug, PartialEq)]
struct GridPlace {
    octave: usize,
    level: usize,
    index: usize,
}

/// Finds peaks and judges them; strongest first. `signal` and `nulls` are coefficient planes in units of the pixel noise.
/// `learn_drift` weighs places against how the recording's own scatter, drift included; without it against its noise.
pub fn find(
    model: &ResponseModel,
    signal: &[Plane],
    nulls: &[Vec<Plane>],
    regions: &Regions,
    learn_drift: bool,
) -> Vec<Peak> {
    let (width, height) = (signal[0].width, signal[0].height);
    let octaves = scale_space::octaves(width, height);
    let filtered = Filtered::new(signal, octaves);
    let places = Places::new(regions, width, &filtered);
    let directions = unit_directions(model);
    // One draw at a time: filtered, all of them together would outweigh the recording.
    let mut draw = Filtered::default();
    // The null of a step holds nothing of what comes after the onset and settles on parts, as reflections do.
    let parts = if model.drive.pulses().is_some() { regions.parts.as_slice() } else { &[] };
    let (draws, at_parts): (Vec<Vec<Extremes>>, Vec<_>) = nulls
        .iter()
        .map(|planes| {
            draw.fill(planes, octaves);
            (extremes::extremes(&draw, &places, &directions), parts::draw(parts, &draw, &directions))
        })
        .unzip();
    drop(draw);
    let noise = noise_spread(&draws, filtered.vectors(), octaves);
    let spread = if learn_drift { recording_spread(&filtered, &noise, &regions.board, width) } else { noise.clone() };
    let laws = region_laws(&draws, &noise, regions);
    let levels = search::search(&filtered, &spread, &model.members);
    let mut peaks = merged(candidates(&levels, &regions.board, width));
    // Half of the budget for the footprints on the rail and half for everywhere else; with tests at the middles of parts half for
    // them, and half for the search over all pixels.
    let share = if parts.is_empty() { 2.0 } else { 4.0 };
    for peak in &mut peaks {
        let law = if regions.rail[nearest(peak.at_px, width, height)] { &laws.rail } else { &laws.elsewhere };
        peak.p_value = (share * law.p_value(peak.z)).min(1.0);
    }
    parts::judge(&mut peaks, (parts, &regions.decoys), &at_parts, (&filtered, &spread, &noise), &model.members, 2.0);
    peaks.retain(|p| breaks_slope(p, &filtered, &spread, &noise, model));
    // The others cannot be real at any setting; they would only dilute the adjustment.
    peaks.retain(|p| p.p_value < 0.5);
    let p: Vec<f64> = peaks.iter().map(|p| p.p_value).collect();
    // A probability of the maximum over all places is adjusted for them already (Westfall & Young, Resampling-Based Multiple Testing,
    // 1993, sec. 2.3). Only what a step's null does not show calls for more.
    let q = if model.drive.pulses().is_some() { p } else { null::benjamini_hochberg(&p) };
    for (peak, q) in peaks.iter_mut().zip(q) {
        peak.q_value = q;
    }
    peaks
}

/// Whether the place breaks slope at the logged onset: with both trends left free something must remain, about as much as
/// the rise that was found would leave. What warms or cools all along does not pass.
fn breaks_slope(peak: &Peak, filtered: &Filtered, spread: &Spread, noise: &Spread, model: &ResponseModel) -> bool {
    let GridPlace { octave, level, index } = peak.grid;
    let coordinates = &model.members[peak.member].coordinates;
    let here = DVector::from_fn(filtered.vectors(), |v, _| f64::from(filtered.plane(v, octave, level).values[index]));
    let Some(factor) = spread[octave][level].clone().cholesky() else { return false };
    let weighted = factor.solve(coordinates);
    let amplitude = weighted.dot(&here) / weighted.dot(coordinates);
    let off_trends = coordinates.rows(model.nuisances, coordinates.len() - model.nuisances);
    let noise_sd = noise[octave][level][(0, 0)].sqrt();
    let expected = amplitude * off_trends.norm() / noise_sd;
    let found =
        off_trends.dot(&here.rows(model.nuisances, here.len() - model.nuisances)) / (off_trends.norm() * noise_sd);
    found >= LEAST_BREAK.max(BREAK_SHARE * expected)
}

fn nearest(at: Point2<f64>, width: usize, height: usize) -> usize {
    let x = (at.x.round().max(0.0) as usize).min(width - 1);
    let y = (at.y.round().max(0.0) as usize).min(height - 1);
    y * width + x
}

/// Picture index of a grid pixel.
fn picture_index(p: usize, grid_width: usize, octave: usize, width: usize) -> usize {
    ((p / grid_width) << octave) * width + ((p % grid_width) << octave)
}

/// At most this many places enter a covariance: more no longer sharpen it.
const MOST_PLACES: usize = 10_000;

/// Coefficient vectors of the places on the board, as columns.
fn places(planes: &[&Plane], octave: usize, board: &[bool], width: usize) -> DMatrix<f64> {
    let grid_width = planes[0].width;
    let on_board: Vec<usize> =
        (0..planes[0].values.len()).filter(|&p| board[picture_index(p, grid_width, octave, width)]).collect();
    let stride = on_board.len().div_ceil(MOST_PLACES).max(1);
    let kept: Vec<usize> = on_board.into_iter().step_by(stride).collect();
    DMatrix::from_fn(planes.len(), kept.len(), |i, j| f64::from(planes[i].values[kept[j]]))
}

/// Candidates at unit length: with the null's equal variance along all vectors these are the weights of its scores.
fn unit_directions(model: &ResponseModel) -> Vec<Vec<f32>> {
    let vectors = model.vectors.ncols();
    covariance::score_weights(&DMatrix::identity(vectors, vectors), model.members.iter().map(|m| &m.coordinates))
}

/// The same for planes at hand.
#[cfg(test)]
fn noise_spread_of(draws: &[Filtered]) -> Spread {
    per_level(draws[0].octaves(), |octave, level| {
        let values = || draws.iter().flat_map(|d| d.planes(octave, level)).flat_map(|p| &p.values);
        let sum: f64 = values().map(|v| f64::from(v * v)).sum();
        let vectors = draws[0].vectors();
        DMatrix::identity(vectors, vectors) * (sum / values().count() as f64)
    })
}

/// Variance of the filtered null, pooled over draws and vectors: all have unit variance before filtering.
fn noise_spread(draws: &[Vec<Extremes>], vectors: usize, octaves: usize) -> Spread {
    per_level(octaves, |octave, level| {
        let (sum, count) = draws
            .iter()
            .flatten()
            .filter(|e| (e.octave, e.level) == (octave, level))
            .fold((0.0, 0.0), |(sum, count), e| (sum + e.squares.0, count + e.squares.1));
        let variance: f64 = if count > 0.0 { sum / count } else { 0.0 };
        DMatrix::identity(vectors, vectors) * variance.max(f64::MIN_POSITIVE)
    })
}

/// Covariance over the recording itself, never below its noise.
fn recording_spread(filtered: &Filtered, noise: &Spread, board: &[bool], width: usize) -> Spread {
    per_level(filtered.octaves(), |octave, level| {
        let planes: Vec<&Plane> = (0..filtered.vectors()).map(|v| filtered.plane(v, octave, level)).collect();
        covariance::robust(&places(&planes, octave, board, width), noise[octave][level][(0, 0)])
    })
}

fn per_level(octaves: usize, spread: impl Fn(usize, usize) -> DMatrix<f64> + Sync) -> Spread {
    (0..octaves).into_par_iter().map(|octave| [spread(octave, 0), spread(octave, 1)]).collect()
}

struct Laws {
    rail: MaximumLaw,
    elsewhere: MaximumLaw,
}

fn region_laws(draws: &[Vec<Extremes>], noise: &Spread, regions: &Regions) -> Laws {
    let mut maxima = [Vec::new(), Vec::new()];
    for draw in draws {
        for (region, maxima) in maxima.iter_mut().enumerate() {
            for sign in 0..2 {
                let standardised =
                    draw.iter().map(|e| f64::from(e.maxima[region][sign]) / noise[e.octave][e.level][(0, 0)].sqrt());
                maxima.extend(standardised.max_by(f64::total_cmp).filter(|z| z.is_finite()));
            }
        }
    }
    let [rail, elsewhere] = maxima;
    let rail_px = regions.rail.iter().zip(&regions.board).filter(|(r, b)| **r && **b).count() as f64;
    let board_px = regions.board.iter().filter(|b| **b).count() as f64;
    Laws {
        rail: MaximumLaw::fit(&rail, independent_tests(rail_px)),
        elsewhere: MaximumLaw::fit(&elsewhere, independent_tests(board_px - rail_px)),
    }
}

/// A cautious count of independent tests: at the finest scale one per two pixels, a third of that for all coarser ones
/// together, times two for the freedom in the response.
fn independent_tests(pixels: f64) -> f64 {
    pixels / 2.0 * (4.0 / 3.0) * 2.0
}

fn candidates(levels: &[Level], board: &[bool], width: usize) -> Vec<Peak> {
    let of_level =
        |level: &Level| (0..level.z.height).into_par_iter().flat_map_iter(|y| of_row(level, y, board, width)).collect();
    levels.iter().flat_map(|level| -> Vec<Peak> { of_level(level) }).collect()
}

/// Places of one row that no neighbour exceeds.
fn of_row(level: &Level, y: usize, board: &[bool], width: usize) -> Vec<Peak> {
    let (w, h) = (level.z.width, level.z.height);
    let mut found = Vec::new();
    for (x, &z) in level.z.values[y * w..(y + 1) * w].iter().enumerate() {
        let p = y * w + x;
        if z < LEAST_SCORE || !board[picture_index(p, w, level.octave, width)] {
            continue;
        }
        let higher = (y.saturating_sub(1)..=(y + 1).min(h - 1))
            .flat_map(|v| (x.saturating_sub(1)..=(x + 1).min(w - 1)).map(move |u| (u, v)))
            .any(|(u, v)| level.z.at(u, v) > z);
        if !higher {
            let step = f64::from(1_u32 << level.octave);
            let at_px = Point2::new(x as f64 * step, y as f64 * step);
            let scale_px = scale_space::scale_px(level.octave, level.level);
            found.push(Peak {
                at_px,
                scale_px,
                strongest_px: (at_px, scale_px),
                z: f64::from(z),
                member: level.member[p].into(),
                p_value: 1.0,
                q_value: 1.0,
                grid: GridPlace { octave: level.octave, level: level.level, index: p },
            });
        }
    }
    found
}

/// Keeps the strongest candidate of each spot, and moves it to the finest scale that still shows it clearly.
fn merged(mut found: Vec<Peak>) -> Vec<Peak> {
    found.sort_by(|a, b| b.z.total_cmp(&a.z));
    let mut kept: Vec<Peak> = Vec::new();
    for candidate in &found {
        let apart = kept
            .iter()
            .all(|k| (k.at_px - candidate.at_px).norm() > SAME_SPOT_SCALES * k.scale_px.max(candidate.scale_px));
        if apart {
            kept.push(*candidate);
        }
    }
    for peak in &mut kept {
        let finer = found
            .iter()
            .filter(|c| {
                c.scale_px < peak.scale_px
                    && c.z >= FINER_SHARE * peak.z
                    && (c.at_px - peak.at_px).norm() <= peak.scale_px
            })
            .min_by(|a, b| a.scale_px.total_cmp(&b.scale_px).then(b.z.total_cmp(&a.z)));
        if let Some(finer) = finer {
            peak.at_px = finer.at_px;
            peak.scale_px = finer.scale_px;
            peak.member = finer.member;
            peak.grid = finer.grid;
        }
    }
    kept
}
