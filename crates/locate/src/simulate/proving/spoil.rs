//! What spoils a proving board's recording, and where that sits.

use std::f64::consts::TAU;

use joulemark_frames::Timeline;
use nalgebra::Point2;
use rand::{RngExt, rngs::ChaCha8Rng};

use super::{
    super::{
        BadPixel, MovingReflection, PixelFault, Pose, ProbeContact, Reflection, Setup, ShutterPause, SourceAt,
        WarmPatch, camera::map,
    },
    Disturbance, Nuisance,
};
use crate::board::Footprint;

/// Where a disturbance sits in the picture.
#[derive(Clone, Debug, PartialEq)]
pub enum Site {
    /// In single pixels (column, row).
    Pixels(Vec<[usize; 2]>),
    /// Within a distance of a line (of a point, when both ends agree), millimetres.
    Line {
        /// One end.
        start_mm: Point2<f64>,
        /// The other end.
        end_mm: Point2<f64>,
        /// How far it reaches to either side.
        reach_mm: f64,
    },
    /// Anywhere: it spoils the recording as a whole.
    Everywhere,
}

/// What the spoiling needs to know.
pub struct Around {
    /// Size of the board.
    pub board_mm: [f64; 2],
    /// Centre of the faulty part, where there is one.
    pub fault_mm: Option<Point2<f64>>,
    /// Index of the faulty body.
    pub culprit: Option<usize>,
    /// Bodies on the injected rail.
    pub on_rail: Vec<usize>,
}

/// Values spread evenly over the logarithm.
pub fn log_uniform(rng: &mut ChaCha8Rng, low: f64, high: f64) -> f64 {
    (rng.random_range(low.ln()..high.ln())).exp()
}

fn sign(rng: &mut ChaCha8Rng) -> f64 {
    if rng.random_bool(0.5) { 1.0 } else { -1.0 }
}

/// Times of the first frame, the onset and the last frame.
fn span_s(timeline: &Timeline) -> (f64, f64, f64) {
    let times = &timeline.time_s;
    (times[0], times[timeline.first_injected().unwrap_or(0)], times[times.len() - 1])
}

/// A place on the board well away from the fault; on a part of the rail in half of the cases.
fn place(rng: &mut ChaCha8Rng, setup: &Setup, around: &Around) -> (Point2<f64>, Option<usize>) {
    let [w, h] = around.board_mm;
    let mut best: Option<(f64, Point2<f64>, Option<usize>)> = None;
    for _ in 0..60 {
        let body = (rng.random_bool(0.5) && !around.on_rail.is_empty())
            .then(|| around.on_rail[rng.random_range(0..around.on_rail.len())]);
        let at = match body {
            Some(b) => setup.bodies[b].footprint.centre_mm,
            None => Point2::new(rng.random_range(0.08..0.92) * w, rng.random_range(0.08..0.92) * h),
        };
        let away = around.fault_mm.map_or(f64::INFINITY, |fault| (fault - at).norm());
        if away >= 0.2 * w.max(h) && body != around.culprit.or(Some(usize::MAX)) {
            return (at, body);
        }
        if best.is_none_or(|b| away > b.0) {
            best = Some((away, at, body));
        }
    }
    best.map_or((Point2::new(0.1 * w, 0.1 * h), None), |b| (b.1, b.2))
}

/// Adds what a nuisance of a blank board is, from just visible to large.
pub fn add_nuisance(rng: &mut ChaCha8Rng, setup: &mut Setup, around: &Around, nuisance: Nuisance) {
    match nuisance {
        Nuisance::Reflection => add_reflection(rng, setup, around),
        Nuisance::MovingReflection => {
            add_moving_reflection(rng, setup, around);
        }
        Nuisance::CoolingPatch => {
            for _ in 0..rng.random_range(1..=2) {
                add_patch(rng, setup, around, 0.2);
            }
        }
        Nuisance::Drift => setup.sensor.drift_k = log_uniform(rng, 0.05, 1.0),
        Nuisance::Blotches => setup.sensor.blotches_k = log_uniform(rng, 0.02, 0.3),
        Nuisance::All => {
            for one in Nuisance::ALL.into_iter().filter(|n| *n != Nuisance::All) {
                add_nuisance(rng, setup, around, one);
            }
        }
    }
}

