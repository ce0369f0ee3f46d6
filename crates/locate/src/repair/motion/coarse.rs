//! Where a frame stands to within a pixel, wherever that is: correlation with the reference at several rotations.

use rayon::prelude::*;
use rustfft::num_complex::Complex;

use super::{
    super::resample::{Move, Scratch},
    Pose,
    correlate::{Top, Transform, tops},
};

/// Rotations of the reference. Half a step moves the side of a picture of 640 px by 2 px, less than the texture is wide.
/// The first reference may itself be turned by as much as is repaired.
const ROTATIONS_DEG: [f64; 12] = [-4.4, -3.6, -2.8, -2.0, -1.2, -0.4, 0.4, 1.2, 2.0, 2.8, 3.6, 4.4];
/// Share of each side that fades out towards the border.
const FADE_SHARE: f64 = 0.125;
/// Values are cut at this many times the reference's median size, so that one hot spot is not the whole picture.
const LIMIT_FACTOR: f32 = 5.0;
/// Another maximum this close to the highest is worth a look of its own.
const RIVAL_SHARE: f32 = 0.75;

/// The reference, ready to be correlated with.
pub(super) struct Coarse {
    transform: Transform,
    /// Width of the texture that is halved for this.
    texture_width: usize,
    window: Vec<f32>,
    /// Nothing counts for more than this, however hot.
    limit: f32,
    /// Conjugated spectra of two rotated references each: `first + i second`.
    pairs: Vec<Vec<Complex<f32>>>,
}

impl Coarse {
    pub(super) fn new(reference: &[f32], width: usize) -> Self {
        let height = reference.len() / width;
        let transform = Transform::new(width / 2, height / 2);
        let fade = |i: usize, n: usize| {
            let from_border = (i.min(n - 1 - i) as f64 + 0.5) / (FADE_SHARE * n as f64);
            if from_border < 1.0 { (std::f64::consts::FRAC_PI_2 * from_border).sin().powi(2) } else { 1.0 }
        };
        let (w, h) = (transform.width, transform.height);
        let window = (0..w * h).map(|i| (fade(i % w, w) * fade(i / w, h)) as f32).collect();
        let mut coarse = Self { transform, texture_width: width, window, limit: f32::INFINITY, pairs: Vec::new() };
        let mut sizes: Vec<f32> = coarse.halved(reference).iter().map(|v| v.abs()).collect();
        let middle = sizes.len() / 2;
        coarse.limit = LIMIT_FACTOR * *sizes.select_nth_unstable_by(middle, f32::total_cmp).1;
        let spectra: Vec<_> = ROTATIONS_DEG
            .par_iter()
            .map_init(Scratch::default, |scratch, &rotation_deg| {
                // The picture turned by an angle is the reference looked up at the opposite one.
                let mut turned = vec![0.0; reference.len()];
                let back = Pose { rotation_deg: -rotation_deg, ..Pose::default() };
                let read = |run: std::ops::Range<usize>, out: &mut [f32]| out.copy_from_slice(&reference[run]);
                Move::new(&back, width, height).rectangle(
                    (width, height),
                    0..height,
                    0..width,
                    scratch,
                    &mut turned,
                    &read,
                );
                coarse.transform.spectrum(&coarse.halved(&turned))
            })
            .collect();
        let joined = |pair: &[Vec<Complex<f32>>]| {
            let both = pair[0].iter().zip(&pair[1]);
            both.map(|(a, b)| a.conj() + Complex::<f32>::i() * b.conj()).collect()
        };
        coarse.pairs = spectra.chunks_exact(2).map(joined).collect();
        coarse
    }

    /// Places where a texture may stand, in texture pixels, the most likely first.
    pub(super) fn search(&self, texture: &[f32]) -> Vec<Pose> {
        let spectrum = self.transform.spectrum(&self.halved(texture));
        let mut found: Vec<(Top, f64)> = Vec::with_capacity(2 * ROTATIONS_DEG.len());
        let mut plane = vec![0.0_f32; spectrum.len()];
        for (pair, rotations) in self.pairs.iter().zip(ROTATIONS_DEG.chunks_exact(2)) {
            let mut product: Vec<Complex<f32>> = spectrum.iter().zip(pair).map(|(f, r)| f * r).collect();
            let both = self.transform.inverse(&mut product);
            for (part, rotation) in rotations.iter().enumerate() {
                plane.iter_mut().zip(&both).for_each(|(p, c)| *p = if part == 0 { c.re } else { c.im });
                found.extend(tops(&self.transform, &plane).map(|top| (top, *rotation)));
            }
        }
        found.sort_by(|a, b| b.0.value.total_cmp(&a.0.value));
        let (best, rotation_deg) = found[0];
        let pose = |top: Top, rotation_deg: f64| Pose { x_px: 2.0 * top.x, y_px: 2.0 * top.y, rotation_deg };
        // Between two rotations that do equally well lies the right one.
        let near = |top: &Top| (top.x - best.x).abs() < 2.0 && (top.y - best.y).abs() < 2.0;
        let beside: f64 = found.iter().filter(|(t, _)| near(t)).map(|(t, r)| f64::from(t.value).powi(4) * r).sum();
        let weight: f64 = found.iter().filter(|(t, _)| near(t)).map(|(t, _)| f64::from(t.value).powi(4)).sum();
        let middle = if weight > 0.0 { beside / weight } else { rotation_deg };
        let mut poses = vec![pose(best, middle)];
        let rival = found.iter().find(|(t, _)| !near(t) && t.value > RIVAL_SHARE * best.value);
        poses.extend(rival.map(|&(top, rotation_deg)| pose(top, rotation_deg)));
        poses
    }

    fn halved(&self, texture: &[f32]) -> Vec<f32> {
        let (w, h) = (self.transform.width, self.transform.height);
        let mut out = Vec::with_capacity(w * h);
        for y in 0..h {
            let row = |y: usize| &texture[y * self.texture_width..y * self.texture_width + 2 * w];
            let (above, below) = (row(2 * y), row(2 * y + 1));
            let sums = above.chunks_exact(2).zip(below.chunks_exact(2)).map(|(a, b)| a[0] + a[1] + b[0] + b[1]);
            out.extend(sums);
        }
        out.iter_mut().zip(&self.window).for_each(|(v, w)| *v = v.clamp(-self.limit, self.limit) * w);
        out
    }
}
