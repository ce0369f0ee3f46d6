//! What a proving board is, and how an answer to it is judged.

use joulemark_locate::{
    Located,
    board::Footprint,
    report::Report,
    simulate::{SourceAt, proving::ProvingBoard},
};
use nalgebra::Point2;

use crate::record::{Outcome, Record};

/// Heat within this of a true source is no false alarm: millimetres, and pixels in addition.
const NEAR_MM: f64 = 1.5;
const NEAR_PX: f64 = 2.0;
/// A log with more than this shows a short.
const SHORT_AMPS: f64 = 0.05;

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
        shorted_log: timeline.mean_amps().is_some_and(|amps| amps > SHORT_AMPS),
        ..Record::default()
    }
}

/// Compares an answer with the truth.
pub fn judge(made: &ProvingBoard, located: &Located) -> Outcome {
    let report = Report::from(located);
    let truth = made.simulated.truth.part.as_deref();
    let spot = located.hot_spots.first();
    let rank = report.suspects.iter().position(|s| Some(s.part.as_str()) == truth).map(|i| i + 1);
    let first = report.suspects.first().map(|s| s.part.clone());
    let along: Vec<&str> = on_the_way(made);
    let first_along = report.suspects.iter().position(|s| along.contains(&s.part.as_str())).map(|i| i + 1);
    let off = |spot: Option<Point2<f64>>, truth: Option<Point2<f64>>| Some((spot? - truth?).norm());
    Outcome {
        rank,
        first_probability: report.suspects.first().map(|s| s.probability),
        most_probability: report.suspects.iter().map(|s| s.probability).fold(0.0, f64::max),
        hot_spots: located.hot_spots.len(),
        false_spots: located.hot_spots.iter().filter(|s| !explained(made, s.centre_mm)).count(),
        off_px: off(spot.map(|s| s.centre_px), made.simulated.truth.centre_px),
        off_mm: off(spot.map(|s| s.centre_mm), made.simulated.truth.centre_mm),
        blames: spot.is_some_and(|s| made.blames_the_disturbance(first.as_deref(), s.centre_px, s.centre_mm)),
        warned: truth.is_some_and(|truth| report.warnings.iter().any(|w| names(w, truth))),
        end_above_path: rank.is_some_and(|rank| first_along.is_none_or(|other| rank < other)),
        explained_share: report.explained_share,
        repairs: located.repairs.iter().map(|r| r.what.to_owned()).collect(),
        warnings: report.warnings,
        first,
    }
}

/// Whether a sentence holds a designator as a word of its own.
fn names(sentence: &str, designator: &str) -> bool {
    sentence.split(|c: char| !c.is_alphanumeric()).any(|word| word == designator)
}

/// Whether a place is warmed by what the injection really heats: the fault, a part on the way, the probe's contact, the
/// feeding track.
fn explained(made: &ProvingBoard, at: Point2<f64>) -> bool {
    let near_mm = NEAR_MM + NEAR_PX * made.mm_per_px;
    made.simulated.truth.part.is_some()
        && made.setup.sources.iter().any(|source| match source.at {
            SourceAt::Body(b) => made.setup.bodies[b].footprint.distance_mm(at) <= near_mm,
            SourceAt::Point(p) => (Point2::from(p) - at).norm() <= near_mm,
        })
}

/// Parts other than the faulty one over or beside what is heated point by point: the feeding track and the probe's contact.
fn on_the_way(made: &ProvingBoard) -> Vec<&str> {
    let points: Vec<Point2<f64>> = made
        .setup
        .sources
        .iter()
        .filter_map(|source| match source.at {
            SourceAt::Point(p) => Some(p.into()),
            SourceAt::Body(_) => None,
        })
        .collect();
    let parts = made.board.face(&made.face).into_iter().flat_map(|face| &face.parts);
    parts
        .filter(|part| Some(part.designator.as_str()) != made.simulated.truth.part.as_deref())
        .filter(|part| points.iter().any(|p| Footprint::from(*part).distance_mm(*p) <= NEAR_MM))
        .map(|part| part.designator.as_str())
        .collect()
}
