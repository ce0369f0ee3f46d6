//! Where on the picture the board is, and where on it the current can reach.

use nalgebra::Point2;
use rayon::prelude::*;

use crate::{
    Scene,
    board::{Footprint, JoinedRail},
    peaks::Regions,
};

/// Footprints on the rail are searched with this margin for the alignment's error.
const RAIL_MARGIN_MM: f64 = 0.3;

/// Pixels on the board, and on footprints that the current can reach.
pub(crate) fn regions(scene: &Scene<'_>, joined: &[JoinedRail], width: usize, height: usize) -> Regions {
    let Some(face) = scene.board.face(scene.face) else {
        return Regions { board: vec![true; width * height], rail: vec![false; width * height] };
    };
    let on_rail: Vec<Footprint> =
        face.parts.iter().filter(|p| joined.iter().any(|j| p.rails.contains(&j.rail))).map(Footprint::from).collect();
    let margin_mm = |at_px| RAIL_MARGIN_MM + scene.alignment.mm_per_px(at_px) / 2.0;
    let row = |y: usize| -> Vec<(bool, bool)> {
        let at_px = |x: usize| Point2::new(x as f64, y as f64);
        // A row is a straight line on the board, and the scale is largest at one of its ends.
        let ends = [at_px(0), at_px(width - 1)];
        let line = ends.map(|end| scene.alignment.to_board(end));
        let margin_most_mm = ends.map(margin_mm).into_iter().fold(0.0, f64::max);
        let near: Vec<&Footprint> = on_rail
            .iter()
            .filter(|f| distance_to_segment(f.centre_mm, line) <= f.half_mm.norm() + margin_most_mm)
            .collect();
        (0..width)
            .map(|x| {
                let at_mm = scene.alignment.to_board(at_px(x));
                let margin_mm = margin_mm(at_px(x));
                (face.outline_contains(at_mm), near.iter().any(|f| f.distance_mm(at_mm) <= margin_mm))
            })
            .collect()
    };
    let (board, rail) = (0..height).into_par_iter().flat_map_iter(row).unzip();
    Regions { board, rail }
}

fn distance_to_segment(point: Point2<f64>, [a, b]: [Point2<f64>; 2]) -> f64 {
    let along = b - a;
    let share = (point - a).dot(&along) / along.norm_squared().max(f64::MIN_POSITIVE);
    (point - (a + along * share.clamp(0.0, 1.0))).norm()
}
