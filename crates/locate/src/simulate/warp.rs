//! The wide picture of samples, shifted and turned.

use rayon::prelude::*;

use super::Pose;

/// Draws a picture of samples as it looks when its content has moved by a pose (in pixels; `samples_per_px` samples each),
/// about the picture's middle. Cubic convolution with a = -1/2 (Keys, IEEE Trans. ASSP 29 (1981) 1153); beyond the rim the
/// rim's value carries on.
pub(super) fn moved(picture: &[f32], width: usize, samples_per_px: usize, pose: Pose) -> Vec<f32> {
    let height = picture.len() / width;
    let (sin, cos) = pose.turn_deg.to_radians().sin_cos();
    let middle = [(width as f64 - 1.0) / 2.0, (height as f64 - 1.0) / 2.0];
    let shift = [pose.dx_px * samples_per_px as f64, pose.dy_px * samples_per_px as f64];
    let mut out = vec![0.0; picture.len()];
    out.par_chunks_exact_mut(width).enumerate().for_each(|(row, line)| {
        let dy = row as f64 - middle[1] - shift[1];
        for (column, value) in line.iter_mut().enumerate() {
            let dx = column as f64 - middle[0] - shift[0];
            // The inverse turn leads from where a sample shows to where it was.
            *value = cubic(picture, width, height, middle[0] + cos * dx + sin * dy, middle[1] - sin * dx + cos * dy);
        }
    });
    out
}

/// Largest distance by which anything in a picture of this size moves, pixels.
pub(super) fn reach_px(width_px: usize, height_px: usize, poses: &[Pose]) -> f64 {
    let half_diagonal = 0.5 * (width_px as f64).hypot(height_px as f64);
    poses
        .iter()
        .map(|p| p.dx_px.abs().max(p.dy_px.abs()) + p.turn_deg.to_radians().abs() * half_diagonal)
        .fold(0.0, f64::max)
}

fn cubic(picture: &[f32], width: usize, height: usize, x: f64, y: f64) -> f32 {
    let (x, y) = (x.clamp(0.0, (width - 1) as f64), y.clamp(0.0, (height - 1) as f64));
    let (left, top) = (x.floor() as isize, y.floor() as isize);
    let (wx, wy) = (taps((x - left as f64) as f32), taps((y - top as f64) as f32));
    let inside = left >= 1 && top >= 1 && left + 3 <= width as isize && top + 3 <= height as isize;
    let mut sum = 0.0;
    for (j, weight) in (-1..).zip(wy) {
        let row = (top + j).clamp(0, height as isize - 1) as usize * width;
        let line: f32 = if inside {
            let first = row + (left - 1) as usize;
            picture[first..first + 4].iter().zip(wx).map(|(v, w)| v * w).sum()
        } else {
            (-1..).zip(wx).map(|(i, w)| picture[row + (left + i).clamp(0, width as isize - 1) as usize] * w).sum()
        };
        sum += weight * line;
    }
    sum
}

fn taps(f: f32) -> [f32; 4] {
    let (f2, f3) = (f * f, f * f * f);
    [-0.5 * f3 + f2 - 0.5 * f, 1.5 * f3 - 2.5 * f2 + 1.0, -1.5 * f3 + 2.0 * f2 + 0.5 * f, 0.5 * f3 - 0.5 * f2]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cubic convolution reproduces second-degree polynomials; far from the rim a moved one is known in closed form.
    #[test]
    fn a_parabola_moves_as_it_should() {
        let (width, height) = (41, 31);
        let f = |x: f64, y: f64| 1.0 + 0.3 * x - 0.2 * y + 0.01 * x * x - 0.02 * x * y + 0.015 * y * y;
        let picture: Vec<f32> =
            (0..width * height).map(|i| f((i % width) as f64 - 20.0, (i / width) as f64 - 15.0) as f32).collect();
        let pose = Pose { dx_px: 1.3, dy_px: -0.7, turn_deg: 2.0 };
        let seen = moved(&picture, width, 2, pose);
        let (sin, cos) = 2.0_f64.to_radians().sin_cos();
        for (x, y) in [(20, 15), (10, 9), (30, 22)] {
            let (dx, dy) = (x as f64 - 20.0 - 2.6, y as f64 - 15.0 + 1.4);
            let wanted = f(cos * dx + sin * dy, -sin * dx + cos * dy);
            let found = f64::from(seen[y * width + x]);
            // Twelve f32 products of values up to some ten.
            assert!((found - wanted).abs() < 1e-4, "({x}, {y}): {found} against {wanted}");
        }
    }
}
