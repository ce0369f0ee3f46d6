//! Places on the drawing's edges, about a pixel apart.

use nalgebra::{Point2, Vector2};

use super::{Alignment, picture::Picture};
use crate::board::{Face, Footprint};

/// Most samples: enough for any board, whatever its size in pixels.
const MOST_SAMPLES: usize = 20_000;

/// Near corners the blur rounds the edge off: this much of an edge is left out at either end, pixels.
const CORNER_PX: f64 = 1.5;

/// A place on an edge.
#[derive(Clone, Debug)]
pub(super) struct Sample {
    pub(super) at_mm: Point2<f64>,
    /// A little off the edge, along its normal.
    pub(super) beside_mm: Point2<f64>,
    pub(super) px_per_mm: f64,
}

/// Samples of the outline and of all parts that lie in the picture.
pub(super) fn samples(face: &Face, alignment: &Alignment, picture: &Picture) -> Vec<Sample> {
    let mut shapes: Vec<Vec<Point2<f64>>> = vec![face.outline.iter().map(|p| Point2::new(p[0], p[1])).collect()];
    shapes.extend(face.parts.iter().map(|p| Footprint::from(p).corners_mm().to_vec()));
    let mut found = Vec::new();
    for shape in shapes {
        for (i, &a) in shape.iter().enumerate() {
            let b = shape[(i + 1) % shape.len()];
            let along = b - a;
            let (Some(unit), length_px) =
                (along.try_normalize(1e-9), (alignment.to_image(b) - alignment.to_image(a)).norm())
            else {
                continue;
            };
            // Rounded corners come as short chords; those are sampled once.
            let usable = if length_px > 4.0 * CORNER_PX { length_px - 2.0 * CORNER_PX } else { 0.0 };
            if usable == 0.0 && length_px > CORNER_PX || !length_px.is_finite() {
                continue;
            }
            let count = (usable as usize).clamp(1, MOST_SAMPLES);
            let normal = Vector2::new(-unit.y, unit.x);
            for k in 0..count {
                let share = 0.5 + (k as f64 + 0.5 - 0.5 * count as f64) / length_px.max(1.0);
                let at_mm = a + along * share;
                let beside_mm = at_mm + normal * 0.01;
                if picture.holds(alignment.to_image(at_mm)) {
                    found.push(Sample { at_mm, beside_mm, px_per_mm: length_px / along.norm() });
                }
                if found.len() == MOST_SAMPLES {
                    return found;
                }
            }
        }
    }
    found
}
