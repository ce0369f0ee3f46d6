//! Faulty pixels: found from a sample of the frames, replaced by their neighbours.

use std::ops::Range;

use joulemark_frames::Stack;
use pulp::Arch;
use rayon::prelude::*;

use super::Frames;

/// Blocks of frames whose means are compared, and frames in each.
const BLOCKS: usize = 16;
const BLOCK_FRAMES: usize = 6;
/// A pixel's means differ by this many times the squares that noise makes before it is looked at: only then would heat
/// show in its neighbours as well.
const WILD: f32 = 40.0;
/// Share of its squares that each neighbour shows at least where a lens (with its pixel, 0.65 px or more) spreads heat:
/// `exp(-1 / 0.65^2) = 0.09`, less than half of it for what the model leaves out; and what noise may make of it.
const SPREAD_SHARE: f32 = 0.04;
const NOISE_SHARE: f32 = 2.5;

/// A pixel that stands out from all four neighbours by this many times the picture's mean of that is not the board's: a
/// lens spreads every point over its neighbours.
const ALONE_FACTOR: f32 = 12.0;

/// Replaces faulty pixels while frames are read.
#[derive(Clone, Debug, Default)]
pub(super) struct Mend {
    /// By pixel, each with its usable neighbours.
    holes: Vec<(usize, Vec<usize>)>,
}

impl Mend {
    /// Neighbours are the usable ones of the nearest ring that has any, out to five pixels; without any the pixel stays.
    pub(super) fn new(faulty: &[usize], width: usize, height: usize) -> Self {
        let mut sorted = faulty.to_vec();
        sorted.sort_unstable();
        sorted.dedup();
        let holes = sorted
            .iter()
            .map(|&pixel| {
                let (y, x) = (pixel / width, pixel % width);
                let ring = |r: usize| -> Vec<usize> {
                    (y.saturating_sub(r)..=(y + r).min(height - 1))
                        .flat_map(|v| (x.saturating_sub(r)..=(x + r).min(width - 1)).map(move |u| v * width + u))
                        .filter(|p| sorted.binary_search(p).is_err())
                        .collect()
                };
                (pixel, (1..=5).map(ring).find(|n| !n.is_empty()).unwrap_or_default())
            })
            .collect();
        Self { holes }
    }

    /// Mends the run `out` of a frame.
    pub(super) fn apply(&self, stack: &Stack, frame: usize, run: Range<usize>, out: &mut [f32]) {
        let first = self.holes.partition_point(|(p, _)| *p < run.start);
        for (pixel, neighbours) in self.holes[first..].iter().take_while(|(p, _)| *p < run.end) {
            let mut sum = 0.0;
            for &neighbour in neighbours {
                let mut value = [0.0];
                stack.copy_run(frame, neighbour..neighbour + 1, &mut value);
                sum += value[0];
            }
            if !neighbours.is_empty() {
                out[pixel - run.start] = sum / neighbours.len() as f32;
            }
        }
    }
}

