//! Whether the picture is fine enough to part the parts near a spot. Judged before anyone is suspected.

use nalgebra::Point2;

use crate::{Reach, Scene, board::Footprint};

/// Two heat sources closer than this many pixels run into one (two samples per period, Nyquist).
const APART_PX: f64 = 2.0;
/// Parts within this distance of the spot count as "near".
const NEAR_MM: f64 = 3.0;

/// Judges the reach at `at_px`. `sigma_mm` is the standard deviation of the spot's centre on the face.
pub fn reach(scene: &Scene<'_>, at_px: Point2<f64>, sigma_mm: f64) -> Reach {
    let mm_per_px = scene.alignment.mm_per_px(at_px);
    let at_mm = scene.alignment.to_board(at_px);
    let resolves_mm = (APART_PX * mm_per_px).max(2.0 * 1.96 * sigma_mm);
    let mut near: Vec<(f64, &str, Point2<f64>)> = scene
        .board
        .face(scene.face)
        .into_iter()
        .flat_map(|f| &f.parts)
        .map(|p| (Footprint::from(p).distance_mm(at_mm), p.designator.as_str(), Point2::new(p.x_mm, p.y_mm)))
        .filter(|(distance, _, _)| *distance < NEAR_MM)
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    let closest = near
        .iter()
        .take(6)
        .enumerate()
        .flat_map(|(i, a)| near.iter().take(6).skip(i + 1).map(move |b| ((a.2 - b.2).norm(), a.1, b.1)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let advice = closest.filter(|(pitch_mm, _, _)| *pitch_mm < resolves_mm).map(|(pitch_mm, a, b)| {
        format!(
            "too coarse to part {a} and {b} ({pitch_mm:.1} mm apart; this picture parts {resolves_mm:.1} mm): move closer, \
             respect the lens's minimum focus, or fit a close-up lens"
        )
    });
    Reach { mm_per_px, resolves_mm, advice }
}