/// Adds what disturbs a recording, and says where it sits.
pub fn add_disturbance(rng: &mut ChaCha8Rng, setup: &mut Setup, around: &Around, what: Disturbance) -> Site {
    match what {
        Disturbance::BadPixels => return add_bad_pixels(rng, setup, around),
        Disturbance::MovingReflection => return add_moving_reflection(rng, setup, around),
        Disturbance::CoolingPatch => return add_patch(rng, setup, around, 0.5),
        Disturbance::WarmProbe => return add_probe(rng, setup, around),
        Disturbance::Stripes => {
            setup.sensor.column_wander_k = log_uniform(rng, 0.03, 0.3);
            setup.sensor.row_wander_k = log_uniform(rng, 0.03, 0.3);
        }
        Disturbance::Shake => setup.disturbances.shake = shake(rng, &setup.timeline),
        Disturbance::AmbientDrift => setup.sensor.drift_k = log_uniform(rng, 0.2, 2.0),
        Disturbance::PixelDrift => setup.sensor.pixel_drift_k = log_uniform(rng, 0.03, 0.2),
        Disturbance::Pause => setup.disturbances.pauses = pauses(rng, &setup.timeline),
        Disturbance::DroppedFrames => drop_frames(rng, &mut setup.timeline),
        Disturbance::LogLag => setup.disturbances.log_lag_frames = [-2, -1, 1, 2][rng.random_range(0..4)],
    }
    Site::Everywhere
}

fn add_reflection(rng: &mut ChaCha8Rng, setup: &mut Setup, around: &Around) {
    let (first, _, last) = span_s(&setup.timeline);
    let [w, h] = around.board_mm;
    for _ in 0..rng.random_range(1..=2) {
        setup.disturbances.reflections.push(Reflection {
            centre_mm: [rng.random_range(0.0..w), rng.random_range(0.0..h)],
            sigma_mm: log_uniform(rng, 3.0, 30.0),
            change_k: sign(rng) * log_uniform(rng, 0.5, 8.0),
            from_s: rng.random_range(first..0.8 * last),
            over_s: log_uniform(rng, 0.5, 10.0),
        });
    }
}

fn add_moving_reflection(rng: &mut ChaCha8Rng, setup: &mut Setup, around: &Around) -> Site {
    let (first, _, last) = span_s(&setup.timeline);
    let [w, h] = around.board_mm;
    let edge = |rng: &mut ChaCha8Rng| {
        let turn = rng.random_range(0.0..TAU);
        [w * (0.5 + 0.6 * turn.cos()), h * (0.5 + 0.6 * turn.sin())]
    };
    let (start_mm, end_mm) = (edge(rng), edge(rng));
    let sigma_mm = log_uniform(rng, 5.0, 20.0);
    let from_s = rng.random_range(first..0.8 * last);
    setup.disturbances.moving_reflections.push(MovingReflection {
        start_mm,
        end_mm,
        sigma_mm,
        change_k: sign(rng) * log_uniform(rng, 1.0, 8.0),
        from_s,
        to_s: from_s + rng.random_range(2.0..8.0),
    });
    Site::Line { start_mm: start_mm.into(), end_mm: end_mm.into(), reach_mm: 2.0 * sigma_mm }
}

