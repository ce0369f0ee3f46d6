//! Columns and rows whose offset walks during the take.

use pulp::Arch;
use rayon::prelude::*;

use super::lanes::sum_in_lanes;
use crate::maps::Plane;

/// A column's offset is told from its neighbours' within this many columns; slower changes across the picture are heat or
/// level.
const NEIGHBOURHOOD_PX: f64 = 6.0;
/// Stripes are taken off when they exceed what the noise of the pixels gives this many times, in variance.
const LEAST_EXCESS: f64 = 2.0;
/// Differences between neighbours count up to this many standard deviations of noise: an edge is no stripe.
const CLIP: f32 = 3.0;

/// Takes column and row offsets off all planes where the first `signal` planes show some. `noise` is the standard
/// deviation of a plane's pixels. Returns the size of what was taken off, standard deviation in the planes' unit.
pub(crate) fn take_off_stripes(planes: &mut [Plane], signal: usize, noise: f32) -> Option<f32> {
    let mut taken = 0.0_f32;
    for along in [Along::Columns, Along::Rows] {
        let offsets: Vec<Vec<f32>> = planes.par_iter().map(|plane| offsets(plane, along, noise)).collect();
        let across = along.across(&planes[0]) as f64;
        let expected = f64::from(noise).powi(2) / across;
        let signal_size = mean_square(offsets.iter().take(signal).flatten());
        if signal_size < LEAST_EXCESS * expected {
            continue;
        }
        taken = taken.hypot((signal_size - expected).sqrt() as f32);
        planes.par_iter_mut().zip(&offsets).for_each(|(plane, offsets)| {
            let width = plane.width;
            for (y, row) in plane.values.chunks_exact_mut(width).enumerate() {
                match along {
                    Along::Columns => row.iter_mut().zip(offsets).for_each(|(v, o)| *v -= o),
                    Along::Rows => row.iter_mut().for_each(|v| *v -= offsets[y]),
                }
            }
        });
    }
    (taken > 0.0).then_some(taken)
}

#[derive(Clone, Copy)]
enum Along {
    Columns,
    Rows,
}

impl Along {
    /// Pixels that a stripe runs over.
    fn across(self, plane: &Plane) -> usize {
        match self {
            Self::Columns => plane.height,
            Self::Rows => plane.width,
        }
    }
}

/// Offset of each stripe against its neighbours. Steps from stripe to stripe are means of clipped differences, added up;
/// then what changes slowly across the picture is taken off.
fn offsets(plane: &Plane, along: Along, noise: f32) -> Vec<f32> {
    let (width, height) = (plane.width, plane.height);
    let limit = CLIP * std::f32::consts::SQRT_2 * noise;
    let clip = move |a: f32, b: f32| (a - b).clamp(-limit, limit);
    let steps: Vec<f32> = Arch::new().dispatch(
        #[inline(always)]
        move || match along {
            Along::Columns => {
                let mut sums = vec![0.0_f32; width - 1];
                for row in plane.values.chunks_exact(width) {
                    for ((sum, a), b) in sums.iter_mut().zip(&row[1..]).zip(row) {
                        *sum += clip(*a, *b);
                    }
                }
                sums.into_iter().map(|s| s / height as f32).collect()
            }
            Along::Rows => plane
                .values
                .chunks_exact(width)
                .zip(plane.values.chunks_exact(width).skip(1))
                .map(|(above, below)| sum_in_lanes(below, above, clip) / width as f32)
                .collect(),
        },
    );
    let mut sum = 0.0;
    let walk: Vec<f32> = std::iter::once(0.0)
        .chain(steps.iter().map(|s| {
            sum += s;
            sum
        }))
        .collect();
    let smooth = Plane::new(walk.len(), walk.clone()).smoothed_along_rows(NEIGHBOURHOOD_PX);
    walk.iter().zip(&smooth.values).map(|(w, s)| w - s).collect()
}

fn mean_square<'a>(values: impl Iterator<Item = &'a f32>) -> f64 {
    let (sum, count) = values.fold((0.0, 0_usize), |(s, n), v| (s + f64::from(*v).powi(2), n + 1));
    sum / count.max(1) as f64
}

#[cfg(test)]
mod tests {
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, StandardNormal};

    use super::*;

    fn noisy(seed: u64) -> Plane {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        Plane::new(80, (0..80 * 60).map(|_| StandardNormal.sample(&mut random)).collect())
    }

    #[test]
    fn stripes_go_and_a_spot_stays() {
        let mut plane = noisy(1);
        for (p, value) in plane.values.iter_mut().enumerate() {
            let (x, y) = (p % 80, p / 80);
            let spot = 30.0 * (-((x as f64 - 40.0).powi(2) + (y as f64 - 30.0).powi(2)) / 18.0).exp();
            *value += if x % 2 == 0 { 0.8 } else { -0.8 } + if y % 3 == 0 { 1.0 } else { 0.0 } + spot as f32;
        }
        let mut planes = vec![plane];
        assert!(take_off_stripes(&mut planes, 1, 1.0).is_some());
        // Of the stripes 0.13 standard deviations of noise may stay (1 / sqrt(60)), twice that is allowed.
        let left = offsets(&planes[0], Along::Columns, 1.0);
        assert!(mean_square(left.iter()).sqrt() < 0.26);
        assert!(planes[0].at(40, 30) > 25.0);
    }

    #[test]
    fn noise_alone_is_left_alone() {
        let mut planes = vec![noisy(2), noisy(3)];
        let before = planes.clone();
        assert_eq!(take_off_stripes(&mut planes, 2, 1.0), None);
        assert_eq!(planes, before);
    }
}