/// Pixels whose level wanders or jumps on its own while their neighbours' does not (random telegraph noise), ascending.
/// `sigma` is the noise of one pixel from frame to frame.
///
/// The variance from frame to frame, by which far too noisy pixels are found, does not see a jump that comes once in a
/// while. What a lens draws is spread over neighbours, so what changes on one pixel alone is the sensor's.
pub fn flickering(frames: &dyn Frames, sigma: f32) -> Vec<usize> {
    let shape = frames.shape();
    let (width, height, pixels) = (shape.width_px, shape.height_px, shape.pixels());
    let blocks = BLOCKS.min(shape.frames / 2);
    if blocks < 4 || width < 5 || height < 5 {
        return Vec::new();
    }
    let length = BLOCK_FRAMES.min(shape.frames / blocks);
    let means: Vec<Vec<f32>> = (0..blocks)
        .into_par_iter()
        .map(|k| {
            let first = k * (shape.frames - length) / (blocks - 1);
            let mut level = vec![0.0_f32; pixels];
            frames.copy_run(first, 0..pixels, &mut level);
            let mut sum = vec![0.0_f32; pixels];
            let mut values = vec![0.0_f32; pixels];
            for t in first + 1..first + length {
                frames.copy_run(t, 0..pixels, &mut values);
                sum.iter_mut().zip(&values).zip(&level).for_each(|((s, v), l)| *s += v - l);
            }
            level.iter_mut().zip(&sum).for_each(|(l, s)| *l += s / length as f32);
            level
        })
        .collect();
    let noise = (blocks - 1) as f32 * sigma * sigma / length as f32;
    (2..height - 2)
        .into_par_iter()
        .flat_map_iter(|y| {
            let means = &means;
            // Against the ring two pixels away: common drift and broad heat are in it as well.
            let squares = |first: usize, middle: Range<usize>| {
                let mut squares = vec![0.0; middle.len()];
                squares_against_ring(means, width, first, middle, &mut squares);
                squares
            };
            let row = y * width + 2..(y + 1) * width - 2;
            row.clone().zip(squares(row.start, row)).filter_map(move |(p, own)| {
                let faulty = own > WILD * noise
                    && [p - 1, p + 1, p - width, p + width]
                        .into_iter()
                        .all(|q| squares(q, p..p + 1)[0] < NOISE_SHARE * noise + SPREAD_SHARE * own);
                faulty.then_some(p)
            })
        })
        .collect()
}

/// How much the means of pixels, from `first_px` on, differ from those of the rings two pixels away from the pixels of `run`, as sums
/// of squares about their mean.
fn squares_against_ring(means: &[Vec<f32>], width: usize, first_px: usize, run: Range<usize>, out: &mut [f32]) {
    Arch::new().dispatch(
        #[inline(always)]
        || {
            let count = run.len();
            let mut first = vec![0.0_f32; count];
            let mut sums = vec![0.0_f32; count];
            for (k, mean) in means.iter().enumerate() {
                let from = |start: usize| &mean[start..start + count];
                let above = run.start - 2 * width;
                let below = run.start + 2 * width;
                let ring = [
                    from(above - 2),
                    from(above),
                    from(above + 2),
                    from(run.start - 2),
                    from(run.start + 2),
                    from(below - 2),
                    from(below),
                    from(below + 2),
                ];
                let own = from(first_px);
                for i in 0..count {
                    let [a, b, c, d, e, f, g, h] = ring.map(|values| values[i]);
                    let against = own[i] - (a + b + c + d + e + f + g + h) / 8.0;
                    if k == 0 {
                        first[i] = against;
                    }
                    let value = against - first[i];
                    sums[i] += value;
                    out[i] += value * value;
                }
            }
            for (square, sum) in out.iter_mut().zip(sums) {
                *square -= sum * sum / means.len() as f32;
            }
        },
    );
}

