//! What the sensor adds: fixed pattern, stripes, drift, blotches, noise, bad pixels, shutter pauses, all from one seed.

use std::f64::consts::TAU;

use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
use rand_distr::{Distribution, StandardNormal};

use super::{PixelFault, Setup, ShutterPause};

/// Slow drift of single pixels is the sum of this many white pictures with slow courses.
const DRIFT_PICTURES: usize = 6;
/// Blotches are the sum of this many smooth pictures with courses of their own.
const BLOTCH_PICTURES: usize = 4;

/// Everything of the sensor that is drawn once per take.
pub(super) struct Imperfections {
    seed: u64,
    netd_k: f64,
    width_px: usize,
    /// Fixed pattern and stripes, one value per pixel.
    fixed_k: Vec<f32>,
    /// Columns per frame, drift of the level included.
    columns_k: Vec<Vec<f32>>,
    /// Rows per frame; empty when they keep still.
    rows_k: Vec<Vec<f32>>,
    blotches: Vec<Varying>,
    pixel_drift: Vec<Varying>,
    pauses: Vec<Pause>,
    bad: Vec<Bad>,
}

/// A picture with a course of its own.
struct Varying {
    picture_k: Vec<f32>,
    /// One factor per frame.
    course: Vec<f32>,
}

/// What a shutter pause changes.
struct Pause {
    /// First frame after it.
    from_frame: usize,
    change_k: Vec<f32>,
}

/// A bad pixel, laid out over the frames.
struct Bad {
    pixel: usize,
    /// What it always shows, or nothing where it measures.
    shown_k: Option<f32>,
    /// Added in each frame; empty when it does not flicker.
    offset_k: Vec<f32>,
}

/// Streams of the seed's generator. Frames take streams from [`FRAME_STREAM`] on, so their noise does not depend on the
/// order in which threads reach them.
const FIXED_STREAM: u64 = 0;
const CLICK_STREAM: u64 = 1;
const ROW_STREAM: u64 = 2;
const PIXEL_DRIFT_STREAM: u64 = 3;
const BAD_PIXEL_STREAM: u64 = 4;
/// One stream per shutter pause from here on.
const PAUSE_STREAM: u64 = 1 << 24;
const FRAME_STREAM: u64 = 16;

/// One independent sequence of the seed.
fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(number);
    rng
}

