//! Each disturbance does what it says, and no more.

use super::*;

fn times(n: usize, interval_s: f64) -> Vec<f64> {
    (0..n).map(|i| i as f64 * interval_s).collect()
}

/// Centre of gravity of a frame's difference from its own corner value, and its spread's direction in degrees.
fn gravity(frame: &Array2<f32>) -> (f64, f64, f64) {
    let base = f64::from(frame[[0, 0]]);
    let weights: Vec<(f64, f64, f64)> =
        frame.indexed_iter().map(|((y, x), &v)| (x as f64, y as f64, base - f64::from(v))).collect();
    let sum: f64 = weights.iter().map(|w| w.2).sum();
    let (x0, y0) = weights.iter().fold((0.0, 0.0), |a, w| (a.0 + w.0 * w.2 / sum, a.1 + w.1 * w.2 / sum));
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (x, y, w) in weights {
        xx += w * (x - x0).powi(2);
        xy += w * (x - x0) * (y - y0);
        yy += w * (y - y0).powi(2);
    }
    (x0, y0, 0.5 * (2.0 * xy).atan2(xx - yy).to_degrees())
}

/// A shiny bar on a black board over a black bench: shift and turn of the picture are those of the bar.
#[test]
fn shake_moves_the_picture_by_the_pose() {
    let mut setup = bare_plate(40.0, 1.0, fr4(20.0), times(3, 1.0));
    setup.surroundings.mask_emissivity = 1.0;
    setup.surroundings.bench_emissivity = 1.0;
    setup.paints.push(Paint { area: rectangle(20.0, 18.5, 12.0, 3.0), emissivity: 0.0 });
    let poses = [(0.0, 0.0, 0.0), (3.3, -1.6, 0.0), (-7.25, 2.5, 2.0)];
    setup.disturbances.shake = poses.iter().map(|&(dx_px, dy_px, turn_deg)| Pose { dx_px, dy_px, turn_deg }).collect();
    let seen = simulate_noiseless(&setup);
    let (x0, y0, angle0) = gravity(&seen.take.stack.frame(0));
    let mut still = setup.clone();
    still.disturbances.shake.clear();
    let unshaken = simulate_noiseless(&still).take.stack.frame(0);
    assert!(unshaken.iter().zip(&seen.take.stack.frame(0)).all(|(a, b)| (a - b).abs() < 1e-5));
    for (frame, (dx, dy, turn)) in poses.into_iter().enumerate().skip(1) {
        let (x, y, angle) = gravity(&seen.take.stack.frame(frame));
        // About the middle of 64 x 48 pixels: (31.5, 23.5).
        let (sin, cos) = f64::to_radians(turn).sin_cos();
        let (rx, ry) = (x0 - 31.5, y0 - 23.5);
        let wanted = (31.5 + cos * rx - sin * ry + dx, 23.5 + sin * rx + cos * ry + dy);
        // Sampling at a third of a pixel keeps a blurred bar's centre to a thousandth; 0.01 px is far below any use.
        assert!((x - wanted.0).abs() < 0.01 && (y - wanted.1).abs() < 0.01, "({x}, {y}) against {wanted:?}");
        assert!((angle - angle0 - turn).abs() < 0.1, "{} against {turn}", angle - angle0);
    }
}

/// The pattern of the sensor does not move with the board: an even scene shakes unseen.
#[test]
fn the_fixed_pattern_stays_while_the_board_shakes() {
    let mut setup = bare_plate(40.0, 1.0, fr4(20.0), times(2, 1.0));
    setup.surroundings.reflected_k = setup.surroundings.ambient_k;
    setup.sensor = Sensor { netd_k: 0.0, fixed_pattern_k: 0.5, ..setup.sensor };
    setup.disturbances.shake = vec![Pose::default(), Pose { dx_px: 5.0, dy_px: 3.0, turn_deg: 1.0 }];
    let stack = simulate(&setup, 1).take.stack;
    assert_eq!(stack.frame(0), stack.frame(1));
    assert!(stack.frame(0).iter().any(|v| (v - stack.frame(0)[[0, 0]]).abs() > 0.5));
}

