//! The simulator against closed forms. Inputs are those of the project's page of published checks, section 2: FR-4 in
//! plane k 1.059 W/mK, alpha 5.724324e-7 m2/s, 1.6 mm (Sarvar, Poole, Witting, J. Electron. Mater. 19 (1990) 1345);
//! the forms themselves are Carslaw & Jaeger's, tested against the page's values in `plate`.

mod disturbances;

use joulemark_frames::Timeline;
use nalgebra::Matrix3;

use super::*;
use crate::plate::{ThinPlate, lumped_rise_k};

fn fr4(loss_w_per_m2k: f64) -> ThinPlate {
    let sheet = 1.059 * 1.6e-3;
    ThinPlate { sheet_w_per_k: sheet, areal_capacity_j_per_m2k: sheet / 5.724324e-7, loss_w_per_m2k }
}

/// A square bare plate without bodies or camera noise, with the given frame times.
fn bare_plate(edge_mm: f64, cell_mm: f64, base: ThinPlate, time_s: Vec<f64>) -> Setup {
    let mut timeline = Timeline::steady(time_s.len(), 1.0);
    timeline.time_s = time_s;
    timeline.inject_from(1);
    Setup {
        name: "plate".into(),
        plate: Plate {
            outline: vec![[0.0, 0.0], [edge_mm, 0.0], [edge_mm, edge_mm], [0.0, edge_mm]],
            cell_mm,
            base,
            copper: Vec::new(),
            behind: None,
        },
        bodies: Vec::new(),
        sources: Vec::new(),
        paints: Vec::new(),
        surroundings: Surroundings::default(),
        camera: Camera {
            width_px: 64,
            height_px: 48,
            image_from_board: Matrix3::new(1.0, 0.0, 10.0, 0.0, 1.0, 5.0, 0.0, 0.0, 1.0),
            blur_sigma_px: 1.0,
            samples_per_px: 3,
        },
        sensor: Sensor { netd_k: 0.05, ..Sensor::ideal(CountsLaw { gain_k_per_count: 0.02, offset_k: 280.0 }) },
        disturbances: Disturbances::default(),
        timeline,
        pair_points_mm: vec![[0.0, 0.0], [edge_mm, 0.0], [0.0, edge_mm]],
        click_sigma_px: 0.3,
        culprit: None,
    }
}

fn point_source(at: [f64; 2], watts: f64) -> Source {
    Source { at: SourceAt::Point(at), watts, drive: Drive::Step { on_s: 0.0, off_s: f64::INFINITY } }
}

/// Rise of the cell at a whole number of cells to the right of the middle one.
fn beside(history: &History, frame: usize, cells: usize) -> f64 {
    let grid = &history.grid;
    f64::from(history.states[frame][(grid.rows / 2) * grid.columns + grid.columns / 2 + cells])
}

/// 0.1 W, loss 20 W/m2K: K0 at 2, 5, 10 and 20 mm. The plate is 100.5 mm wide: its edges mirror the source 100 mm away
/// and more (below 0.1 % at 20 mm); 1200 s are eight times C/(h1+h2), leaving exp(-8). One percent is the brief's.
#[test]
fn steady_point_source_agrees_with_k0() {
    let mut setup = bare_plate(100.5, 0.5, fr4(20.0), vec![0.0, 1200.0]);
    setup.sources.push(point_source([50.25, 50.25], 0.1));
    let history = run(&setup);
    for (r_mm, wanted) in [(2.0, 15.72163), (5.0, 8.045767), (10.0, 3.499737), (20.0, 0.866466)] {
        let found = beside(&history, 1, (r_mm / 0.5) as usize);
        assert!((found / wanted - 1.0).abs() < 0.01, "{r_mm} mm: {found} against {wanted}");
    }
}

