//! What a recording itself says before the current: drift of its level, and jumps of its level as a whole.

use joulemark_frames::{Stack, Take, Unit};

/// Pixels of a frame that are looked at, at most.
const MOST_PIXELS: usize = 4096;
/// The level jumps when it moves from one frame to the next by this many times its usual step.
const JUMP: f64 = 12.0;
/// And by at least this, in the take's unit per kelvin or grey value: finer steps are rounding.
const LEAST_JUMP: f64 = 0.2;

/// Median of a frame over a grid of pixels.
fn level(stack: &Stack, frame: usize, buffer: &mut Vec<f32>) -> f64 {
    let pixels = stack.shape().pixels();
    buffer.resize(pixels, 0.0);
    stack.copy_run(frame, 0..pixels, buffer);
    let step = pixels.div_ceil(MOST_PIXELS);
    let mut values: Vec<f32> = buffer.iter().copied().step_by(step).filter(|v| v.is_finite()).collect();
    values.sort_by(f32::total_cmp);
    values.get(values.len() / 2).copied().map_or(f64::NAN, f64::from)
}

/// Slope of the picture's median level over the frames before the current, kelvin per minute. `None` for relative takes and
/// for fewer than ten frames.
pub fn drift_k_per_min(take: &Take) -> Option<f64> {
    let first = take.timeline.first_injected().unwrap_or(take.timeline.len());
    if take.unit != Unit::Kelvin || first < 10 {
        return None;
    }
    // A hundred frames tell a slope as well as a thousand.
    let step = first.div_ceil(100);
    let mut buffer = Vec::new();
    let points: Vec<(f64, f64)> =
        (0..first).step_by(step).map(|i| (take.timeline.time_s[i], level(&take.stack, i, &mut buffer))).collect();
    let n = points.len() as f64;
    let (mean_t, mean_y) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let spread: f64 = points.iter().map(|p| (p.0 - mean_t).powi(2)).sum();
    let slope = points.iter().map(|p| (p.0 - mean_t) * (p.1 - mean_y)).sum::<f64>() / spread;
    slope.is_finite().then_some(slope * 60.0)
}

/// How often the level jumps as a whole among the frames before the current; at most 300 of them are looked at.
pub fn gain_jumps(take: &Take) -> Option<usize> {
    let first = take.timeline.first_injected().unwrap_or(take.timeline.len()).min(300);
    if first < 10 {
        return None;
    }
    let mut buffer = Vec::new();
    let levels: Vec<f64> = (0..first).map(|i| level(&take.stack, i, &mut buffer)).collect();
    let steps: Vec<f64> = levels.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    let mut sorted = steps.clone();
    sorted.sort_by(f64::total_cmp);
    let usual = sorted[sorted.len() / 2];
    Some(steps.iter().filter(|s| **s > (JUMP * usual).max(LEAST_JUMP)).count())
}
