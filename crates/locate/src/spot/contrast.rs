//! How much a place stood out of its surroundings in every frame.

use rayon::prelude::*;

use crate::{peaks::Peak, repair::Frames};

/// Half-width of the surround in its standard deviations.
const REACH: f64 = 2.5;

/// Centre less surround at the peak's strongest scale, as the search filters (Gaussians of ratio 2), one value per frame; and
/// the standard deviation of its noise from frame to frame.
pub(crate) fn contrast(frames: &dyn Frames, peak: &Peak) -> (Vec<f64>, f64) {
    let shape = frames.shape();
    let (at_px, inner) = peak.strongest_px;
    let outer = 2.0 * inner;
    let radius = (REACH * outer).ceil();
    let low = |at: f64| (at - radius).max(0.0) as usize;
    let high = |at: f64, size: usize| ((at + radius) as usize + 1).min(size);
    let (x0, x1) = (low(at_px.x), high(at_px.x, shape.width_px));
    let (y0, y1) = (low(at_px.y), high(at_px.y, shape.height_px));
    let mut centre = Vec::new();
    let mut surround = Vec::new();
    for y in y0..y1 {
        for x in x0..x1 {
            let d2 = (x as f64 - at_px.x).powi(2) + (y as f64 - at_px.y).powi(2);
            centre.push((-0.5 * d2 / (inner * inner)).exp());
            surround.push((-0.5 * d2 / (outer * outer)).exp());
        }
    }
    let (sum_centre, sum_surround): (f64, f64) = (centre.iter().sum(), surround.iter().sum());
    let weights: Vec<f32> =
        centre.iter().zip(&surround).map(|(c, s)| (c / sum_centre - s / sum_surround) as f32).collect();
    let width = x1 - x0;
    let read = |frame: usize, y: usize, row: &mut [f32]| {
        frames.copy_run(frame, y * shape.width_px + x0..y * shape.width_px + x1, row);
    };
    let mut first = vec![0.0_f32; weights.len()];
    first.chunks_exact_mut(width).zip(y0..y1).for_each(|(row, y)| read(0, y, row));
    let contrast = |row: &mut Vec<f32>, frame: usize| {
        row.resize(width, 0.0);
        let mut sum = 0.0;
        for (y, (first, weights)) in (y0..y1).zip(first.chunks_exact(width).zip(weights.chunks_exact(width))) {
            read(frame, y, row);
            sum += row.iter().zip(first).zip(weights).map(|((v, r), w)| (v - *r) * w).sum::<f32>();
        }
        f64::from(sum)
    };
    let curve: Vec<f64> = (0..shape.frames).into_par_iter().map_init(Vec::new, contrast).collect();
    // Half the mean square of successive differences: blind to anything slow (von Neumann 1941).
    let squares: f64 = curve.windows(2).skip(1).map(|w| (w[1] - w[0]).powi(2)).sum();
    let sigma = (squares / (2.0 * (curve.len().max(3) - 2) as f64)).sqrt();
    (curve, sigma)
}
