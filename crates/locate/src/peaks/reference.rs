//! What the checks against other libraries need to reach of the search.

use nalgebra::Point2;

use super::{
    Level, Plane, candidates, null,
    scale_space::{self, Scratch, Space},
};

/// Place in picture pixels and scale of the strongest answer, filters weighed by their noise on white noise.
pub fn blobs(plane: &Plane) -> (Point2<f64>, f64) {
    let mut space = Space::new();
    scale_space::filter(plane, scale_space::octaves(plane.width, plane.height), &mut space, &mut Scratch::default());
    let mut best = (f64::MIN, Point2::origin(), 0.0);
    for (octave, levels) in space.iter().enumerate() {
        for (level, filtered) in levels.iter().enumerate() {
            let scale = scale_space::scale_px(octave, level);
            for (p, value) in filtered.values.iter().enumerate() {
                let answer = f64::from(*value) * scale;
                if answer > best.0 {
                    let step = (1 << octave) as f64;
                    let at = Point2::new((p % filtered.width) as f64 * step, (p / filtered.width) as f64 * step);
                    best = (answer, at, scale);
                }
            }
        }
    }
    (best.1, best.2)
}

/// Pixels that are candidates in a plane of scores.
pub fn maxima(plane: &Plane) -> Vec<usize> {
    let level = Level { octave: 0, level: 0, z: plane.clone(), member: vec![0; plane.values.len()] };
    let found = candidates(&[level], &vec![true; plane.values.len()], plane.width);
    found.into_iter().map(|peak| peak.grid.index).collect()
}

/// Benjamini-Hochberg adjusted p-values.
pub fn adjusted(p: &[f64]) -> Vec<f64> {
    null::benjamini_hochberg(p)
}