/// The sequence for click errors.
pub(super) fn click_stream(seed: u64) -> ChaCha8Rng {
    stream(seed, CLICK_STREAM)
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

impl Imperfections {
    pub(super) fn draw(setup: &Setup, seed: u64) -> Self {
        let (sensor, camera) = (&setup.sensor, &setup.camera);
        let (width_px, height_px) = (camera.width_px, camera.height_px);
        let times = &setup.timeline.time_s;
        let start_s = times.first().copied().unwrap_or(0.0);
        let span_s = (times.last().copied().unwrap_or(0.0) - start_s).max(1e-9);
        let mut rng = stream(seed, FIXED_STREAM);
        let stripes: Vec<f64> = (0..width_px).map(|_| sensor.column_stripes_k * normal(&mut rng)).collect();
        let fixed_k = (0..width_px * height_px)
            .map(|i| (stripes[i % width_px] + sensor.fixed_pattern_k * normal(&mut rng)) as f32)
            .collect();

        let (slope, swing) = (normal(&mut rng), 0.3 * normal(&mut rng));
        let (turns, phase) = (rng.random_range(0.5..1.5), rng.random_range(0.0..TAU));
        let walk_step = sensor.column_wander_k / (times.len().max(2) as f64 - 1.0).sqrt();
        let mut walked = vec![0.0; width_px];
        let mut columns_k = Vec::with_capacity(times.len());
        for (frame, t) in times.iter().enumerate() {
            let share = (t - start_s) / span_s;
            let level = sensor.drift_k * (slope * share + swing * ((TAU * turns * share + phase).sin() - phase.sin()));
            if frame > 0 {
                for column in &mut walked {
                    *column += walk_step * normal(&mut rng);
                }
            }
            columns_k.push(walked.iter().map(|w| (w + level) as f32).collect());
        }
        let blotches = if sensor.blotches_k > 0.0 {
            (0..BLOTCH_PICTURES).map(|_| blotch(setup, &mut rng, start_s, span_s)).collect()
        } else {
            Vec::new()
        };
        Self {
            seed,
            netd_k: sensor.netd_k,
            width_px,
            fixed_k,
            columns_k,
            rows_k: row_wander(setup, seed),
            blotches,
            pixel_drift: pixel_drift(setup, seed, start_s, span_s),
            pauses: setup.disturbances.pauses.iter().enumerate().map(|(i, p)| pause(setup, seed, i, p)).collect(),
            bad: bad_pixels(setup, seed),
        }
    }

    /// Adds all of one frame to its pixels.
    pub(super) fn add(&self, frame: usize, pixels_k: &mut [f32]) {
        for (row, fixed) in pixels_k.chunks_exact_mut(self.width_px).zip(self.fixed_k.chunks_exact(self.width_px)) {
            for ((value, fixed), column) in row.iter_mut().zip(fixed).zip(&self.columns_k[frame]) {
                *value += fixed + column;
            }
        }
        if let Some(rows) = self.rows_k.get(frame) {
            for (line, offset) in pixels_k.chunks_exact_mut(self.width_px).zip(rows) {
                for value in line {
                    *value += offset;
                }
            }
        }
        for varying in self.blotches.iter().chain(&self.pixel_drift) {
            let factor = varying.course[frame];
            for (value, picture) in pixels_k.iter_mut().zip(&varying.picture_k) {
                *value += factor * picture;
            }
        }
        for pause in self.pauses.iter().filter(|p| frame >= p.from_frame) {
            for (value, change) in pixels_k.iter_mut().zip(&pause.change_k) {
                *value += change;
            }
        }
        if self.netd_k > 0.0 {
            let mut rng = stream(self.seed, FRAME_STREAM + frame as u64);
            for value in pixels_k.iter_mut() {
                let draw: f32 = StandardNormal.sample(&mut rng);
                *value += self.netd_k as f32 * draw;
            }
        }
        for bad in &self.bad {
            let value = &mut pixels_k[bad.pixel];
            *value = bad.shown_k.unwrap_or(*value) + bad.offset_k.get(frame).copied().unwrap_or(0.0);
        }
    }
}

/// A random walk per row.
fn row_wander(setup: &Setup, seed: u64) -> Vec<Vec<f32>> {
    let (sensor, frames) = (&setup.sensor, setup.timeline.len());
    if sensor.row_wander_k == 0.0 {
        return Vec::new();
    }
    let mut rng = stream(seed, ROW_STREAM);
    let step = sensor.row_wander_k / (frames.max(2) as f64 - 1.0).sqrt();
    let mut walked = vec![0.0; setup.camera.height_px];
    let mut rows = Vec::with_capacity(frames);
    for _ in 0..frames {
        rows.push(walked.iter().map(|w| *w as f32).collect());
        for row in &mut walked {
            *row += step * normal(&mut rng);
        }
    }
    rows
}

/// A random walk per pixel, smoothed: the first terms of the walk's own Karhunen-Loeve series,
/// `sqrt(2) sin((k - 1/2) pi t) / ((k - 1/2) pi)` for t from 0 to 1, brought to the full spread at the end.
fn pixel_drift(setup: &Setup, seed: u64, start_s: f64, span_s: f64) -> Vec<Varying> {
    let sensor = &setup.sensor;
    if sensor.pixel_drift_k == 0.0 {
        return Vec::new();
    }
    let rate = |k: usize| (k as f64 + 0.5) * std::f64::consts::PI;
    let end_variance: f64 = (0..DRIFT_PICTURES).map(|k| 2.0 / rate(k).powi(2)).sum();
    let mut rng = stream(seed, PIXEL_DRIFT_STREAM);
    (0..DRIFT_PICTURES)
        .map(|k| {
            let size = sensor.pixel_drift_k * (2.0 / end_variance).sqrt() / rate(k);
            let pixels = setup.camera.width_px * setup.camera.height_px;
            let share = |t: &f64| (t - start_s) / span_s;
            Varying {
                picture_k: (0..pixels).map(|_| (size * normal(&mut rng)) as f32).collect(),
                course: setup.timeline.time_s.iter().map(|t| (rate(k) * share(t)).sin() as f32).collect(),
            }
        })
        .collect()
}

fn pause(setup: &Setup, seed: u64, index: usize, pause: &ShutterPause) -> Pause {
    let mut rng = stream(seed, PAUSE_STREAM + index as u64);
    let pixels = setup.camera.width_px * setup.camera.height_px;
    Pause {
        from_frame: pause.from_frame + pause.repeats,
        change_k: (0..pixels).map(|_| (pause.jump_k + pause.pattern_k * normal(&mut rng)) as f32).collect(),
    }
}

fn bad_pixels(setup: &Setup, seed: u64) -> Vec<Bad> {
    let mut rng = stream(seed, BAD_PIXEL_STREAM);
    let times = &setup.timeline.time_s;
    setup
        .disturbances
        .bad_pixels
        .iter()
        .map(|bad| {
            let pixel = bad.y_px * setup.camera.width_px + bad.x_px;
            match bad.fault {
                PixelFault::Constant { shown_k } => Bad { pixel, shown_k: Some(shown_k as f32), offset_k: Vec::new() },
                PixelFault::Flicker { jump_k, every_s } => {
                    let mut high = rng.random_bool(0.5);
                    let mut offset_k = Vec::with_capacity(times.len());
                    for frame in 0..times.len() {
                        let passed_s = if frame > 0 { times[frame] - times[frame - 1] } else { 0.0 };
                        // An odd number of jumps within an interval changes the state.
                        high ^= rng.random_bool(0.5 * (1.0 - (-2.0 * passed_s / every_s).exp()));
                        offset_k.push(if high { jump_k as f32 } else { 0.0 });
                    }
                    Bad { pixel, shown_k: None, offset_k }
                }
            }
        })
        .collect()
}

/// A smooth picture of unit spread with a slow course of unit spread, at the size that makes all of them together
/// `blotches_k`.
fn blotch(setup: &Setup, rng: &mut ChaCha8Rng, start_s: f64, span_s: f64) -> Varying {
    let (width, height) = (setup.camera.width_px, setup.camera.height_px);
    let size = width.max(height) as f64;
    let bumps: Vec<[f64; 4]> = (0..10)
        .map(|_| {
            [
                rng.random_range(0.0..width as f64),
                rng.random_range(0.0..height as f64),
                size * rng.random_range(0.05..0.15),
                normal(rng),
            ]
        })
        .collect();
    let mut picture: Vec<f64> = (0..width * height)
        .map(|i| {
            let (x, y) = ((i % width) as f64, (i / width) as f64);
            bumps
                .iter()
                .map(|[bx, by, sigma, a]| a * (-0.5 * ((x - bx).powi(2) + (y - by).powi(2)) / (sigma * sigma)).exp())
                .sum()
        })
        .collect();
    let (turns, phase) = (rng.random_range(0.3..2.0), rng.random_range(0.0..TAU));
    let mut course: Vec<f64> =
        setup.timeline.time_s.iter().map(|t| (TAU * turns * (t - start_s) / span_s + phase).sin()).collect();
    standardise(&mut picture);
    standardise(&mut course);
    let amplitude = setup.sensor.blotches_k / (BLOTCH_PICTURES as f64).sqrt();
    Varying {
        picture_k: picture.into_iter().map(|v| (amplitude * v) as f32).collect(),
        course: course.into_iter().map(|v| v as f32).collect(),
    }
}

fn standardise(values: &mut [f64]) {
    let n = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / n;
    let spread = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt();
    for v in values {
        *v = if spread > 0.0 { (*v - mean) / spread } else { 0.0 };
    }
}
