//! Faulty pixels: found from a sample of the frames, replaced by their neighbours.

use std::ops::Range;

use joulemark_frames::Stack;

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

/// Pixels that stand out from all their neighbours, to the same side in all of `frames`, or are no numbers there.
///
/// The frames should differ in where the picture stands, so that nothing of the board stays on one pixel.
pub(super) fn alone(stack: &Stack, frames: &[usize]) -> Vec<usize> {
    let shape = stack.shape();
    let (width, pixels) = (shape.width_px, shape.pixels());
    if frames.is_empty() || width < 3 || shape.height_px < 3 {
        return Vec::new();
    }
    let mut values = vec![0.0_f32; pixels];
    let mut least = vec![f32::INFINITY; pixels];
    let mut above = vec![0_i32; pixels];
    for &frame in frames {
        stack.copy_run(frame, 0..pixels, &mut values);
        for y in 1..shape.height_px - 1 {
            let row = |y: usize| &values[y * width..(y + 1) * width];
            let (up, here, down) = (row(y - 1), row(y), row(y + 1));
            for x in 1..width - 1 {
                let (l, r, u, d) = (here[x - 1], here[x + 1], up[x], down[x]);
                let over = here[x] - l.max(r).max(u.max(d));
                let under = l.min(r).min(u.min(d)) - here[x];
                let p = y * width + x;
                above[p] += i32::from(over > 0.0) - i32::from(under > 0.0);
                least[p] = least[p].min(over.max(under).max(0.0));
            }
        }
    }
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
