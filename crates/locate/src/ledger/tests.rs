//! The ledger on simulated recordings whose watts are known.

use joulemark_frames::{NoProgress, Take};
use nalgebra::Point2;

use super::*;
use crate::{
    Settings,
    align::Alignment,
    maps::{self},
    simulate::scenario,
};

/// Runs the chain up to the ledger as the pipeline does.
pub(super) fn ledger_of(
    take: &Take,
    scene: &Scene<'_>,
    hot_spots: &[HotSpot],
    electrical: ElectricalPower,
) -> Option<LedgerSolution> {
    let before = take.timeline.first_injected().unwrap();
    let model = ResponseModel::new(&take.timeline);
    let projection = maps::project(&take.stack, &model.basis(), before, &NoProgress).unwrap();
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
            maps::mend(&mut values, &noise.unusable, width);
            Plane::new(width, values)
        })
        .collect();
    let before_slope = planes.pop().unwrap();
    let face = scene.board.face(scene.face).unwrap();
    let board: Vec<bool> = (0..planes[0].values.len())
        .map(|p| face.outline_contains(scene.alignment.to_board(Point2::new((p % width) as f64, (p / width) as f64))))
        .collect();
    let estimator = RiseEstimator::new(&model, &planes, &before_slope, &board);
    let joined = scene.board.joined_rails(scene.rail);
    let started = std::time::Instant::now();
    let solution = solve(&LedgerInput {
        model: &model,
        estimator: Some(&estimator),
        coefficients: &planes,
        noise: &noise,
        scene,
        joined: &joined,
        hot_spots,
        unit: take.unit,
        electrical,
    });
    println!("ledger took {:.0} ms", started.elapsed().as_secs_f64() * 1e3);
    solution
}

#[test]
#[ignore = "prints"]
fn table() {
    let seeds: u64 = std::env::var("SEEDS").map_or(6, |s| s.parse().unwrap());
    for name in ["ceramic-capacitor", "lower-board-diode", "faint"] {
        for seed in 1..=seeds {
            let case = scenario::build(name, seed).unwrap();
            let alignment = Alignment::fit(&case.simulated.pairs).unwrap();
            let scene = Scene {
                board: &case.board,
                face: &case.face,
                rail: &case.rail,
                alignment: &alignment,
                lead_ohms: Some(case.lead_ohms),
                injection_mm: None,
            };
            let take = &case.simulated.take;
            let located = crate::locate(take, &scene, &Settings::default(), &NoProgress).unwrap();
            let electrical = located.electrical_watts.map_or(ElectricalPower::Unknown, ElectricalPower::Known);
            let Some(solution) = ledger_of(take, &scene, &located.hot_spots, electrical) else { continue };
            let truth = &case.simulated.truth;
            let list: Vec<String> = solution
                .ledger
                .entries
                .iter()
                .map(|e| format!("{} {:.4}±{:.4}", e.part, e.watts, e.watts_se))
                .collect();
            println!(
                "{name} {seed}: truth {} {:.4} W; {} else {:.4}; kd {:.4}, chi {:.2}, explained {:?}±{:?} {:?}",
                format!("{} {:.1?}", truth.part.clone().unwrap_or_default(), truth.centre_mm),
                truth.watts,
                list.join(", "),
                solution.ledger.elsewhere_watts,
                solution.ledger.sheet_w_per_k,
                solution.reduced_chi_square,
                solution.ledger.explained_share,
                solution.ledger.explained_share_se,
                solution.ledger.hints,
            );
        }
    }
}
