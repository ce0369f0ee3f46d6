//! Simulated films of moving textures whose poses are known.

use joulemark_frames::{CountsLaw, Samples, Stack, Timeline};
use ndarray::Array3;
use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};
use rand_distr::{Distribution, StandardNormal};

use super::Pose;

/// A board of soft-edged parts, exact at any place: sums of blurred rectangles.
pub(super) struct Texture {
    parts: Vec<[f64; 5]>,
    blur_px: f64,
}

impl Texture {
    pub(super) fn new(seed: u64, width: usize, height: usize, contrast_k: f64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let count = width * height / 300;
        let parts = (0..count)
            .map(|_| {
                let contrast: f64 = StandardNormal.sample(&mut random);
                [
                    random.random_range(-30.0..width as f64 + 30.0),
                    random.random_range(-30.0..height as f64 + 30.0),
                    random.random_range(1.0..6.0),
                    random.random_range(1.0..6.0),
                    contrast_k * contrast,
                ]
            })
            .collect();
        Self { parts, blur_px: 0.9 }
    }

    /// Adds the texture seen from `pose`.
    pub(super) fn draw(&self, pose: &Pose, width: usize, height: usize, out: &mut [f64]) {
        let (cx, cy) = ((width as f64 - 1.0) / 2.0, (height as f64 - 1.0) / 2.0);
        let (sin, cos) = pose.rotation_deg.to_radians().sin_cos();
        // The logistic's slope stands for a blurred edge; its width is that of a Gaussian of the same variance.
        let scale = self.blur_px * 3.0_f64.sqrt() / std::f64::consts::PI;
        let edge = |d: f64| 1.0 / (1.0 + (-d / scale).exp());
        for [x, y, half_w, half_h, contrast] in &self.parts {
            let (u, v) = (x - cx, y - cy);
            let (px, py) = (cx + pose.x_px + cos * u - sin * v, cy + pose.y_px + sin * u + cos * v);
            let reach = half_w.hypot(*half_h) + 12.0 * scale;
            let columns = (px - reach).max(0.0) as usize..((px + reach).max(0.0) as usize + 1).min(width);
            for row in (py - reach).max(0.0) as usize..((py + reach).max(0.0) as usize + 1).min(height) {
                for column in columns.clone() {
                    let (dx, dy) = (column as f64 - px, row as f64 - py);
                    let (a, b) = (cos * dx + sin * dy, -sin * dx + cos * dy);
                    out[row * width + column] +=
                        contrast * edge(half_w - a) * edge(half_w + a) * edge(half_h - b) * edge(half_h + b);
                }
            }
        }
    }
}

pub(super) struct Shot {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) frames: usize,
    pub(super) before: usize,
    pub(super) contrast_k: f64,
    pub(super) noise_k: f64,
    /// Rise of a spot of 6 px and of one of 40 px at the end.
    pub(super) rise_k: f64,
    pub(super) fixed_k: f64,
    pub(super) dead: usize,
}

impl Default for Shot {
    fn default() -> Self {
        Self {
            width: 320,
            height: 240,
            frames: 120,
            before: 40,
            contrast_k: 0.3,
            noise_k: 0.05,
            rise_k: 0.0,
            fixed_k: 0.02,
            dead: 12,
        }
    }
}

impl Shot {
    pub(super) fn film(&self, seed: u64, poses: &[Pose]) -> (Stack, Timeline) {
        let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0x5eed);
        let texture = Texture::new(seed, self.width, self.height, self.contrast_k);
        let pixels = self.width * self.height;
        let fixed: Vec<f64> =
            (0..pixels).map(|_| self.fixed_k * Distribution::<f64>::sample(&StandardNormal, &mut random)).collect();
        let dead: Vec<usize> = (0..self.dead).map(|_| random.random_range(0..pixels)).collect();
        let spot = (self.width as f64 * 0.6, self.height as f64 * 0.45);
        let mut counts = Vec::with_capacity(pixels * self.frames);
        for (t, pose) in poses.iter().enumerate() {
            let mut values = vec![300.0; pixels];
            texture.draw(pose, self.width, self.height, &mut values);
            let age = (t as f64 - self.before as f64).max(0.0) / (self.frames - self.before) as f64;
            let (cx, cy) = ((self.width as f64 - 1.0) / 2.0, (self.height as f64 - 1.0) / 2.0);
            let (sin, cos) = pose.rotation_deg.to_radians().sin_cos();
            let (u, v) = (spot.0 - cx, spot.1 - cy);
            let (sx, sy) = (cx + pose.x_px + cos * u - sin * v, cy + pose.y_px + sin * u + cos * v);
            for (i, value) in values.iter_mut().enumerate() {
                let d2 = ((i % self.width) as f64 - sx).powi(2) + ((i / self.width) as f64 - sy).powi(2);
                *value += self.rise_k * age * (0.7 * (-d2 / 72.0).exp() + 0.3 * (-d2 / 3200.0).exp());
                let draw: f64 = StandardNormal.sample(&mut random);
                *value += fixed[i] + self.noise_k * draw;
            }
            for &d in &dead {
                values[d] = 340.0;
            }
            counts.extend(values.iter().map(|v| (v * 100.0).round() as u16));
        }
        let samples = Array3::from_shape_vec((self.frames, self.height, self.width), counts).unwrap();
        let mut timeline = Timeline::steady(self.frames, 9.0);
        timeline.inject_from(self.before);
        (Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN), timeline)
    }
}