/// 0.1 W over 1.6 mm without loss, 2 mm away after 60 s: the page's 14.03395 K; other times from 10 s on
/// against the closed form (before that heat has spread over a few cells only, and the grid itself is over 1 % off).
#[test]
fn continuous_line_source_agrees_with_e1() {
    let times: Vec<f64> = (0..=30).map(|i| 2.0 * f64::from(i)).collect();
    let mut setup = bare_plate(80.5, 0.5, fr4(0.0), times.clone());
    setup.sources.push(point_source([40.25, 40.25], 0.1));
    let history = run(&setup);
    let found = beside(&history, 30, 4);
    assert!((found / 14.03395 - 1.0).abs() < 0.01, "{found}");
    for (frame, &t) in times.iter().enumerate().skip(5) {
        for cells in [4, 8] {
            let (found, wanted) = (beside(&history, frame, cells), fr4(0.0).step_rise_k(0.1, cells as f64 * 0.5e-3, t));
            assert!((found / wanted - 1.0).abs() < 0.01, "{cells} cells, {t} s: {found} against {wanted}");
        }
    }
}

/// 0.05 J within 20 ms at one cell; times count from the middle of the pulse. Per axis sigma^2 = 2 alpha t, page: sigma
/// 1.069984 mm (1 s), 3.383585 (10 s), 8.288057 (60 s). An explicit scheme keeps it exactly; 0.1 % allows for the plate's
/// edge (90 mm, 5.4 sigma).
#[test]
fn a_flash_spreads_as_two_alpha_t() {
    let mut setup = bare_plate(90.5, 0.5, fr4(0.0), vec![0.0, 1.01, 10.01, 60.01]);
    setup.sources.push(Source {
        at: SourceAt::Point([45.25, 45.25]),
        watts: 2.5,
        drive: Drive::Step { on_s: 0.0, off_s: 0.02 },
    });
    let history = run(&setup);
    let grid = &history.grid;
    for (frame, wanted_mm) in [(1, 1.069984), (2, 3.383585), (3, 8.288057)] {
        let (mut sum, mut second) = (0.0, 0.0);
        for (i, &rise) in history.states[frame].iter().enumerate() {
            let x = ((i % grid.columns) as f64 - (grid.columns / 2) as f64) * grid.cell_mm;
            sum += f64::from(rise);
            second += f64::from(rise) * x * x;
        }
        let sigma: f64 = (second / sum).sqrt();
        assert!((sigma / wanted_mm - 1.0).abs() < 0.001, "{sigma} against {wanted_mm}");
    }
    // The peak after 10 s, page: 0.234825 K.
    let peak = beside(&history, 2, 0);
    assert!((peak / 0.234825 - 1.0).abs() < 0.01, "{peak}");
}

/// A body that touches nothing but air: P 0.5 W, R 40 K/W, C 0.8 J/K, the page's four values; 1 % is the brief's.
#[test]
fn a_lone_body_rises_as_a_lump() {
    let mut setup = bare_plate(10.0, 1.0, fr4(20.0), vec![0.0, 1.0, 10.0, 32.0, 96.0]);
    setup.bodies.push(Body {
        designator: "C1".into(),
        footprint: rectangle(5.0, 5.0, 2.0, 1.0),
        side: Side::Front,
        capacity_j_per_k: 0.8,
        to_plate_w_per_k: 0.0,
        to_air_w_per_k: 1.0 / 40.0,
        emissivity: 0.9,
        end_caps: None,
    });
    setup.sources.push(Source { at: SourceAt::Body(0), ..point_source([0.0; 2], 0.5) });
    let history = run(&setup);
    let table = [(1.0, 0.615335), (10.0, 5.367687), (32.0, 12.642411), (96.0, 19.004259)];
    for (frame, (t, wanted)) in (1..).zip(table) {
        let found = f64::from(history.states[frame][history.first_body]);
        assert!((found / wanted - 1.0).abs() < 0.01, "{t} s: {found} against {wanted}");
        assert!((lumped_rise_k(0.5, 40.0, 0.8, t) / wanted - 1.0).abs() < 1e-6);
    }
}

