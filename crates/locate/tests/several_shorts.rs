//! Two parts of one rail shorted at once, on simulated boards of the proving run: far apart, both are found, each by a hot spot of its own;
//! side by side, their heat runs into one spot, and both are named as a pair.

use joulemark_frames::NoProgress;
use joulemark_locate::{
    Located, Settings,
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

/// Side by side: centres no further apart than this, millimetres.
const BESIDE_MM: f64 = 2.0;

/// A board with a second fault of `share` of the first one's watts, at a part of the rail whose distance suits. `None` where there is
/// none.
fn with_second(seed: u64, share: f64, suits: impl Fn(f64) -> bool) -> Option<(ProvingBoard, [String; 2])> {
    let mut made = build(Kind::Tier(Tier::Medium), seed);
    let culprit = made.setup.culprit?;
    let face = made.board.face(&made.face)?;
    let apart_mm =
        |b: usize| (made.setup.bodies[b].footprint.centre_mm - made.setup.bodies[culprit].footprint.centre_mm).norm();
    let on_rail = |b: usize| {
        let designator = &made.setup.bodies[b].designator;
        face.parts.iter().any(|p| p.designator == *designator && p.rails.contains(&made.rail) && !p.series)
    };
    let second = (0..made.setup.bodies.len()).find(|&b| b != culprit && on_rail(b) && suits(apart_mm(b)))?;
    let first = made.setup.sources.iter().find(|s| matches!(s.at, SourceAt::Body(b) if b == culprit)).copied()?;
    made.setup.sources.push(Source { at: SourceAt::Body(second), watts: share * first.watts, ..first });
    made.simulated = simulate(&made.setup, seed);
    let names = [culprit, second].map(|b| made.setup.bodies[b].designator.clone());
    Some((made, names))
}

fn located(made: &ProvingBoard) -> Located {
    let alignment = Alignment::fit(&made.simulated.pairs).expect("marks within a pixel align");
    locate(&made.simulated.take, &made.scene(&alignment), &Settings::default(), &NoProgress).expect("a sound take")
}

/// Designators that are first for a hot spot.
fn named(made: &ProvingBoard) -> Vec<String> {
    located(made).answers.iter().filter_map(|a| Some(a.suspects.first()?.part.clone())).collect()
}

/// Boards of ten on which both are named, and the names on the others.
fn both_named(share: f64) -> (usize, Vec<String>) {
    let seeds: Vec<u64> =
        (FIRST_SEED..).filter(|&s| picture_size(Kind::Tier(Tier::Medium), s) == (160, 120)).take(16).collect();
    let made: Vec<_> = seeds.into_par_iter().filter_map(|seed| with_second(seed, share, |mm| mm >= APART_MM)).collect();
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

/// Probability that these two make a spot together.
fn of_pair(located: &Located, names: &[String; 2]) -> f64 {
    let pairs = located.answers.iter().flat_map(|a| &a.pairs);
    pairs.filter(|pair| names.iter().all(|n| pair.parts.contains(n))).map(|pair| pair.probability).sum()
}

/// Boards with two equal shorts side by side. Both lead, in one spot or two; and the pair is likelier than on the same boards with one short
/// only. Floors, not figures.
#[test]
fn shorts_side_by_side_are_a_pair() {
    let seeds: Vec<u64> =
        (FIRST_SEED + 1000..).filter(|&s| picture_size(Kind::Tier(Tier::Medium), s) == (160, 120)).take(100).collect();
    let beside = |mm: f64| mm <= BESIDE_MM;
    let looked: Vec<(String, bool, f64, f64)> = seeds
        .into_par_iter()
        .filter_map(|seed| {
            let (made, names) = with_second(seed, 1.0, beside)?;
            let both = located(&made);
            let alone = located(&build(Kind::Tier(Tier::Medium), seed));
            let leading: Vec<&str> =
                both.answers.iter().flat_map(|a| a.suspects.iter().take(2)).map(|s| s.part.as_str()).collect();
            let named = names.iter().all(|n| leading.contains(&n.as_str()));
            let words = format!("{seed}: {names:?}, {} spots, leading {leading:?}", both.hot_spots.len());
            Some((words, named, of_pair(&both, &names), of_pair(&alone, &names)))
        })
        .collect();
    println!("{looked:#?}");
    assert!(looked.len() >= 8, "too few boards with a neighbour on the rail: {}", looked.len());
    let named = looked.iter().filter(|l| l.1).count();
    assert!(10 * named >= 7 * looked.len(), "{named} of {}: {looked:#?}", looked.len());
    let [with, without]: [f64; 2] = [looked.iter().map(|l| l.2).sum(), looked.iter().map(|l| l.3).sum()];
    assert!(with > 2.0 * without && with > 0.0, "{with} with two shorts, {without} with one: {looked:#?}");
}
