//! Jumps of the whole picture's level: at once, everywhere, by the same.

use rayon::prelude::*;

use super::sample::{Sample, middle};

/// A jump exceeds the usual change from frame to frame by this many of its standard deviations; fewer will do where frames
/// were repeated just before.
const CLEAR: f32 = 8.0;
const CLEAR_AFTER_REPEATS: f32 = 5.0;
/// It also exceeds this share of a region's own scatter: less would be lost in the noise of the map anyway.
const LEAST_REGION_SHARE: f32 = 1.0;
/// A region agrees when it jumps by the picture's jump give or take this share, or three of its standard deviations.
const AGREE_SHARE: f32 = 0.4;
/// Regions that must agree.
const AGREEING: f32 = 0.8;
/// Heat goes on in the frames after; a jump does not. Share of the jump that its neighbours may change by.
const NEIGHBOUR_SHARE: f32 = 0.35;

/// Frames (of those kept) that are the first at another level.
pub(super) fn find(sample: &Sample, time_s: &[f64], kept: &[usize]) -> Vec<usize> {
    if kept.len() < 4 {
        return Vec::new();
    }
    let steps: Vec<Vec<f32>> = kept.par_windows(2).map(|pair| sample.region_steps(pair[0], pair[1])).collect();
    let levels: Vec<f32> = steps.iter().map(|regions| middle(regions.clone(), 4)).collect();
    let mut intervals: Vec<f64> = time_s.windows(2).map(|w| w[1] - w[0]).collect();
    intervals.sort_by(f64::total_cmp);
    let interval_s = intervals.get(intervals.len() / 2).copied().unwrap_or(1.0).max(f64::MIN_POSITIVE);
    let usual = median(levels.clone());
    let spread = scaled(levels.iter().map(|l| (l - usual).abs()).collect());
    // Scatter between regions of one step, typical over the steps.
    let scatter: Vec<f32> = steps
        .iter()
        .zip(&levels)
        .map(|(regions, level)| scaled(regions.iter().map(|r| (r - level).abs()).collect()))
        .collect();
    let scatter = median(scatter);
    // Coarse counts give many equal levels; the noise of the regions is there all the same.
    let spread = spread.max(scatter / (steps[0].len() as f32).sqrt());
    (0..levels.len())
        .filter(|&i| {
            let jump = levels[i] - usual;
            let after_repeats = kept[i + 1] > kept[i] + 1;
            let clear = if after_repeats { CLEAR_AFTER_REPEATS } else { CLEAR };
            // Over missing frames drift goes further.
            let longer = match (time_s.get(kept[i]), time_s.get(kept[i + 1])) {
                (Some(from), Some(to)) => ((to - from) / interval_s).max(1.0) as f32,
                _ => 1.0,
            };
            let least = (clear * spread * longer).max(LEAST_REGION_SHARE * scatter);
            if jump.abs() <= least || jump == 0.0 {
                return false;
            }
            let tolerance = (AGREE_SHARE * jump.abs()).max(3.0 * scatter);
            let agree = steps[i].iter().filter(|r| (*r - levels[i]).abs() <= tolerance).count();
            let alone = [i.checked_sub(1), Some(i + 1)]
                .into_iter()
                .flatten()
                .filter_map(|j| levels.get(j))
                .all(|level| (level - usual).abs() <= NEIGHBOUR_SHARE * jump.abs());
            agree as f32 >= AGREEING * steps[i].len() as f32 && alone
        })
        .map(|i| kept[i + 1])
        .collect()
}

fn median(mut values: Vec<f32>) -> f32 {
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f32::total_cmp).1
}

/// Standard deviation of a Gaussian with these absolute values (Rousseeuw and Croux, JASA 88 (1993) 1273).
fn scaled(sizes: Vec<f32>) -> f32 {
    1.4826 * median(sizes)
}