/// Everything at once (copper, two plates, bodies on both, pulses): stored plus lost is injected within 0.1 %. The lost
/// part is summed here from the frames by the trapezoidal rule, independently of the solver's own steps.
#[test]
fn energy_is_kept() {
    let times: Vec<f64> = (0..=600).map(|i| f64::from(i) * 0.1).collect();
    let mut setup = bare_plate(40.0, 0.5, fr4(20.0), times.clone());
    setup.plate.copper.push(Copper { area: rectangle(12.0, 20.0, 20.0, 30.0), thickness_um: 35.0, coverage: 0.8 });
    setup.plate.behind = Some(Behind { base: fr4(10.0), between_w_per_m2k: 200.0 });
    for (x, side) in [(12.3, Side::Front), (30.0, Side::Back)] {
        setup.bodies.push(Body {
            designator: format!("U{x}"),
            footprint: rectangle(x, 20.2, 5.0, 4.0),
            side,
            capacity_j_per_k: 0.05,
            to_plate_w_per_k: 0.1,
            to_air_w_per_k: 3e-4,
            emissivity: 0.9,
            end_caps: None,
        });
    }
    let pulses = Drive::Pulses { on_s: 2.0, off_s: 50.0, period_s: 4.0, duty: 0.5 };
    setup.sources.push(Source { at: SourceAt::Body(0), watts: 0.3, drive: pulses });
    setup.sources.push(Source { at: SourceAt::Body(1), ..point_source([0.0; 2], 0.2) });
    setup.sources.push(point_source([35.0, 35.0], 0.1));
    let injected = 0.3 * 24.0 + (0.2 + 0.1) * 60.0;

    let history = run(&setup);
    let weigh = |state: &[f32], by: &[f64]| -> f64 { state.iter().zip(by).map(|(&t, w)| f64::from(t) * w).sum() };
    let stored = weigh(&history.states[600], &history.capacities_j_per_k);
    let watts_lost: Vec<f64> = history.states.iter().map(|s| weigh(s, &history.losses_w_per_k)).collect();
    let lost: f64 = watts_lost.windows(2).map(|w| 0.05 * (w[0] + w[1])).sum();
    assert!(lost > 0.1 * injected, "loss {lost} J is too small to be tested");
    assert!(((stored + lost) / injected - 1.0).abs() < 1e-3, "{stored} + {lost} against {injected}");
}

/// Heat behind comes through later than heat in front: with two half plates of 0.8 mm and k/d of the material between
/// their middles, the front over a source on the back starts with zero slope, and its
/// share of the back's rise keeps growing.
#[test]
fn heat_from_behind_comes_late() {
    let half = ThinPlate { sheet_w_per_k: 1.059 * 0.8e-3, areal_capacity_j_per_m2k: 1480.0, loss_w_per_m2k: 10.0 };
    let mut setup = bare_plate(40.5, 0.5, half, (0..=60).map(|i| f64::from(i) * 0.1).collect());
    // Through plane k 0.343 W/mK over 0.8 mm from middle to middle.
    setup.plate.behind = Some(Behind { base: half, between_w_per_m2k: 0.343 / 0.8e-3 });
    setup.bodies.push(Body {
        designator: "D1".into(),
        footprint: rectangle(20.25, 20.25, 4.0, 2.5),
        side: Side::Back,
        capacity_j_per_k: 0.02,
        to_plate_w_per_k: 0.1,
        to_air_w_per_k: 1e-4,
        emissivity: 0.9,
        end_caps: None,
    });
    setup.sources.push(Source { at: SourceAt::Body(0), ..point_source([0.0; 2], 0.3) });
    let history = run(&setup);
    let cells = history.grid.cells();
    let middle = (history.grid.rows / 2) * history.grid.columns + history.grid.columns / 2;
    let (front, back) =
        (|frame: usize| history.states[frame][middle], |frame: usize| history.states[frame][cells + middle]);
    let share = |frame: usize| front(frame) / back(frame);
    assert!(share(5) < 0.1 && share(60) > 3.0 * share(5), "{} then {}", share(5), share(60));
    // It is not drawn in the picture: what shows is the front plate through its mask of 0.9, rounded off by the blur.
    let seen = hottest(&rise_at_end(&setup)).2;
    assert!(seen < 0.9 * front(60) && seen > 0.6 * front(60), "{seen} of {}", front(60));
}