fn add_patch(rng: &mut ChaCha8Rng, setup: &mut Setup, around: &Around, least_k: f64) -> Site {
    let (at, _) = place(rng, setup, around);
    let sigma_mm = log_uniform(rng, 1.5, 6.0);
    let rise_k = log_uniform(rng, least_k, 5.0);
    setup.disturbances.warm_patches.push(WarmPatch { centre_mm: [at.x, at.y], sigma_mm, rise_k });
    Site::Line { start_mm: at, end_mm: at, reach_mm: 2.0 * sigma_mm }
}

fn add_probe(rng: &mut ChaCha8Rng, setup: &mut Setup, around: &Around) -> Site {
    let (_, onset, _) = span_s(&setup.timeline);
    let (at, body) = place(rng, setup, around);
    setup.disturbances.probes.push(ProbeContact {
        at: body.map_or(SourceAt::Point([at.x, at.y]), SourceAt::Body),
        rise_k: if rng.random_bool(0.8) { log_uniform(rng, 1.0, 10.0) } else { -log_uniform(rng, 1.0, 5.0) },
        capacity_j_per_k: log_uniform(rng, 0.02, 0.1),
        contact_w_per_k: log_uniform(rng, 0.002, 0.02),
        touch_s: onset - rng.random_range(-0.1..3.0),
    });
    Site::Line { start_mm: at, end_mm: at, reach_mm: 3.0 }
}

/// A handful of bad pixels anywhere, and some on parts of the injected rail, where they hurt most.
fn add_bad_pixels(rng: &mut ChaCha8Rng, setup: &mut Setup, around: &Around) -> Site {
    let camera = setup.camera;
    let fault = around.culprit.map(|c| setup.bodies[c].footprint);
    let mut at: Vec<[usize; 2]> = Vec::new();
    let pixels = camera.width_px * camera.height_px;
    for _ in 0..(pixels as f64 * log_uniform(rng, 1e-4, 1e-3)).ceil() as usize {
        at.push([rng.random_range(0..camera.width_px), rng.random_range(0..camera.height_px)]);
    }
    for _ in 0..6 {
        let Some(&body) = around.on_rail.get(rng.random_range(0..around.on_rail.len().max(1))) else { continue };
        if Some(body) == around.culprit {
            continue;
        }
        let p = map(&camera.image_from_board, setup.bodies[body].footprint.centre_mm);
        let (x, y) = (p.x.round(), p.y.round());
        if x >= 0.0 && y >= 0.0 && (x as usize) < camera.width_px && (y as usize) < camera.height_px {
            at.push([x as usize, y as usize]);
        }
    }
    at.sort_unstable();
    at.dedup();
    // A bad pixel right on the fault would make the site ambiguous.
    at.retain(|&[x, y]| {
        let board = camera.image_from_board.try_inverse().map(|inverse| map(&inverse, Point2::new(x as f64, y as f64)));
        !matches!((board, &fault), (Some(p), Some(f)) if Footprint::distance_mm(f, p) < 2.0)
    });
    for &[x_px, y_px] in &at {
        let fault = match rng.random_range(0..4) {
            0 => PixelFault::Constant { shown_k: -rng.random_range(10.0..40.0) },
            1 => PixelFault::Constant { shown_k: rng.random_range(20.0..200.0) },
            _ => PixelFault::Flicker {
                jump_k: sign(rng) * log_uniform(rng, 0.3, 5.0),
                every_s: log_uniform(rng, 0.2, 8.0),
            },
        };
        setup.disturbances.bad_pixels.push(BadPixel { x_px, y_px, fault });
    }
    Site::Pixels(at)
}