#[test]
fn a_pause_repeats_frames_exactly_and_then_jumps() {
    let mut setup = bare_plate(40.0, 1.0, fr4(20.0), times(30, 0.1));
    let without = simulate(&setup, 5).take.stack;
    setup.disturbances.pauses.push(ShutterPause { from_frame: 10, repeats: 4, jump_k: 0.3, pattern_k: 0.1 });
    let with = simulate(&setup, 5).take.stack;
    for frame in 0..10 {
        assert_eq!(with.frame(frame), without.frame(frame));
    }
    for frame in 10..14 {
        assert_eq!(with.frame(frame), with.frame(9));
    }
    assert_ne!(with.frame(14), with.frame(9));
    for frame in [14, 29] {
        let change: Vec<f64> =
            with.frame(frame).iter().zip(&without.frame(frame)).map(|(a, b)| f64::from(a - b)).collect();
        let mean = change.iter().sum::<f64>() / change.len() as f64;
        let spread = (change.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / change.len() as f64).sqrt();
        // 3072 pixels know mean and spread to 0.002 K; 0.01 is five times that and holds the rounding of 0.02 K.
        assert!((mean - 0.3).abs() < 0.01 && (spread - 0.1).abs() < 0.01, "{mean}, {spread}");
    }
}

#[test]
fn a_late_log_shows_later_frames_what_earlier_ones_had() {
    let mut setup = bare_plate(40.0, 1.0, fr4(20.0), times(20, 0.1));
    setup.timeline.inject_from(8);
    setup.timeline.amps = (0..20).map(|i| Some(f64::from(i))).collect();
    for (lag, first) in [(2, 10), (-1, 7)] {
        setup.disturbances.log_lag_frames = lag;
        let take = simulate(&setup, 1).take;
        assert_eq!(take.timeline.first_injected(), Some(first));
        assert_eq!(take.timeline.amps[12], Some(12.0 - f64::from(lag)));
        assert_eq!(take.timeline.time_s, setup.timeline.time_s);
    }
}

#[test]
fn bad_pixels_show_what_their_fault_says() {
    let mut setup = bare_plate(40.0, 1.0, fr4(20.0), times(400, 0.1));
    let healthy = simulate(&setup, 2).take.stack;
    setup.disturbances.bad_pixels = vec![
        BadPixel { x_px: 5, y_px: 7, fault: PixelFault::Constant { shown_k: -12.0 } },
        BadPixel { x_px: 50, y_px: 3, fault: PixelFault::Flicker { jump_k: 1.0, every_s: 1.0 } },
    ];
    let stack = simulate(&setup, 2).take.stack;
    let (mut jumps, mut high, mut before) = (0, 0, false);
    for frame in 0..400 {
        let (now, was) = (stack.frame(frame), healthy.frame(frame));
        // Rounded to counts of 0.02 K.
        assert!((f64::from(now[[7, 5]]) + 12.0 - setup.surroundings.ambient_k).abs() < 0.0101);
        let up = now[[3, 50]] - was[[3, 50]] > 0.5;
        jumps += usize::from(frame > 0 && up != before);
        high += usize::from(up);
        before = up;
        assert_eq!(now[[20, 20]], was[[20, 20]]);
    }
    // 40 s with a jump every second, less the pairs within one frame: about 36, Poisson spread 6.
    assert!((18..=54).contains(&jumps), "{jumps}");
    assert!((60..=340).contains(&high), "{high}");
}

/// Spread over pixels at the last frame, noise off: rows wander as rows, pixels drift each on its own.
#[test]
fn rows_and_pixels_drift_by_their_size() {
    let mut setup = bare_plate(40.0, 1.0, fr4(20.0), times(40, 0.1));
    setup.sensor.netd_k = 0.0;
    setup.sensor.law.gain_k_per_count = 1e-3;
    let still = simulate(&setup, 4).take.stack;
    let change = |setup: &Setup, frame: usize| simulate(setup, 4).take.stack.frame(frame) - still.frame(frame);
    let spread = |values: &Array2<f32>| (values.iter().map(|v| v * v).sum::<f32>() / values.len() as f32).sqrt();
    setup.sensor.row_wander_k = 0.2;
    let rows = change(&setup, 39);
    assert!(rows.rows().into_iter().all(|r| r.iter().all(|v| (v - r[0]).abs() < 2e-3)));
    // 48 rows know their spread to 10 %; 3 sigma.
    assert!((spread(&rows) / 0.2 - 1.0).abs() < 0.3, "{}", spread(&rows));
    setup.sensor.row_wander_k = 0.0;
    setup.sensor.pixel_drift_k = 0.2;
    // 3072 pixels know it to 1.3 %.
    let (end, half) = (change(&setup, 39), change(&setup, 20));
    assert!((spread(&end) / 0.2 - 1.0).abs() < 0.05, "{}", spread(&end));
    assert!(spread(&change(&setup, 0)) < 1e-3);
    // A walk's variance grows with time; the series is cut, which changes the middle by a few per cent.
    assert!((spread(&half) / 0.2 - 0.5_f32.sqrt()).abs() < 0.08, "{}", spread(&half));
    // White in space: neighbours know nothing of each other (3008 pairs, spread 0.018).
    let pairs = end.windows((1, 2)).into_iter().map(|w| w[[0, 0]] * w[[0, 1]]).sum::<f32>() / 3024.0;
    assert!((pairs / 0.04).abs() < 0.08, "{pairs}");
    // Smooth in time: one frame changes it far less than the whole.
    assert!(spread(&(change(&setup, 21) - &half)) < 0.05);
}

