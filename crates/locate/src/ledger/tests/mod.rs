//! The ledger on simulated recordings whose watts are known.

mod workshop;

use joulemark_frames::{NoProgress, Take};
use nalgebra::Point2;

use super::*;
use crate::{
    Settings,
    align::Alignment,
    board::Board,
    maps,
    simulate::{Setup, SimulatedTake, scenario, simulate},
};
use workshop::{capacitor, setup, step};

/// Runs the chain up to the ledger as the pipeline does, and the ledger on the hot spots that it finds.
fn ledger_of(take: &Take, scene: &Scene<'_>) -> Option<LedgerSolution> {
    let located = crate::locate(take, scene, &Settings::default(), &NoProgress).unwrap();
    let electrical = located.electrical_watts.map_or(ElectricalPower::Unknown, ElectricalPower::Known);
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
        hot_spots: &located.hot_spots,
        unit: take.unit,
        electrical,
    });
    println!("  ledger took {:.0} ms", started.elapsed().as_secs_f64() * 1e3);
    solution
}

fn of_workshop(board: &Board, simulated: &SimulatedTake) -> LedgerSolution {
    let alignment = Alignment::fit(&simulated.pairs).unwrap();
    let scene = Scene { board, face: "top", rail: "V5", alignment: &alignment, lead_ohms: None, injection_mm: None };
    ledger_of(&simulated.take, &scene).unwrap()
}

fn print(what: &str, solution: &LedgerSolution) {
    let list: Vec<String> =
        solution.ledger.entries.iter().map(|e| format!("{} {:.4}±{:.4}", e.part, e.watts, e.watts_se)).collect();
    println!(
        "{what}: {} else {:.4}; kd {:.4}, chi {:.2}, explained {:.2?}±{:.2?} {:?}",
        list.join(", "),
        solution.ledger.elsewhere_watts,
        solution.ledger.sheet_w_per_k,
        solution.reduced_chi_square,
        solution.ledger.explained_share.unwrap_or(f64::NAN),
        solution.ledger.explained_share_se.unwrap_or(f64::NAN),
        solution.ledger.hints,
    );
    for spot in &solution.evidence {
        let best: Vec<String> = spot
            .parts
            .iter()
            .take(4)
            .map(|p| {
                format!("{} {:.1} ({:.3} W, {:.2} {:.2} mm)", p.part, p.log_gain, p.watts, p.shift_mm.x, p.shift_mm.y)
            })
            .collect();
        println!("     {}; off {:.1}", best.join(", "), spot.off_drawing);
    }
}

#[test]
#[ignore = "prints a table for those who change the ledger"]
fn what_disturbs() {
    let alone = || vec![capacitor("C1", 30.0, 20.0)];
    let bank = || {
        let mut bank = alone();
        bank.extend(
            [(30.0, 22.2), (27.0, 20.0), (33.0, 20.0), (30.0, 17.8)]
                .iter()
                .enumerate()
                .map(|(i, p)| capacitor(&format!("C{}", i + 2), p.0, p.1)),
        );
        bank
    };
    let run = |what: &str, mounted: &[workshop::Mounted], change: &dyn Fn(&mut Setup)| {
        let mut setup = setup(mounted, &[(0, 0.15)], step());
        change(&mut setup);
        let simulated = simulate(&setup, 1);
        print(what, &of_workshop(&workshop::board(mounted), &simulated));
    };
    run("alone", &alone(), &|_| {});
    run("alone, no caps", &alone(), &|s| s.bodies[0].end_caps = None);
    run("alone, cell 0.25", &alone(), &|s| s.plate.cell_mm = 0.25);
    run("alone, exact alignment", &alone(), &|s| s.click_sigma_px = 0.0);
    run("alone, no noise", &alone(), &|s| s.sensor.netd_k = 0.005);
    run("bank", &bank(), &|_| {});
    run("bank, no caps", &bank(), &|s| s.bodies.iter_mut().for_each(|b| b.end_caps = None));
    run("margin", &bank(), &|s| s.plate.copper[0].area = crate::simulate::rectangle(30.0, 20.0, 58.0, 38.0));
    run("pour", &bank(), &|s| {
        s.plate.copper.push(crate::simulate::Copper {
            area: crate::simulate::rectangle(24.0, 18.0, 18.0, 12.0),
            thickness_um: 35.0,
            coverage: 0.5,
        });
    });
    let mut far = bank();
    far.push(capacitor("C9", 40.0, 26.0));
    for share in [0.3, 0.1] {
        let add = |s: &mut Setup| {
            s.sources.push(crate::simulate::Source {
                at: crate::simulate::SourceAt::Body(5),
                watts: 0.15 * share,
                drive: step(),
            })
        };
        run(&format!("second at {share}"), &far, &add);
        let add = |s: &mut Setup| {
            s.sources.push(crate::simulate::Source {
                at: crate::simulate::SourceAt::Body(2),
                watts: 0.15 * share,
                drive: step(),
            })
        };
        run(&format!("C3 second at {share}"), &far, &add);
        let add = |s: &mut Setup| {
            s.sources[0].watts /= 30.0;
            s.sources.push(crate::simulate::Source {
                at: crate::simulate::SourceAt::Body(5),
                watts: 0.15 * share / 30.0,
                drive: step(),
            })
        };
        run(&format!("faint second at {share}"), &far, &add);
    }
    run("shiny", &bank(), &|s| {
        s.bodies[0].emissivity = 0.1;
    });
    run("thin board", &bank(), &|s| {
        s.plate.base.areal_capacity_j_per_m2k = 1850.0;
        s.plate.base.sheet_w_per_k = 1.06e-3;
    });
    run("much copper", &bank(), &|s| {
        s.plate.copper[0].thickness_um = 140.0;
    });
    run("bare", &bank(), &|s| {
        s.plate.copper.clear();
    });
    let mut big = bank();
    big[0].part.width_mm = 5.0;
    big[0].part.height_mm = 2.6;
    big[0].j_per_k = 48e-3;
    big[0].k_per_w = 22.0;
    big[2].part.x_mm -= 2.0;
    big[3].part.x_mm += 2.0;
    big[1].part.y_mm += 1.0;
    big[4].part.y_mm -= 1.0;
    run("big", &big, &|_| {});
    run("big, fast", &big, &|s| s.bodies[0].capacity_j_per_k = 1e-3);
    run("big, no caps", &big, &|s| s.bodies.iter_mut().for_each(|b| b.end_caps = None));
    run(
        "big, at the left",
        &{
            let mut left = big;
            left.iter_mut().for_each(|m| m.part.x_mm -= 15.0);
            left
        },
        &|_| {},
    );
}

#[test]
#[ignore = "prints a table for those who change the ledger"]
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
            let Some(solution) = ledger_of(&case.simulated.take, &scene) else { continue };
            let truth = &case.simulated.truth;
            print(
                &format!("{name} {seed}: {} {:.4} W", truth.part.clone().unwrap_or_default(), truth.watts),
                &solution,
            );
        }
    }
}
