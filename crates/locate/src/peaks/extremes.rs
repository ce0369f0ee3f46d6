//! What the search needs to know of a draw of the null: how much it scatters and how high it reaches, per scale. Places and
//! candidates are not kept, so most of the work is skipped.

use pulp::Arch;
use rayon::prelude::*;

use super::{Regions, picture_index, search::Filtered};
use crate::maps::Plane;

/// Where on the board a grid pixel of an octave lies: [`RAIL`], [`ELSEWHERE`] or [`OFF_BOARD`].
pub(super) struct Places(Vec<Vec<u8>>);

/// On a footprint that the current can reach; index into maxima.
const RAIL: u8 = 0;
/// On the rest of the board; index into maxima.
const ELSEWHERE: u8 = 1;
/// Not looked at.
const OFF_BOARD: u8 = 2;
/// Rounding of a sum of some ten squares in f32 stays below this share.
const ROUNDING: f32 = 1e-5;

impl Places {
    /// For grids of the given widths and sizes, one per octave.
    pub(super) fn new(regions: &Regions, width: usize, filtered: &Filtered) -> Self {
        let octave = |octave: usize| {
            let plane = filtered.plane(0, octave, 0);
            (0..plane.values.len())
                .map(|p| match picture_index(p, plane.width, octave, width) {
                    at if !regions.board[at] => OFF_BOARD,
                    at if regions.rail[at] => RAIL,
                    _ => ELSEWHERE,
                })
                .collect()
        };
        Self((0..filtered.octaves()).into_par_iter().map(octave).collect())
    }
}

/// One scale of one draw, in units of the unfiltered noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Extremes {
    pub(super) octave: usize,
    pub(super) level: usize,
    /// Sum of squares on the board over all vectors, and of how many values.
    pub(super) squares: (f64, f64),
    /// Largest score on the rail and elsewhere, for the draw and for its negative; minus infinity where there is no place.
    pub(super) maxima: [[f32; 2]; 2],
}

/// Extremes at all scales. `directions` are unit weights on the vectors, one set per candidate.
pub(super) fn extremes(filtered: &Filtered, places: &Places, directions: &[Vec<f32>]) -> Vec<Extremes> {
    filtered
        .scales()
        .into_par_iter()
        .map(|(octave, level)| {
            let planes = filtered.planes(octave, level);
            let (squares, maxima) = scale(&planes, &places.0[octave], directions);
            Extremes { octave, level, squares, maxima }
        })
        .collect()
}

fn scale(planes: &[&Plane], places: &[u8], directions: &[Vec<f32>]) -> ((f64, f64), [[f32; 2]; 2]) {
    let width = planes[0].width;
    let mut lengths = vec![0.0_f32; width];
    let (mut sum, mut count) = (0.0, 0.0);
    let mut maxima = [[f32::NEG_INFINITY; 2]; 2];
    for (y, places) in places.chunks_exact(width).enumerate() {
        let start = y * width;
        add_squares(planes, start, &mut lengths);
        for (x, (&place, &length)) in places.iter().zip(&lengths).enumerate() {
            if place == OFF_BOARD {
                continue;
            }
            sum += f64::from(length);
            count += planes.len() as f64;
            // A unit direction scores no more than the length: what cannot beat the smaller maximum is not scored.
            let [up, down] = &mut maxima[usize::from(place)];
            let least = up.min(*down);
            if least > 0.0 && length * (1.0 + ROUNDING) <= least * least {
                continue;
            }
            for direction in directions {
                let score: f32 = direction.iter().zip(planes).map(|(w, plane)| w * plane.values[start + x]).sum();
                *up = up.max(score);
                *down = down.max(-score);
            }
        }
    }
    ((sum, count), maxima)
}

/// Squares of the values from `start` on, over all planes.
fn add_squares(planes: &[&Plane], start: usize, lengths: &mut [f32]) {
    Arch::new().dispatch(
        #[inline(always)]
        || {
            lengths.fill(0.0);
            for plane in planes {
                for (length, value) in lengths.iter_mut().zip(&plane.values[start..]) {
                    *length += value * value;
                }
            }
        },
    );
}

#[cfg(test)]
mod tests {
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, StandardNormal};

    use super::*;

    #[test]
    fn skipping_loses_no_maximum() {
        let mut random = ChaCha8Rng::seed_from_u64(3);
        let (width, height) = (60, 50);
        let mut plane =
            || Plane::new(width, (0..width * height).map(|_| StandardNormal.sample(&mut random)).collect::<Vec<f32>>());
        let planes: Vec<Plane> = (0..4).map(|_| plane()).collect();
        let directions: Vec<Vec<f32>> = (0..7)
            .map(|j| {
                let angle = j as f32 * 0.3;
                vec![angle.cos() * 0.6, angle.sin() * 0.6, 0.8 * angle.cos(), 0.8 * angle.sin()]
            })
            .collect();
        let places: Vec<u8> = (0..width * height).map(|p| (p % 7 / 3) as u8).collect();
        let (squares, maxima) = scale(&planes.iter().collect::<Vec<_>>(), &places, &directions);
        for (region, maxima) in (0..).zip(maxima) {
            for (sign, maximum) in [1.0, -1.0].into_iter().zip(maxima) {
                let score =
                    |p: usize, w: &Vec<f32>| -> f32 { w.iter().zip(&planes).map(|(w, q)| w * q.values[p]).sum() };
                let plain = (0..width * height)
                    .filter(|&p| places[p] == region)
                    .flat_map(|p| directions.iter().map(move |w| sign * score(p, w)))
                    .fold(f32::NEG_INFINITY, f32::max);
                assert_eq!(maximum, plain);
            }
        }
        let on_board = places.iter().filter(|p| **p != OFF_BOARD).count() as f64 * 4.0;
        assert_eq!(squares.1, on_board);
        // Unit variance to sqrt(2 / 10 000), three times that allowed.
        assert!((squares.0 / squares.1 - 1.0).abs() < 0.045);
    }
}