/// Heat that the probe brings is heat that the board gets: stored and lost in all of it stays what the tip held, and the
/// tip cools towards the board with its own time constant at first.
#[test]
fn a_warm_probe_gives_its_heat_to_the_board() {
    let mut setup = bare_plate(40.0, 0.5, fr4(20.0), times(201, 0.1));
    setup.disturbances.probes.push(ProbeContact {
        at: SourceAt::Point([20.2, 20.2]),
        rise_k: 8.0,
        capacity_j_per_k: 0.05,
        contact_w_per_k: 1e-3,
        touch_s: 3.0,
    });
    let history = run(&setup);
    let probe = history.first_body;
    let tip = |frame: usize| f64::from(history.states[frame][probe]);
    assert_eq!(tip(30), 8.0);
    assert!(history.states[30][..probe].iter().all(|v| *v == 0.0));
    assert!(tip(31) < tip(30) && tip(200) < 6.5, "{} then {}", tip(31), tip(200));
    // At first the board is cold: d/dt = -g/C rise = -0.02/s; the cell under it, which spreads ten times what the contact
    // passes, is up by some per cent of the tip within the tenth of a second.
    assert!(((tip(30) - tip(31)) / 0.016 - 1.0).abs() < 0.1, "{}", tip(30) - tip(31));
    let weigh = |state: &[f32], by: &[f64]| -> f64 { state.iter().zip(by).map(|(&t, w)| f64::from(t) * w).sum() };
    let stored = weigh(&history.states[200], &history.capacities_j_per_k);
    let lost: Vec<f64> = history.states.iter().map(|s| weigh(s, &history.losses_w_per_k)).collect();
    let lost: f64 = lost.windows(2).map(|w| 0.05 * (w[0] + w[1])).sum();
    assert!(((stored + lost) / 0.4 - 1.0).abs() < 1e-3, "{stored} + {lost} against 0.4 J");
    // The truth knows nothing of it.
    let truth = simulate_noiseless(&setup).truth.rise_end_k;
    assert!(truth.iter().all(|v| v.abs() < 1e-6));
}

/// Where it is half way, and nowhere before and after.
#[test]
fn a_moving_reflection_comes_and_goes() {
    let mut setup = bare_plate(40.0, 0.5, fr4(20.0), times(11, 1.0));
    setup.surroundings.mask_emissivity = 0.8;
    setup.disturbances.moving_reflections.push(MovingReflection {
        start_mm: [10.0, 20.0],
        end_mm: [30.0, 20.0],
        sigma_mm: 5.0,
        change_k: 5.0,
        from_s: 2.0,
        to_s: 8.0,
    });
    let stack = simulate_noiseless(&setup).take.stack;
    let quiet = stack.frame(0);
    assert_eq!(stack.frame(2), quiet);
    assert_eq!(stack.frame(9), quiet);
    let middle = stack.frame(5) - &quiet;
    // (20, 20) mm is pixel (30, 25): a fifth of 5 K, less what a blur of 1 mm takes from a Gaussian of 5 mm (4 %).
    assert!((middle[[25, 30]] - 1.0).abs() < 0.06, "{}", middle[[25, 30]]);
    let early = hottest(&(stack.frame(3) - &quiet));
    let late = hottest(&(stack.frame(7) - &quiet));
    assert!(early.0 < 26 && late.0 > 34, "{early:?} then {late:?}");
}

/// A path's sources add up to its watts, and lie on it.
#[test]
fn a_feed_path_makes_its_watts_along_its_line() {
    let drive = Drive::Step { on_s: 0.0, off_s: 1.0 };
    let sources = feed_path(&[[1.0, 1.0], [4.0, 5.0], [4.0, 11.0]], 0.02, 0.25, drive);
    let total: f64 = sources.iter().map(|s| s.watts).sum();
    assert!((total - 0.02 * 11.0).abs() < 1e-12, "{total}");
    for source in &sources {
        let SourceAt::Point([x, y]) = source.at else { panic!("a path is made of points") };
        let on_first = ((y - 1.0) * 3.0 - (x - 1.0) * 4.0).abs() < 1e-9 && x <= 4.0;
        assert!(on_first || (x - 4.0).abs() < 1e-9 && y >= 5.0, "({x}, {y})");
    }
}
