//! Centre-minus-surround filters over a range of scales: Gaussians of ratio 2 subtracted, half an octave apart, each
//! octave on a grid of half the size (Lindeberg, IJCV 30 (1998) 79; Burt & Adelson, IEEE Trans. Commun. 31 (1983) 532).

use crate::maps::{Plane, Smoother};

/// Standard deviation of the finest Gaussian, in grid pixels. At 0.8 a grid can be halved after one octave with less
/// than 5 % of the amplitude folded over.
pub(super) const FINEST_PX: f64 = 0.8;
/// Scales per octave.
pub(super) const LEVELS: usize = 2;
/// The coarsest centre is this share of the picture's shorter side, at most.
const COARSEST_SHARE: f64 = 0.1;

/// How many octaves a picture of that size holds.
pub(super) fn octaves(width: usize, height: usize) -> usize {
    let coarsest = COARSEST_SHARE * width.min(height) as f64;
    ((coarsest / FINEST_PX).log2().floor().max(0.0) as usize).clamp(1, 5)
}

/// Standard deviation of the centre Gaussian of a level, in picture pixels.
pub(super) fn scale_px(octave: usize, level: usize) -> f64 {
    FINEST_PX * 2.0_f64.powf(octave as f64 + level as f64 / LEVELS as f64)
}

/// The filtered planes of one input: `[octave][level]`. Grid pixel (i, j) of octave o sits on picture pixel
/// (2^o i, 2^o j).
pub(super) type Space = Vec<[Plane; LEVELS]>;

/// Planes that are only needed on the way.
#[derive(Clone, Debug, Default)]
pub(super) struct Scratch {
    /// The grid of an octave and that of the next one.
    grid: Plane,
    next: Plane,
}

/// Filters `input` into `out`, whose memory is used again.
pub(super) fn filter(input: &Plane, octaves: usize, out: &mut Space, scratch: &mut Scratch) {
    out.resize_with(octaves, Default::default);
    let Scratch { grid, next } = scratch;
    for (i, levels) in out.iter_mut().enumerate() {
        octave(if i == 0 { input } else { grid }, i == 0, levels, next);
        std::mem::swap(grid, next);
    }
}

/// One octave, and the grid of the next one. All but the finest octave start at a grid that is smoothed already.
fn octave(grid: &Plane, raw: bool, levels: &mut [Plane; LEVELS], next: &mut Plane) {
    let (width, height) = (grid.width, grid.height);
    levels.iter_mut().for_each(|level| level.resize(width, height));
    next.resize(width.div_ceil(2), height.div_ceil(2));
    let mut chain = Chain::new(width, height);
    let mut to_first = Smoother::new(FINEST_PX, width, height);
    for y in 0..height {
        if !raw {
            levels[0].row_mut(y).copy_from_slice(grid.row(y));
            chain.follow(y, levels, next);
            continue;
        }
        to_first.push(grid.row(y));
        while let Some(y) = to_first.ready() {
            to_first.take(levels[0].row_mut(y));
            chain.follow(y, levels, next);
        }
    }
}

/// The Gaussians of one octave after the first, each on the rows of the one before while these are in the cache.
struct Chain {
    second: Smoother,
    third: Smoother,
    fourth: Smoother,
    row: Vec<f32>,
}

impl Chain {
    fn new(width: usize, height: usize) -> Self {
        // Standard deviations grow by sqrt(2) per level; variances of successive Gaussians add.
        let smoother = |factor: f64| Smoother::new(FINEST_PX * factor, width, height);
        Self {
            second: smoother(1.0),
            third: smoother(std::f64::consts::SQRT_2),
            fourth: smoother(2.0),
            row: vec![0.0; width],
        }
    }

    /// What follows from one more row of the first level.
    fn follow(&mut self, y: usize, [first, second]: &mut [Plane; LEVELS], next: &mut Plane) {
        let Self { second: to_second, third: to_third, fourth: to_fourth, row } = self;
        to_second.push(first.row(y));
        while let Some(y) = to_second.ready() {
            to_second.take(second.row_mut(y));
            to_third.push(second.row(y));
            while let Some(y) = to_third.ready() {
                to_third.take(row);
                subtract(first.row_mut(y), row);
                if y % 2 == 0 {
                    next.row_mut(y / 2).iter_mut().zip(row.chunks(2)).for_each(|(value, pair)| *value = pair[0]);
                }
                to_fourth.push(row);
                while let Some(y) = to_fourth.ready() {
                    to_fourth.take(row);
                    subtract(second.row_mut(y), row);
                }
            }
        }
    }
}

fn subtract(row: &mut [f32], other: &[f32]) {
    row.iter_mut().zip(other).for_each(|(value, other)| *value -= other);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gaussian_spot_answers_strongest_near_its_own_size() {
        let sigma = 3.0;
        let values = (0..96 * 96)
            .map(|p| {
                let (x, y) = ((p % 96) as f64 - 48.0, (p / 96) as f64 - 48.0);
                (-0.5 * (x * x + y * y) / (sigma * sigma)).exp() as f32
            })
            .collect();
        let mut space = Space::new();
        filter(&Plane::new(96, values), 4, &mut space, &mut Scratch::default());
        // Matched filtering weighs the answer by the filter's noise, which falls as 1/scale.
        let mut best = (0.0, 0.0);
        for (o, levels) in space.iter().enumerate() {
            for (k, plane) in levels.iter().enumerate() {
                let step = 1 << o;
                let answer = f64::from(plane.at(48 / step, 48 / step)) * scale_px(o, k);
                if answer > best.0 {
                    best = (answer, scale_px(o, k));
                }
            }
        }
        // s (w^2/(w^2+s^2) - w^2/(w^2+4s^2)) for a spot of width w is largest at s = 1.3 w; levels are a factor 1.41 apart.
        assert!((1.0..=1.6).contains(&(best.1 / sigma)), "{best:?}");
    }
}
