//! Two parts of one rail shorted at once, on simulated boards of the proving run: both are found, each by a hot spot of its own.

use joulemark_frames::NoProgress;
use joulemark_locate::{
    Settings,
    align::Alignment,
    locate,
    simulate::{
        Source, SourceAt,
        proving::{Kind, ProvingBoard, Tier, build, picture_size},
        simulate,
    },
};
use rayon::prelude::*;

/// Boards of no other test.
const FIRST_SEED: u64 = 910_000;
/// The second fault lies at least this far from the first, millimetres: nearer than that they are one warm place.
const APART_MM: f64 = 8.0;

/// A board with a second fault of `share` of the first one's watts. `None` where no part of the rail is far enough.
fn with_second(seed: u64, share: f64) -> Option<(ProvingBoard, [String; 2])> {
    let mut made = build(Kind::Tier(Tier::Medium), seed);
    let culprit = made.setup.culprit?;
    let face = made.board.face(&made.face)?;
    let near = |b: usize, c: usize| {
        (made.setup.bodies[b].footprint.centre_mm - made.setup.bodies[c].footprint.centre_mm).norm() < APART_MM
    };
    let on_rail = |b: usize| {
        let designator = &made.setup.bodies[b].designator;
        face.parts.iter().any(|p| p.designator == *designator && p.rails.contains(&made.rail) && !p.series)
    };
    let second = (0..made.setup.bodies.len()).find(|&b| on_rail(b) && !near(b, culprit))?;
    let first = made.setup.sources.iter().find(|s| matches!(s.at, SourceAt::Body(b) if b == culprit)).copied()?;
    made.setup.sources.push(Source { at: SourceAt::Body(second), watts: share * first.watts, ..first });
    made.simulated = simulate(&made.setup, seed);
    let names = [culprit, second].map(|b| made.setup.bodies[b].designator.clone());
    Some((made, names))
}

/// Designators that are first for a hot spot.
fn named(made: &ProvingBoard) -> Vec<String> {
    let alignment = Alignment::fit(&made.simulated.pairs).expect("marks within a pixel align");
    let located =
        locate(&made.simulated.take, &made.scene(&alignment), &Settings::default(), &NoProgress).expect("a sound take");
    located.answers.iter().filter_map(|a| Some(a.suspects.first()?.part.clone())).collect()
}

/// Boards of ten on which both are named, and the names on the others.
fn both_named(share: f64) -> (usize, Vec<String>) {
    let seeds: Vec<u64> =
        (FIRST_SEED..).filter(|&s| picture_size(Kind::Tier(Tier::Medium), s) == (160, 120)).take(16).collect();
    let made: Vec<_> = seeds.into_par_iter().filter_map(|seed| with_second(seed, share)).collect();
    let answers: Vec<_> = made.par_iter().take(10).map(|(made, truth)| (named(made), truth, made.seed)).collect();
    assert_eq!(answers.len(), 10);
    let wrong = answers.iter().filter(|(names, truth, _)| !truth.iter().all(|t| names.contains(t)));
    let words: Vec<String> = wrong.map(|(names, truth, seed)| format!("{seed}: {names:?} for {truth:?}")).collect();
    (10 - words.len(), words)
}

/// Floors, not figures: of ten boards two may fail.
#[test]
fn equal_shorts_are_both_named() {
    let (right, wrong) = both_named(0.8);
    assert!(right >= 8, "{wrong:#?}");
}

#[test]
fn a_weaker_short_beside_a_strong_one_is_named() {
    let (right, wrong) = both_named(0.3);
    assert!(right >= 7, "{wrong:#?}");
}
