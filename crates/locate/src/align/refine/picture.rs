//! The picture before injection, smoothed, and its gradient across an edge in units of its usual gradient.

use nalgebra::{Point2, Vector2};
use ndarray::{Array2, ArrayView2};

/// Smoothing before gradients are taken, pixels: about a lens's blur.
const SMOOTH_PX: f64 = 1.0;
/// Edges are looked for at steps of this, then between them by a parabola, pixels.
const STEP_PX: f64 = 0.5;

pub(super) struct Picture {
    smooth: Array2<f32>,
    /// Median size of the gradient along x, per pixel.
    usual: f64,
}

impl Picture {
    pub(super) fn of(before: ArrayView2<'_, f32>) -> Self {
        let mut smooth = before.to_owned();
        for axis in [0, 1] {
            for mut lane in smooth.lanes_mut(ndarray::Axis(axis)) {
                let values: Vec<f32> = lane.to_vec();
                for (i, out) in lane.iter_mut().enumerate() {
                    *out = blurred(&values, i);
                }
            }
        }
        let mut sizes: Vec<f64> = smooth
            .rows()
            .into_iter()
            .flat_map(|r| r.to_vec().windows(2).map(|w| f64::from(w[1] - w[0]).abs()).collect::<Vec<_>>())
            .filter(|g| g.is_finite())
            .collect();
        let middle = sizes.len() / 2;
        let median = if sizes.is_empty() { 0.0 } else { *sizes.select_nth_unstable_by(middle, f64::total_cmp).1 };
        // A picture of one value has no edges at all.
        Self { smooth, usual: if median > 0.0 { median } else { f64::INFINITY } }
    }

    /// Whether a point lies in the picture with room for a gradient.
    pub(super) fn holds(&self, p: Point2<f64>) -> bool {
        let (rows, columns) = self.smooth.dim();
        p.x >= 1.0 && p.y >= 1.0 && p.x < columns as f64 - 2.0 && p.y < rows as f64 - 2.0
    }

    /// Change per pixel along the normal, in units of the usual gradient.
    pub(super) fn across(&self, at: Point2<f64>, normal: Vector2<f64>) -> Option<f64> {
        let change = self.value(at + normal * 0.5)? - self.value(at - normal * 0.5)?;
        Some(change / self.usual)
    }

    /// Offset along the normal, within the reach, at which the gradient is strongest, and its strength. `None` where
    /// the strongest lies at the end of the reach: its edge may be further out.
    pub(super) fn strongest(&self, at: Point2<f64>, normal: Vector2<f64>, reach_px: f64) -> Option<(f64, f64)> {
        let half = (reach_px / STEP_PX).round() as i32;
        let mut sizes = Vec::with_capacity(2 * half as usize + 1);
        for k in -half..=half {
            sizes.push(self.across(at + normal * (f64::from(k) * STEP_PX), normal)?.abs());
        }
        let best = (0..sizes.len()).max_by(|a, b| sizes[*a].total_cmp(&sizes[*b]))?;
        if best == 0 || best + 1 == sizes.len() {
            return None;
        }
        let (before, here, after) = (sizes[best - 1], sizes[best], sizes[best + 1]);
        let bend = before + after - 2.0 * here;
        let between = if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        Some(((best as f64 - f64::from(half) + between) * STEP_PX, here))
    }

    fn value(&self, p: Point2<f64>) -> Option<f64> {
        let (rows, columns) = self.smooth.dim();
        let (x, y) = (p.x.floor(), p.y.floor());
        if !(x >= 0.0 && y >= 0.0) || x as usize + 1 >= columns || y as usize + 1 >= rows {
            return None;
        }
        let (i, j, u, v) = (y as usize, x as usize, p.x - x, p.y - y);
        let read = |i: usize, j: usize| f64::from(self.smooth[[i, j]]);
        let value = (1.0 - v) * ((1.0 - u) * read(i, j) + u * read(i, j + 1))
            + v * ((1.0 - u) * read(i + 1, j) + u * read(i + 1, j + 1));
        value.is_finite().then_some(value)
    }
}

/// Gaussian mean around one place of a line; what is not a number is left out.
fn blurred(values: &[f32], at: usize) -> f32 {
    const REACH: usize = 3;
    let (mut sum, mut weights) = (0.0_f64, 0.0_f64);
    for i in at.saturating_sub(REACH)..(at + REACH + 1).min(values.len()) {
        let d = i.abs_diff(at) as f64 / SMOOTH_PX;
        let w = (-0.5 * d * d).exp();
        if values[i].is_finite() {
            sum += w * f64::from(values[i]);
            weights += w;
        }
    }
    // A place that is not a number itself stays unknown.
    if values[at].is_finite() { (sum / weights) as f32 } else { f32::NAN }
}
