//! Where on the picture the board is, and where on it the current can reach.

use nalgebra::Point2;
use rayon::prelude::*;

use crate::{
    Scene,
    board::{Footprint, JoinedRail, Part},
    peaks::{PartPlace, Regions},
};

/// Footprints on the rail are searched with this margin for the alignment's error.
const RAIL_MARGIN_MM: f64 = 0.3;

/// Pixels on the board, and on footprints that the current can reach.
pub(crate) fn regions(scene: &Scene<'_>, joined: &[JoinedRail], width: usize, height: usize) -> Regions {
    let Some(face) = scene.board.face(scene.face) else {
        let (board, rail) = (vec![true; width * height], vec![false; width * height]);
        return Regions { board, rail, parts: Vec::new(), decoys: Vec::new() };
    };
    let (on_rail, others): (Vec<&Part>, Vec<&Part>) =
        face.parts.iter().partition(|p| joined.iter().any(|j| p.rails.contains(&j.rail)));
    let [on_rail, others] = [on_rail, others].map(|parts| parts.into_iter().map(Footprint::from).collect::<Vec<_>>());
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
    let place = |f: &Footprint| {
        let centre_px = scene.alignment.to_image(f.centre_mm);
        PartPlace { centre_px, reach_px: f.half_mm.norm() / scene.alignment.mm_per_px(centre_px) }
    };
    let in_picture = |part: &PartPlace| {
        let (x, y) = (part.centre_px.x, part.centre_px.y);
        x >= 0.0 && y >= 0.0 && x <= width as f64 - 1.0 && y <= height as f64 - 1.0
    };
    let places = |footprints: &[Footprint]| footprints.iter().map(place).filter(in_picture).collect();
    Regions { board, rail, parts: places(&on_rail), decoys: places(&others) }
}

fn distance_to_segment(point: Point2<f64>, [a, b]: [Point2<f64>; 2]) -> f64 {
    let along = b - a;
    let share = (point - a).dot(&along) / along.norm_squared().max(f64::MIN_POSITIVE);
    (point - (a + along * share.clamp(0.0, 1.0))).norm()
}
