//! Where on the picture the board is, and where on it the current can reach.

use nalgebra::Point2;

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
    let mut regions = Regions { board: Vec::with_capacity(width * height), rail: Vec::with_capacity(width * height) };
    for y in 0..height {
        for x in 0..width {
            let at_px = Point2::new(x as f64, y as f64);
            let at_mm = scene.alignment.to_board(at_px);
            let margin_mm = RAIL_MARGIN_MM + scene.alignment.mm_per_px(at_px) / 2.0;
            regions.board.push(face.outline_contains(at_mm));
            regions.rail.push(on_rail.iter().any(|f| f.distance_mm(at_mm) <= margin_mm));
        }
    }
    regions
}