/// Pixels take the mean over their area of emissivity times rise: over a body much larger than blur and pixel the
/// apparent rise is emissivity times the body's own; its ends show their own emissivity.
#[test]
fn emissivity_weighs_what_is_seen() {
    let mut setup = bare_plate(40.0, 0.5, fr4(20.0), vec![0.0, 5.0]);
    setup.bodies.push(Body {
        designator: "U1".into(),
        footprint: rectangle(20.0, 20.0, 20.0, 14.0),
        side: Side::Front,
        capacity_j_per_k: 0.5,
        to_plate_w_per_k: 0.2,
        to_air_w_per_k: 1e-3,
        emissivity: 0.8,
        end_caps: None,
    });
    setup.sources.push(Source { at: SourceAt::Body(0), ..point_source([0.0; 2], 1.0) });
    setup.culprit = Some(0);
    let rise = f64::from(run(&setup).states[1][80 * 80]);
    let seen = simulate_noiseless(&setup);
    // The mapping moves board (20, 20) to pixel (30, 25); f32 pixels allow 1e-5.
    let middle = f64::from(seen.truth.rise_end_k[[25, 30]]);
    assert!((middle / (0.8 * rise) - 1.0).abs() < 1e-5, "{middle} against {}", 0.8 * rise);
    assert_eq!(seen.truth.centre_px, Some(Point2::new(30.0, 25.0)));
    // Before injection the body is at ambient and adds 0.2 of the reflected 2 K below it.
    let before = seen.take.stack.frame(0)[[25, 30]];
    assert!((before + 0.4).abs() < 1e-5, "{before}");
    setup.bodies[0].end_caps = Some((0.2, 0.3));
    let ends = simulate_noiseless(&setup).truth.rise_end_k;
    // 2 mm inside the left end, blur sigma 1 mm: within 5 % of the bare end's own.
    assert!((f64::from(ends[[25, 22]]) / (0.3 * rise) - 1.0).abs() < 0.05, "{}", ends[[25, 22]]);
}

/// The blur's spread and the pixel's area: a narrow body seen one-dimensionally has the variance of its width, of the
/// lens and of the pixel together, and the sum over pixels keeps the area.
#[test]
fn blur_has_its_width() {
    let mut setup = bare_plate(40.0, 1.0, fr4(20.0), vec![0.0, 1.0]);
    setup.camera.blur_sigma_px = 1.5;
    setup.surroundings.mask_emissivity = 1.0;
    setup.surroundings.reflected_k = setup.surroundings.ambient_k - 1.0;
    // A stripe of 2 x 30 mm with emissivity 0: the texture is minus its blurred indicator.
    setup.paints.push(Paint { area: rectangle(20.0, 20.0, 2.0, 30.0), emissivity: 0.0 });
    setup.surroundings.bench_emissivity = 1.0;
    let frame = simulate_noiseless(&setup).take.stack.frame(0);
    let row = frame.row(25);
    let sum: f64 = row.iter().map(|&v| -f64::from(v)).sum();
    let mean: f64 = row.iter().enumerate().map(|(x, &v)| -f64::from(v) * x as f64).sum::<f64>() / sum;
    let variance: f64 =
        row.iter().enumerate().map(|(x, &v)| -f64::from(v) * (x as f64 - mean).powi(2)).sum::<f64>() / sum;
    assert!((sum - 2.0).abs() < 1e-3, "{sum}");
    assert!((mean - 30.0).abs() < 1e-3, "{mean}");
    // 1.5^2 + (2^2 + 1)/12; cutting the kernel at four sigma takes off 0.1 %.
    assert!((variance / (2.25 + 5.0 / 12.0) - 1.0).abs() < 3e-3, "{variance}");
}

