//! How a proving board is filmed: picture size, pose, schedule, sensor and everyday nuisances, all drawn wide.

use joulemark_frames::{CountsLaw, Timeline};
use nalgebra::Point2;
use rand::{RngExt, rngs::ChaCha8Rng};

use super::super::{Camera, Drive, Sensor, scenario::stage::image_from_board};

/// A picture size with what goes with it.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    /// Columns.
    pub width_px: usize,
    /// Rows.
    pub height_px: usize,
    /// Longer edge of the boards that such a camera films, millimetres.
    pub edge_mm: (f64, f64),
    /// Most frames in all.
    most_frames: usize,
    samples_per_px: usize,
}

/// Shares of 50, 25, 17 and 8 %.
pub fn size(rng: &mut ChaCha8Rng) -> Size {
    let of = |width_px, height_px, edge_mm, most_frames, samples_per_px| Size {
        width_px,
        height_px,
        edge_mm,
        most_frames,
        samples_per_px,
    };
    match rng.random_range(0..100) {
        0..50 => of(160, 120, (25.0, 60.0), 390, 3),
        50..75 => of(256, 192, (25.0, 85.0), 390, 2),
        75..92 => of(320, 240, (30.0, 100.0), 280, 2),
        _ => of(640, 512, (40.0, 100.0), 200, 2),
    }
}

/// The board fills 60 to 95 % of the picture, a little turned (now and then upside down) and a little out of square.
pub fn pose(rng: &mut ChaCha8Rng, size: Size, board_mm: [f64; 2]) -> Camera {
    let (width, height) = (size.width_px as f64, size.height_px as f64);
    let mut turn_deg: f64 = rng.random_range(-6.0..6.0);
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    // The turned board's own box decides how large it can be.
    let span_mm =
        [board_mm[0] * cos.abs() + board_mm[1] * sin.abs(), board_mm[0] * sin.abs() + board_mm[1] * cos.abs()];
    let px_per_mm = rng.random_range(0.6..0.95) * (width / span_mm[0]).min(height / span_mm[1]);
    if rng.random_bool(0.15) {
        turn_deg += 180.0;
    }
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    let slack = [(width - span_mm[0] * px_per_mm) / 2.0, (height - span_mm[1] * px_per_mm) / 2.0];
    let mut place = |axis: usize, length: f64| (length - 1.0) / 2.0 + 0.6 * slack[axis] * rng.random_range(-1.0..1.0);
    let centre = [place(0, width), place(1, height)];
    // Scale changes by up to 3 % from the middle to an edge.
    let half = board_mm[0].max(board_mm[1]) / 2.0;
    let tilt = [rng.random_range(-0.03..0.03) / half, rng.random_range(-0.03..0.03) / half];
    Camera {
        width_px: size.width_px,
        height_px: size.height_px,
        image_from_board: image_from_board(board_mm, [px_per_mm * cos, px_per_mm * sin], tilt, centre),
        blur_sigma_px: rng.random_range(0.5..1.6),
        samples_per_px: size.samples_per_px,
    }
}

/// The corners, and up to four places that the user finds again.
pub fn marks(rng: &mut ChaCha8Rng, board_mm: [f64; 2]) -> Vec<[f64; 2]> {
    let [w, h] = board_mm;
    let mut marks = vec![[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
    for _ in 0..rng.random_range(0..=4) {
        marks.push([rng.random_range(0.1..0.9) * w, rng.random_range(0.1..0.9) * h]);
    }
    marks
}

/// When frames are taken and when current flows.
pub struct Schedule {
    /// Frame times and marks; no readings yet.
    pub timeline: Timeline,
    /// The true course of the power.
    pub drive: Drive,
    /// Time from one pulse to the next.
    pub period_s: Option<f64>,
}

/// A step or pulses; the log is true to the frame. A pulsed record holds four periods or more, never a whole number.
pub fn schedule(rng: &mut ChaCha8Rng, size: Size, pulsed: bool) -> Schedule {
    let rate_hz: f64 = rng.random_range(9.0..30.0);
    let before = rng.random_range(45..=90).min(size.most_frames - 135);
    let during = rng.random_range(135..=300).min(size.most_frames - before);
    let mut timeline = Timeline::steady(before + during, rate_hz);
    for time_s in &mut timeline.time_s {
        // Logs keep milliseconds.
        *time_s = ((*time_s + rng.random_range(0.0..0.1 / rate_hz)) * 1e3).round() / 1e3;
    }
    let (last, first) = (timeline.time_s[before - 1], timeline.time_s[before]);
    let on_s = last + rng.random_range(0.2..0.8) * (first - last);
    if !pulsed {
        timeline.inject_from(before);
        return Schedule { timeline, drive: Drive::Step { on_s, off_s: f64::INFINITY }, period_s: None };
    }
    let length_s = timeline.time_s[before + during - 1] - on_s;
    let period_s = loop {
        let period_s: f64 = rng.random_range(1.0..4.0_f64.min(length_s / 4.0).max(1.01));
        if (0.15..0.85).contains(&(length_s / period_s).fract()) {
            break period_s;
        }
    };
    let drive = Drive::Pulses { on_s, off_s: f64::INFINITY, period_s, duty: rng.random_range(0.3..0.6) };
    for (on, time_s) in timeline.injecting.iter_mut().zip(&timeline.time_s) {
        *on = drive.is_on(*time_s);
    }
    Schedule { timeline, drive, period_s: Some(period_s) }
}

/// Camera noise of 30 to 80 mK and the little that moves in every recording.
pub fn sensor(rng: &mut ChaCha8Rng) -> Sensor {
    let law = CountsLaw { gain_k_per_count: [0.01, 0.02, 0.04][rng.random_range(0..3)], offset_k: 250.0 };
    Sensor {
        netd_k: rng.random_range(0.03..0.08),
        fixed_pattern_k: rng.random_range(0.02..0.08),
        column_stripes_k: rng.random_range(0.0..0.03),
        column_wander_k: rng.random_range(0.0..0.015),
        drift_k: rng.random_range(0.02..0.15),
        blotches_k: rng.random_range(0.0..0.008),
        ..Sensor::ideal(law)
    }
}

/// Millimetres per pixel at a place.
pub fn mm_per_px(camera: &Camera, at: Point2<f64>) -> f64 {
    let map = |p: Point2<f64>| super::super::camera::map(&camera.image_from_board, p);
    let (a, b, c) = (map(at), map(Point2::new(at.x + 0.1, at.y)), map(Point2::new(at.x, at.y + 0.1)));
    0.2 / ((b - a).norm() + (c - a).norm())
}
