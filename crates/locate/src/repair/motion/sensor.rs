//! What the sensor itself draws: noise from frame to frame, and a pattern that stays.

use joulemark_frames::Stack;

/// Every this many rows one is used.
const ROW_STRIDE: usize = 3;

/// Variances per pixel.
#[derive(Clone, Copy, Debug)]
pub(super) struct SensorNoise {
    /// From frame to frame.
    pub(super) temporal: f64,
    /// Of the pattern that stays.
    pub(super) fixed: f64,
}

impl SensorNoise {
    /// From two frames in a row: their difference, and what is left of their mean by a kernel that a blurred picture
    /// hardly passes (Immerkaer, Comput. Vis. Image Underst. 64 (1996) 300), both by median absolute value so that edges
    /// do not count.
    pub(super) fn estimate(stack: &Stack, frame: usize) -> Self {
        let shape = stack.shape();
        let (width, first) = (shape.width_px, frame.min(shape.frames.saturating_sub(2)));
        let second = (first + 1).min(shape.frames - 1);
        let mut rows = vec![vec![0.0_f32; width]; 3];
        let mut other = vec![0.0_f32; width];
        let (mut differences, mut passed) = (Vec::new(), Vec::new());
        for y in (1..shape.height_px.saturating_sub(1)).step_by(ROW_STRIDE) {
            for (row, v) in rows.iter_mut().zip(y - 1..=y + 1) {
                stack.copy_run(first, v * width..(v + 1) * width, row);
                stack.copy_run(second, v * width..(v + 1) * width, &mut other);
                if v == y {
                    differences.extend(row.iter().zip(&other).map(|(a, b)| (a - b).abs()));
                }
                row.iter_mut().zip(&other).for_each(|(a, b)| *a = 0.5 * (*a + b));
            }
            let bend = |x: usize| rows[0][x] - 2.0 * rows[1][x] + rows[2][x];
            passed.extend((1..width - 1).map(|x| (bend(x - 1) - 2.0 * bend(x) + bend(x + 1)).abs()));
        }
        let temporal = variance(differences) / 2.0;
        // The kernel's squares add up to 36.
        Self { temporal, fixed: (variance(passed) / 36.0 - temporal / 2.0).max(0.0) }
    }
}

/// Variance of a Gaussian with these absolute values (Rousseeuw and Croux, JASA 88 (1993) 1273).
fn variance(mut sizes: Vec<f32>) -> f64 {
    if sizes.is_empty() {
        return 0.0;
    }
    let middle = sizes.len() / 2;
    (1.4826 * f64::from(*sizes.select_nth_unstable_by(middle, f32::total_cmp).1)).powi(2)
}
