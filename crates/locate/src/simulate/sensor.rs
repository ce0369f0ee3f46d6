//! From apparent temperatures to counts: fixed pattern, stripes, drift, blotches, noise and rounding, all from one seed.

use std::f64::consts::TAU;

use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
use rand_distr::{Distribution, StandardNormal};

use super::Setup;

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
    blotches: Vec<Blotch>,
}

struct Blotch {
    picture_k: Vec<f32>,
    /// One factor per frame.
    course: Vec<f32>,
}

/// Streams of the seed's generator. Frames take streams from [`FRAME_STREAM`] on, so their noise does not depend on the
/// order in which threads reach them.
const FIXED_STREAM: u64 = 0;
const CLICK_STREAM: u64 = 1;
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
        Self { seed, netd_k: sensor.netd_k, width_px, fixed_k, columns_k, blotches }
    }

    /// Adds all of one frame to its pixels.
    pub(super) fn add(&self, frame: usize, pixels_k: &mut [f32]) {
        for (row, fixed) in pixels_k.chunks_exact_mut(self.width_px).zip(self.fixed_k.chunks_exact(self.width_px)) {
            for ((value, fixed), column) in row.iter_mut().zip(fixed).zip(&self.columns_k[frame]) {
                *value += fixed + column;
            }
        }
        for blotch in &self.blotches {
            let factor = blotch.course[frame];
            for (value, picture) in pixels_k.iter_mut().zip(&blotch.picture_k) {
                *value += factor * picture;
            }
        }
        if self.netd_k > 0.0 {
            let mut rng = stream(self.seed, FRAME_STREAM + frame as u64);
            for value in pixels_k.iter_mut() {
                let draw: f32 = StandardNormal.sample(&mut rng);
                *value += self.netd_k as f32 * draw;
            }
        }
    }
}

/// A smooth picture of unit spread with a slow course of unit spread, at the size that makes all of them together
/// `blotches_k`.
fn blotch(setup: &Setup, rng: &mut ChaCha8Rng, start_s: f64, span_s: f64) -> Blotch {
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
    Blotch {
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
