//! Fits the three numbers of [`joulemark_locate::Calibration`] on simulated boards that no test and no proving run uses.
//!
//! `cargo run --release -p joulemark-locate --example calibrate -- 60` takes that many boards of each kind; of every sixth board the
//! faulty part is taken off the drawing. The numbers maximise the mean logarithm of the probability given to the truth.

use joulemark_frames::NoProgress;
use joulemark_locate::{
    Calibration, Considered, HotSpot, Settings, SpotAnswer, SpotRole,
    align::Alignment,
    locate, probabilities,
    simulate::proving::{self, Kind, Tier},
};
use nalgebra::Point2;
use rayon::prelude::*;

/// Seeds from here on belong to the calibration.
const FIRST_SEED: u64 = 9_000_000;
/// Larger pictures take long and add nothing that smaller ones do not show.
const MOST_PX: usize = 100_000;
/// A hot spot further from the fault than this is not its picture.
const NEAR_MM: f64 = 2.0;

/// One hot spot with the place of the truth in its list.
struct Example {
    considered: Vec<Considered>,
    truth: usize,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let each: u64 = std::env::args().nth(1).map_or(Ok(60), |text| text.parse())?;
    let kinds: Vec<Kind> = Kind::all()
        .into_iter()
        .filter(|kind| !kind.blank() && matches!(kind, Kind::Tier(_) | Kind::Shiny | Kind::Disturbed(_)))
        .collect();
    let jobs: Vec<(Kind, u64)> = kinds
        .iter()
        .flat_map(|&kind| {
            // Disturbed boards are rarer at the bench than quiet ones.
            let boards = if matches!(kind, Kind::Tier(Tier::Strong | Tier::Medium | Tier::Faint | Tier::Pulsed)) {
                each
            } else {
                each / 4
            };
            (FIRST_SEED..FIRST_SEED + boards).map(move |seed| (kind, seed))
        })
        .collect();
    let examples: Vec<Example> = jobs.par_iter().filter_map(|&(kind, seed)| example(kind, seed)).collect();
    let off = examples.iter().filter(|e| e.truth + 1 == e.considered.len()).count();
    println!(
        "{} boards, {} with a hot spot at the fault, {off} of these not on the drawing",
        jobs.len(),
        examples.len()
    );
    let before = Calibration::default();
    let fitted = fit(&examples);
    let (half, other): (Vec<_>, Vec<_>) = examples.iter().partition(|e| e.considered.len().is_multiple_of(2));
    println!(
        "now:    {before:?}: mean log {:.4}, first right {:.3}",
        score(&examples, &before),
        first_right(&examples, &before)
    );
    println!(
        "fitted: {fitted:?}: mean log {:.4}, first right {:.3}",
        score(&examples, &fitted),
        first_right(&examples, &fitted)
    );
    println!("by halves: {:?} and {:?}", fit(&half), fit(&other));
    Ok(())
}

fn example(kind: Kind, seed: u64) -> Option<Example> {
    let (width, height) = proving::picture_size(kind, seed);
    if width * height > MOST_PX {
        return None;
    }
    let mut made = proving::build(kind, seed);
    let truth = made.simulated.truth.part.clone()?;
    let fault_mm: Point2<f64> = made.simulated.truth.centre_mm?;
    if seed.is_multiple_of(6) {
        made.board.faces.iter_mut().for_each(|face| face.parts.retain(|part| part.designator != truth));
    }
    let alignment = Alignment::fit(&made.simulated.pairs).ok()?;
    let located = locate(&made.simulated.take, &made.scene(&alignment), &Settings::default(), &NoProgress).ok()?;
    let near = |spot: &HotSpot, answer: &SpotAnswer| {
        (spot.centre_mm - fault_mm).norm() <= NEAR_MM && matches!(answer.role, SpotRole::Own | SpotRole::End)
    };
    let (_, answer) = located.hot_spots.iter().zip(&located.answers).find(|(spot, answer)| near(spot, answer))?;
    let considered = answer.considered.clone();
    let place = considered.iter().position(|c| c.parts == [truth.as_str()]);
    Some(Example { truth: place.unwrap_or(considered.len() - 1), considered })
}

fn score<E: std::borrow::Borrow<Example>>(examples: &[E], calibration: &Calibration) -> f64 {
    let log = |e: &E| probabilities(&e.borrow().considered, calibration)[e.borrow().truth].max(1e-12).ln();
    examples.iter().map(log).sum::<f64>() / examples.len().max(1) as f64
}

fn first_right(examples: &[Example], calibration: &Calibration) -> f64 {
    let right = |e: &&Example| {
        let found = probabilities(&e.considered, calibration);
        found.iter().all(|p| *p <= found[e.truth])
    };
    examples.iter().filter(right).count() as f64 / examples.len().max(1) as f64
}

/// By coordinates, in steps that get finer: the score is smooth, and three numbers need no more.
fn fit<E: std::borrow::Borrow<Example>>(examples: &[E]) -> Calibration {
    let mut best = Calibration { position: 0.5, templates: 0.5, floor: 0.01 };
    let mut factor: f64 = 2.0;
    while factor > 1.02 {
        let now = score(examples, &best);
        for scale in [factor, 1.0 / factor] {
            let tries = [
                Calibration { position: (best.position * scale).min(1.0), ..best },
                Calibration { templates: (best.templates * scale).min(1.0), ..best },
                Calibration { floor: (best.floor * scale).min(0.5), ..best },
            ];
            for tried in tries {
                if score(examples, &tried) > score(examples, &best) {
                    best = tried;
                }
            }
        }
        if score(examples, &best) - now < 1e-6 {
            factor = factor.sqrt();
        }
    }
    best
}