#[test]
fn one_seed_gives_one_recording_and_another_seed_another() {
    let mut setup = bare_plate(40.0, 1.0, fr4(20.0), (0..20).map(f64::from).collect());
    setup.sensor = Sensor {
        fixed_pattern_k: 0.1,
        column_stripes_k: 0.05,
        column_wander_k: 0.05,
        drift_k: 0.2,
        blotches_k: 0.05,
        ..setup.sensor
    };
    let once = simulate(&setup, 7);
    let single = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a pool of one");
    let again = single.install(|| simulate(&setup, 7));
    assert_eq!(once.take.stack.samples(), again.take.stack.samples());
    assert_eq!(once.pairs, again.pairs);
    assert_ne!(once.take.stack.samples(), simulate(&setup, 8).take.stack.samples());
}

/// Differences of successive frames of an idle, driftless plate have the noise's spread: sqrt(2) times the root of NETD
/// squared and the rounding's variance q^2/12. 64 x 48 x 40 differences know it to 0.3 %; 1 % is three times that.
#[test]
fn noise_has_its_size() {
    let setup = bare_plate(40.0, 1.0, fr4(20.0), (0..41).map(f64::from).collect());
    let stack = simulate(&setup, 3).take.stack;
    let (mut sum, mut n) = (0.0, 0.0);
    for frame in 1..41 {
        for (a, b) in stack.frame(frame).iter().zip(stack.frame(frame - 1).iter()) {
            sum += f64::from(a - b).powi(2);
            n += 1.0;
        }
    }
    let found = (sum / n / 2.0_f64).sqrt();
    let wanted = (0.05_f64.powi(2) + 0.02_f64.powi(2) / 12.0).sqrt();
    assert!((found / wanted - 1.0).abs() < 0.01, "{found} against {wanted}");
}

/// Disturbances move the picture, not the truth. A reflection shows by (1 - e); a warm patch evens out.
#[test]
fn disturbances_leave_the_truth_alone() {
    let mut setup = bare_plate(40.0, 0.5, fr4(20.0), vec![0.0, 5.0, 10.0]);
    setup.sources.push(point_source([20.0, 20.0], 0.2));
    let quiet = simulate_noiseless(&setup).truth.rise_end_k;
    setup.disturbances.reflections.push(Reflection {
        centre_mm: [20.0, 20.0],
        sigma_mm: 100.0,
        change_k: 3.0,
        from_s: 1.0,
        over_s: 2.0,
    });
    setup.disturbances.warm_patches.push(WarmPatch { centre_mm: [10.0, 30.0], sigma_mm: 4.0, rise_k: 2.0 });
    let moved = simulate_noiseless(&setup);
    // Warm patches are taken off by a second run: f32 states of a few kelvin allow 1e-5 K.
    for (a, b) in quiet.iter().zip(&moved.truth.rise_end_k) {
        assert!((a - b).abs() < 1e-5, "{a} against {b}");
    }
    let patch = |frame: usize| moved.take.stack.frame(frame)[[35, 20]] - moved.take.stack.frame(frame)[[35, 45]];
    assert!(patch(0) > 1.5 && patch(2) < 0.95 * patch(0), "{} then {}", patch(0), patch(2));
    // Far from the source, under a nearly uniform reflection: mask of 0.9 shows a tenth of 3 K.
    let change = moved.take.stack.frame(1)[[8, 45]] - moved.take.stack.frame(0)[[8, 45]];
    assert!((change - 0.3).abs() < 0.03, "{change}");
}