/// Smooth sway from two slow swings, and up to three jerks that come within two frames and ease off; no further than
/// 10 px and 2 degrees from where the frames before the injection lie on average, which is where the user's marks are.
fn shake(rng: &mut ChaCha8Rng, timeline: &Timeline) -> Vec<Pose> {
    let (first_s, _, last_s) = span_s(timeline);
    let mut course = |size: f64, jerk: f64, most: f64| -> Vec<f64> {
        let swings: Vec<[f64; 3]> = (0..2)
            .map(|_| [size * rng.random_range(0.3..1.0), log_uniform(rng, 0.05, 0.8), rng.random_range(0.0..TAU)])
            .collect();
        let jerks: Vec<[f64; 3]> = (0..rng.random_range(0..=3))
            .map(|_| {
                [rng.random_range(first_s..last_s), jerk * rng.random_range(-1.0..1.0), log_uniform(rng, 0.3, 20.0)]
            })
            .collect();
        let mut values: Vec<f64> = timeline
            .time_s
            .iter()
            .map(|t| {
                let sway: f64 = swings.iter().map(|[a, hz, phase]| a * (TAU * hz * t + phase).sin()).sum();
                let jerked = jerks.iter().filter(|j| *t >= j[0]);
                sway + jerked.map(|[from, a, ease_s]| a * (-(t - from) / ease_s).exp()).sum::<f64>()
            })
            .collect();
        let before = &values[..timeline.first_injected().unwrap_or(values.len()).max(1)];
        let mean = before.iter().sum::<f64>() / before.len() as f64;
        let largest = values.iter().map(|v| (v - mean).abs()).fold(0.0, f64::max);
        let shrink = (most / largest.max(1e-9)).min(1.0);
        for value in &mut values {
            *value = shrink * (*value - mean);
        }
        values
    };
    let dx = course(1.0, 5.0, 7.0);
    let dy = course(1.0, 5.0, 7.0);
    let turn = course(0.15, 1.0, 2.0);
    (0..timeline.len()).map(|i| Pose { dx_px: dx[i], dy_px: dy[i], turn_deg: turn[i] }).collect()
}

/// One or two pauses, at least eight frames away from the onset and from each other.
fn pauses(rng: &mut ChaCha8Rng, timeline: &Timeline) -> Vec<ShutterPause> {
    let onset = timeline.first_injected().unwrap_or(0);
    let mut found: Vec<ShutterPause> = Vec::new();
    let wanted = rng.random_range(1..=2);
    for _ in 0..100 {
        if found.len() == wanted {
            break;
        }
        let repeats = rng.random_range(3..=12);
        let from_frame = rng.random_range(8..timeline.len() - repeats - 8);
        let apart = |from: usize, to: usize| from_frame >= to + 8 || from_frame + repeats + 8 <= from;
        if apart(onset, onset) && found.iter().all(|p| apart(p.from_frame, p.from_frame + p.repeats)) {
            found.push(ShutterPause {
                from_frame,
                repeats,
                jump_k: sign(rng) * log_uniform(rng, 0.1, 1.0),
                pattern_k: log_uniform(rng, 0.02, 0.1),
            });
        }
    }
    found.sort_by_key(|p| p.from_frame);
    found
}

/// Bursts of one to six frames are lost, 3 to 15 % together; the times of the others stay true.
fn drop_frames(rng: &mut ChaCha8Rng, timeline: &mut Timeline) {
    let frames = timeline.len();
    let mut keep = vec![true; frames];
    let lost = (frames as f64 * rng.random_range(0.03..0.15)) as usize;
    while keep.iter().filter(|k| !**k).count() < lost {
        let from = rng.random_range(1..frames - 1);
        for k in &mut keep[from..(from + rng.random_range(1..=6_usize)).min(frames - 1)] {
            *k = false;
        }
    }
    fn kept<T: Copy>(values: &mut Vec<T>, keep: &[bool]) {
        let mut frames = keep.iter();
        values.retain(|_| *frames.next().unwrap_or(&false));
    }
    kept(&mut timeline.time_s, &keep);
    kept(&mut timeline.injecting, &keep);
    kept(&mut timeline.volts, &keep);
    kept(&mut timeline.amps, &keep);
    kept(&mut timeline.set_volts, &keep);
    kept(&mut timeline.set_amps, &keep);
    kept(&mut timeline.mode, &keep);
}
