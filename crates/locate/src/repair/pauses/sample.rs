//! Short runs of pixels from all over the picture, in every frame.

use std::ops::Range;

use joulemark_frames::{Samples, Stack};
use rayon::prelude::*;

/// Regions each way, and pixels of each.
const REGIONS: usize = 8;
const REGION_PX: usize = 64;

/// Some thousand pixels of every frame.
pub(super) struct Sample {
    /// One row per frame.
    values: Vec<Vec<f32>>,
    /// Pixels of each region within a row.
    regions: Vec<Range<usize>>,
    /// Value of one count, where frames are counts.
    count: Option<f32>,
}

/// From one frame to the next.
pub(super) struct Step {
    /// Mean square of the differences, the largest twentieth left out.
    pub(super) mean_square: f32,
    /// Share of pixels that are equal.
    pub(super) equal: f32,
    /// Share of pixels within one count.
    pub(super) near: f32,
}

impl Sample {
    pub(super) fn new(stack: &Stack) -> Self {
        let shape = stack.shape();
        let (across, down) = (REGIONS.min(shape.width_px), REGIONS.min(shape.height_px));
        let mut runs: Vec<Range<usize>> = Vec::new();
        let mut regions = Vec::new();
        let mut pixels = 0;
        for i in 0..down {
            let rows = i * shape.height_px / down..(i + 1) * shape.height_px / down;
            for j in 0..across {
                let columns = j * shape.width_px / across..(j + 1) * shape.width_px / across;
                // From the region's middle rows, as many as make up its pixels.
                let wide = columns.len().min(REGION_PX / 2);
                let left = columns.start + (columns.len() - wide) / 2;
                let tall = REGION_PX.div_ceil(wide).min(rows.len());
                let start = pixels;
                for k in 0..tall {
                    let y = rows.start + (2 * k + 1) * rows.len() / (2 * tall);
                    runs.push(y * shape.width_px + left..y * shape.width_px + left + wide);
                    pixels += wide;
                }
                regions.push(start..pixels);
            }
        }
        let values = (0..shape.frames)
            .into_par_iter()
            .map(|t| {
                let mut values = vec![0.0; pixels];
                let mut done = 0;
                for run in &runs {
                    stack.copy_run(t, run.clone(), &mut values[done..done + run.len()]);
                    done += run.len();
                }
                values
            })
            .collect();
        let counts = !matches!(stack.samples(), Samples::F32(_));
        Self { values, regions, count: counts.then(|| stack.law().gain_k_per_count.abs() as f32) }
    }

    /// Frames in a row compared.
    pub(super) fn steps(&self) -> Vec<Step> {
        let count = self.count.unwrap_or(0.0);
        self.values
            .par_windows(2)
            .map(|pair| {
                let mut sizes: Vec<f32> = pair[1].iter().zip(&pair[0]).map(|(a, b)| (a - b).abs()).collect();
                // Half a count more for rounding: 300 K hold five digits behind the point.
                let within = |limit: f32| sizes.iter().filter(|d| **d <= limit).count() as f32 / sizes.len() as f32;
                let (equal, near) = (within(0.25 * count), within(1.25 * count));
                let kept = sizes.len() - sizes.len() / 20;
                if kept < sizes.len() {
                    sizes.select_nth_unstable_by(kept, f32::total_cmp);
                }
                let mean_square = sizes[..kept].iter().map(|d| d * d).sum::<f32>() / kept as f32;
                Step { mean_square, equal, near }
            })
            .collect()
    }

    /// Change of each region from one frame to another, the outermost tenths of its pixels left out.
    pub(super) fn region_steps(&self, from: usize, to: usize) -> Vec<f32> {
        let (from, to) = (&self.values[from], &self.values[to]);
        let changes = |region: &Range<usize>| {
            middle(to[region.clone()].iter().zip(&from[region.clone()]).map(|(a, b)| a - b).collect(), 10)
        };
        self.regions.iter().map(changes).collect()
    }
}

/// Mean without one in `part` of the smallest and of the largest values.
pub(super) fn middle(values: Vec<f32>, part: usize) -> f32 {
    // Sorted as the whole numbers that have their order (as `f32::total_cmp` compares), in half the time.
    let turned = |bits: i32| bits ^ ((bits >> 31) as u32 >> 1) as i32;
    let mut keys: Vec<i32> = values.into_iter().map(|v| turned(v.to_bits() as i32)).collect();
    keys.sort_unstable();
    let cut = keys.len() / part;
    let kept = &keys[cut..keys.len() - cut];
    kept.iter().map(|key| f32::from_bits(turned(*key) as u32)).sum::<f32>() / kept.len() as f32
}
