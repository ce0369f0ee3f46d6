//! The ledger on simulated recordings whose watts are known.

mod proving;
mod watts;
mod workshop;

use joulemark_frames::{NoProgress, Take};
use nalgebra::Point2;

use super::*;
use crate::{
    Settings,
    align::Alignment,
    board::Board,
    maps,
    model::Drive,
    region,
    simulate::{Setup, SimulatedTake, Truth, scenario},
};

/// Runs the chain up to the ledger as the pipeline does, and the ledger on the hot spots that it finds.
fn ledger_of(take: &Take, scene: &Scene<'_>, electrical: Option<Power>) -> Option<LedgerSolution> {
    let located = crate::locate(take, scene, &Settings::default(), &NoProgress).unwrap();
    let electrical = electrical.unwrap_or_else(|| located.electrical_watts.map_or(Power::Unknown, Power::Known));
    ledger_on(take, scene, &located.hot_spots, electrical)
}

/// The same for given hot spots.
fn ledger_on(take: &Take, scene: &Scene<'_>, hot_spots: &[HotSpot], electrical: Power) -> Option<LedgerSolution> {
    let before = take.timeline.first_injected().unwrap();
    let model = ResponseModel::new(Drive::from_timeline(&take.timeline, 0.0), &[]);
    let projection = maps::project(&take.stack, &maps::Readout::of(&model), before, &NoProgress).unwrap();
    let noise = maps::judge(&projection.variance, take.stack.shape().frames).unwrap();
    let vectors = model.vectors.ncols();
    let width = take.stack.shape().width_px;
    let mut planes: Vec<Plane> = projection
        .coefficients
        .into_iter()
        .take(vectors + 1)
        .map(|mut values| {
            for (v, s) in values.iter_mut().zip(&noise.sigma) {
                *v /= s;
            }
            maps::Holes::new(&noise.unusable, width).mend(&mut values);
            Plane::new(width, values)
        })
        .collect();
    let before_slope = planes.pop().unwrap();
    let joined = scene.board.joined_rails(scene.rail);
    let board = region::regions(scene, &joined, planes[0].width, planes[0].height).board;
    let estimator = RiseEstimator::new(&model, &planes, &before_slope, &board);
    let rise = maps::rise_maps(&model, &estimator, &planes, &noise, &board).rise;
    let started = std::time::Instant::now();
    let solution = solve(&LedgerInput {
        model: &model,
        estimator: Some(&estimator),
        coefficients: &planes,
        noise: &noise,
        rise: Some(&rise),
        scene,
        joined: &joined,
        hot_spots,
        unit: take.unit,
        electrical,
    });
    println!("  ledger took {:.0} ms at {width} columns", started.elapsed().as_secs_f64() * 1e3);
    solution
}

fn of_workshop(board: &Board, simulated: &SimulatedTake) -> LedgerSolution {
    of_workshop_with(board, simulated, None, Unit::Kelvin)
}

fn of_workshop_with(board: &Board, simulated: &SimulatedTake, electrical: Option<Power>, unit: Unit) -> LedgerSolution {
    let alignment = Alignment::fit(&simulated.pairs).unwrap();
    let scene = Scene {
        board,
        face: "top",
        rail: "V5",
        alignment: &alignment,
        lead_ohms: None,
        injection_mm: Some(Point2::from(workshop::MARK_MM)),
    };
    let take = Take { unit, ..simulated.take.clone() };
    ledger_of(&take, &scene, electrical).unwrap()
}

fn of_practice(name: &str, seed: u64) -> Option<(LedgerSolution, Truth)> {
    let case = scenario::build(name, seed)?;
    let alignment = Alignment::fit(&case.simulated.pairs).unwrap();
    let scene = case.scene(&alignment);
    Some((ledger_of(&case.simulated.take, &scene, None)?, case.simulated.truth))
}

fn print(what: &str, solution: &LedgerSolution) {
    if let Some(ledger) = &solution.ledger {
        let list: Vec<String> =
            ledger.entries.iter().map(|e| format!("{} {:.4}±{:.4}", e.part, e.watts, e.watts_se)).collect();
        println!(
            "{what}: {} path {:.4} else {:.4}; kd {:.4}, chi {:.2}, explained {:.2?}±{:.2?} {:?}",
            list.join(", "),
            ledger.path_watts,
            ledger.elsewhere_watts,
            ledger.sheet_w_per_k,
            solution.reduced_chi_square,
            ledger.explained_share.unwrap_or(f64::NAN),
            ledger.explained_share_se.unwrap_or(f64::NAN),
            ledger.hints,
        );
    }
    println!("     {:?}", solution.roles);
    for spot in &solution.evidence {
        let best: Vec<String> = spot
            .parts
            .iter()
            .take(4)
            .map(|p| {
                let bare = if p.looks_bare { " bare" } else { "" };
                format!(
                    "{} {:.1} ({:.3} W, {:.2} {:.2} mm{bare})",
                    p.part, p.log_gain, p.watts, p.shift_mm.x, p.shift_mm.y
                )
            })
            .collect();
        println!("     {}; off {:.1}", best.join(", "), spot.off_drawing);
    }
}