/// Pixels that stand out from all their neighbours, to the same side in all of `frames`, or are no numbers there.
///
/// The frames should differ in where the picture stands, so that nothing of the board stays on one pixel.
pub(super) fn alone(stack: &Stack, frames: &[usize]) -> Vec<usize> {
    let shape = stack.shape();
    let (width, pixels) = (shape.width_px, shape.pixels());
    if frames.is_empty() || width < 3 || shape.height_px < 3 {
        return Vec::new();
    }
    let read = |&frame: &usize| {
        let mut values = vec![0.0_f32; pixels];
        stack.copy_run(frame, 0..pixels, &mut values);
        values
    };
    let pictures: Vec<Vec<f32>> = frames.par_iter().map(read).collect();
    let mut least = vec![f32::INFINITY; pixels];
    let mut above = vec![0_i32; pixels];
    let rows = least.par_chunks_mut(width).zip(above.par_chunks_mut(width)).enumerate();
    rows.filter(|(y, _)| (1..shape.height_px - 1).contains(y)).for_each(|(y, (least, above))| {
        for values in &pictures {
            let row = |y: usize| &values[y * width..(y + 1) * width];
            let (up, here, down) = (row(y - 1), row(y), row(y + 1));
            for x in 1..width - 1 {
                let (l, r, u, d) = (here[x - 1], here[x + 1], up[x], down[x]);
                let over = here[x] - l.max(r).max(u.max(d));
                let under = l.min(r).min(u.min(d)) - here[x];
                above[x] += i32::from(over > 0.0) - i32::from(under > 0.0);
                least[x] = least[x].min(over.max(under).max(0.0));
            }
        }
    });
    let values = &pictures[pictures.len() - 1];
    let count = frames.len() as i32;
    let inner = |p: usize| (1..shape.height_px - 1).contains(&(p / width)) && (1..width - 1).contains(&(p % width));
    // The mean over one frame: over several, the least is nearly always zero.
    let mut typical = 0.0_f64;
    for y in (1..shape.height_px - 1).step_by(2) {
        for x in 1..width - 1 {
            let p = y * width + x;
            let (l, r, u, d) = (values[p - 1], values[p + 1], values[p - width], values[p + width]);
            let out = (values[p] - l.max(r).max(u.max(d))).max(l.min(r).min(u.min(d)) - values[p]).max(0.0);
            typical += if out.is_finite() { f64::from(out.min(1e3)) } else { 0.0 };
        }
    }
    typical /= ((shape.height_px - 1) / 2 * (width - 2)) as f64;
    let limit = ALONE_FACTOR * typical as f32;
    (0..pixels)
        .filter(|&p| !values[p].is_finite() || (inner(p) && above[p].abs() == count && least[p] > limit))
        .collect()
}

#[cfg(test)]
mod tests {
    use joulemark_frames::{CountsLaw, Samples};
    use ndarray::Array3;
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, Normal};

    use super::*;

    /// Two pixels that jump by 0.6 K, one of them once only; a spot of 0.7 px that warms by 5 K, and one of 3 px. A pixel of
    /// the third row jumps as well; two of the outer rows do, without a ring around them, and are left alone.
    #[test]
    fn jumping_pixels_are_told_from_small_hot_spots() {
        let mut random = ChaCha8Rng::seed_from_u64(4);
        let noise = Normal::new(0.0_f32, 0.05).unwrap();
        let samples = Array3::from_shape_fn((120, 40, 60), |(t, y, x)| {
            let spot =
                |u: f32, v: f32, s: f32| (-0.5 * ((x as f32 - u).powi(2) + (y as f32 - v).powi(2)) / (s * s)).exp();
            let age = t.saturating_sub(40) as f32 / 80.0;
            let mut value =
                300.0 + noise.sample(&mut random) + age * (5.0 * spot(20.0, 20.0, 0.7) + 2.0 * spot(45.3, 12.6, 3.0));
            let at_edge = [(2, 25), (38, 25), (0, 0)].contains(&(y, x));
            if (y, x) == (30, 30) && t >= 70 || ((y, x) == (8, 9) || at_edge) && (t / 9) % 2 == 0 {
                value += 0.6;
            }
            value
        });
        let stack = Stack::new(Samples::F32(samples), CountsLaw::IDENTITY);
        assert_eq!(flickering(&stack, 0.05), [2 * 60 + 25, 8 * 60 + 9, 30 * 60 + 30]);
    }

    #[test]
    fn what_stands_out_in_all_frames_is_found() {
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let noise = Normal::new(300.0_f32, 0.05).unwrap();
        let mut samples = Array3::from_shape_fn((6, 30, 40), |_| noise.sample(&mut random));
        for t in 0..6 {
            samples[[t, 10, 10]] = 320.0;
            samples[[t, 20, 30]] = 290.0;
        }
        let stack = Stack::new(Samples::F32(samples), CountsLaw::IDENTITY);
        assert_eq!(alone(&stack, &[0, 1, 2, 3, 4, 5]), [10 * 40 + 10, 20 * 40 + 30]);
    }
}
