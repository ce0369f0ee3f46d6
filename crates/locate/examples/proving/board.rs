//! What a proving board is, for its record.

use joulemark_locate::{
    board::Footprint,
    simulate::{SourceAt, proving::ProvingBoard},
};
use nalgebra::Point2;

use crate::record::Record;

/// Heat within this of a true source is no false alarm: millimetres, and pixels in addition.
const NEAR_MM: f64 = 1.5;
const NEAR_PX: f64 = 2.0;

/// The record's facts about the board; nothing is located yet.
pub fn facts(made: &ProvingBoard) -> Record {
    let camera = &made.setup.camera;
    let timeline = &made.simulated.take.timeline;
    let before = timeline.first_injected().unwrap_or(timeline.len());
    let span_s = timeline.time_s.last().unwrap_or(&0.0) - timeline.time_s.first().unwrap_or(&0.0);
    Record {
        kind: made.kind.to_string(),
        seed: made.seed,
        width_px: camera.width_px,
        height_px: camera.height_px,
        rate_hz: (timeline.len() - 1) as f64 / span_s,
        frames_before: before,
        frames_during: timeline.len() - before,
        netd_k: made.setup.sensor.netd_k,
        blur_px: camera.blur_sigma_px,
        size_k: made.size_k,
        mm_per_px: made.mm_per_px,
        gap_mm: made.gap_mm,
        truth: made.simulated.truth.part.clone(),
        ..Record::default()
    }
}

/// Whether a place is warmed by what the injection really heats: the fault, a part on the way, the probe's contact, the
/// feeding track.
pub fn explained(made: &ProvingBoard, at: Point2<f64>) -> bool {
    let near_mm = NEAR_MM + NEAR_PX * made.mm_per_px;
    made.simulated.truth.part.is_some()
        && made.setup.sources.iter().any(|source| match source.at {
            SourceAt::Body(b) => Footprint::distance_mm(&made.setup.bodies[b].footprint, at) <= near_mm,
            SourceAt::Point(p) => (Point2::from(p) - at).norm() <= near_mm,
        })
}
