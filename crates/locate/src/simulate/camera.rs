//! What the camera sees of a state: pixels average the scene over their area, the lens blurs, emissivity weighs.
//!
//! Everything is linear, so it is laid out once as a sparse matrix from a state of [`History`] to pixels.

use nalgebra::{Matrix3, Point2};
use rayon::prelude::*;

use super::{Grid, Pose, Setup, Side, warp};
use crate::board::{Face, Footprint};

/// Edge of the bins that shorten the search for what covers a point, millimetres.
const BIN_MM: f64 = 2.0;

/// What lies under a point of the scene.
struct Surface {
    emissivity: f64,
    on: On,
}

enum On {
    Bench,
    Plate,
    Body(usize),
}

/// Places of the four points that stand for one sample, in samples from its middle: a turned square, so that edges along
/// either axis meet four different places.
const POINTS: [(f64, f64); 4] = [(-0.125, -0.375), (0.375, -0.125), (0.125, 0.375), (-0.375, 0.125)];

/// The camera, laid out as a sparse matrix onto a wide picture of samples (several per pixel and axis, with a margin
/// for what blurs in from outside), then lens and pixel as one separable filter. Filtering before the pixel grid matters:
/// a lens blurs first, and a part narrower than a pixel would otherwise snap to it.
pub(super) struct View {
    width_px: usize,
    height_px: usize,
    samples_per_px: usize,
    margin_px: usize,
    /// Lens and pixel, in samples; its first tap belongs to sample `first_tap` of the pixel in question.
    kernel: Vec<f32>,
    first_tap: usize,
    /// Sparse rows: sample `i` sums `weights[starts[i]..starts[i + 1]]` over the state entries named.
    starts: Vec<u32>,
    entries: Vec<u32>,
    weights: Vec<f32>,
    /// One less the emissivity, per sample.
    reflectance: Vec<f32>,
    board_from_image: Matrix3<f64>,
}

/// One row of samples of the sparse matrix, built on its own.
#[derive(Default)]
struct SampleRow {
    lengths: Vec<u32>,
    entries: Vec<u32>,
    weights: Vec<f32>,
    reflectance: Vec<f32>,
}

impl View {
    /// # Panics
    /// When the camera's mapping has no inverse.
    pub(super) fn new(setup: &Setup, grid: &Grid, first_body: usize) -> Self {
        let camera = &setup.camera;
        let board_from_image =
            camera.image_from_board.try_inverse().expect("the camera's mapping from board to picture can be inverted");
        let samples_per_px = camera.samples_per_px.max(1);
        let kernel = lens_and_pixel(camera.blur_sigma_px, samples_per_px);
        let reach = (kernel.len() - samples_per_px) / 2;
        let shaken_px = warp::reach_px(camera.width_px, camera.height_px, &setup.disturbances.shake);
        let margin_px = reach.div_ceil(samples_per_px) + shaken_px.ceil() as usize;
        let mut view = Self {
            width_px: camera.width_px,
            height_px: camera.height_px,
            samples_per_px,
            margin_px,
            kernel,
            first_tap: margin_px * samples_per_px - reach,
            starts: vec![0],
            entries: Vec::new(),
            weights: Vec::new(),
            reflectance: Vec::new(),
            board_from_image,
        };
        let scene = SceneIndex::new(setup);
        let rows: Vec<SampleRow> =
            (0..view.wide_height()).into_par_iter().map(|y| view.sample_row(&scene, grid, first_body, y)).collect();
        for row in rows {
            for length in row.lengths {
                view.starts.push(view.starts[view.starts.len() - 1] + length);
            }
            view.entries.extend(row.entries);
            view.weights.extend(row.weights);
            view.reflectance.extend(row.reflectance);
        }
        view
    }

    fn sample_row(&self, scene: &SceneIndex<'_>, grid: &Grid, first_body: usize, y: usize) -> SampleRow {
        let share = 1.0 / POINTS.len() as f64;
        let mut row = SampleRow::default();
        let mut terms: Vec<(u32, f64)> = Vec::new();
        for x in 0..self.wide_width() {
            terms.clear();
            let mut reflected = 0.0;
            for (dx, dy) in POINTS {
                let point = self.to_board(x as f64 + dx, y as f64 + dy);
                let surface = scene.surface(point);
                reflected += share * (1.0 - surface.emissivity);
                let weight = share * surface.emissivity;
                match surface.on {
                    On::Bench => {}
                    On::Body(b) => terms.push(((first_body + b) as u32, weight)),
                    On::Plate => bilinear(grid, point, |cell, part| terms.push((cell as u32, weight * part))),
                }
            }
            terms.sort_unstable_by_key(|e| e.0);
            let before = row.entries.len();
            for chunk in terms.chunk_by(|a, b| a.0 == b.0) {
                row.entries.push(chunk[0].0);
                row.weights.push(chunk.iter().map(|e| e.1).sum::<f64>() as f32);
            }
            row.lengths.push((row.entries.len() - before) as u32);
            row.reflectance.push(reflected as f32);
        }
        row
    }

    fn wide_width(&self) -> usize {
        (self.width_px + 2 * self.margin_px) * self.samples_per_px
    }

    fn wide_height(&self) -> usize {
        (self.height_px + 2 * self.margin_px) * self.samples_per_px
    }

    /// A place in the wide picture, in samples, on the board.
    fn to_board(&self, x: f64, y: f64) -> Point2<f64> {
        let px = |v: f64| (v + 0.5) / self.samples_per_px as f64 - 0.5 - self.margin_px as f64;
        map(&self.board_from_image, Point2::new(px(x), px(y)))
    }

    /// Apparent rise of a state into `wide`, one value per sample, kelvin.
    ///
    /// `wide` is kept between calls: asking the system for it anew per frame would cost more than the work.
    pub(super) fn rise_samples_k(&self, state: &[f32], wide: &mut Vec<f32>) {
        wide.clear();
        wide.extend(self.starts.windows(2).map(|range| {
            let range = range[0] as usize..range[1] as usize;
            let weighted = self.entries[range.clone()].iter().zip(&self.weights[range]);
            weighted.map(|(&entry, &weight)| weight * state[entry as usize]).sum::<f32>()
        }));
    }

    /// Apparent rise of a state, one value per pixel, kelvin; `wide` is scratch space.
    pub(super) fn apparent_rise_k(&self, state: &[f32], wide: &mut Vec<f32>) -> Vec<f32> {
        self.rise_samples_k(state, wide);
        self.through_lens(wide)
    }

    /// Apparent offset from ambient before injection, where surfaces reflect something `difference_k` above ambient; one
    /// value per sample.
    pub(super) fn texture_samples_k(&self, difference_k: f64) -> Vec<f32> {
        self.reflectance.iter().map(|r| r * difference_k as f32).collect()
    }

    /// Apparent change by a Gaussian reflection of `change_k`, one value per sample.
    pub(super) fn reflection_samples_k(&self, centre_mm: [f64; 2], sigma_mm: f64, change_k: f64) -> Vec<f32> {
        let width = self.wide_width();
        self.reflectance
            .iter()
            .enumerate()
            .map(|(i, r)| {
                let d = self.to_board((i % width) as f64, (i / width) as f64) - Point2::from(centre_mm);
                r * (change_k * (-0.5 * d.norm_squared() / sigma_mm.powi(2)).exp()) as f32
            })
            .collect()
    }

    /// Samples as they lie when the board has moved in the picture.
    pub(super) fn moved(&self, wide: &[f32], pose: Pose) -> Vec<f32> {
        warp::moved(wide, self.wide_width(), self.samples_per_px, pose)
    }

    /// Blurs samples by the lens and gathers them into pixels.
    pub(super) fn through_lens(&self, wide: &[f32]) -> Vec<f32> {
        let (width, step) = (self.wide_width(), self.samples_per_px);
        let mut pixels = Vec::with_capacity(self.width_px * self.height_px);
        let mut column_sums = vec![0.0_f32; width];
        // Every `step`-th column together: neighbouring pixels then take neighbouring values, many at a time.
        let length = width / step;
        let mut apart = vec![0.0_f32; width];
        let mut line = vec![0.0_f32; self.width_px];
        for y in 0..self.height_px {
            column_sums.fill(0.0);
            let first = y * step + self.first_tap;
            for (row, &k) in wide.chunks_exact(width).skip(first).zip(&self.kernel) {
                for (sum, value) in column_sums.iter_mut().zip(row) {
                    *sum += k * value;
                }
            }
            for (phase, out) in apart.chunks_exact_mut(length).enumerate() {
                for (value, sum) in out.iter_mut().zip(column_sums[phase..].iter().step_by(step)) {
                    *value = *sum;
                }
            }
            line.fill(0.0);
            for (j, &k) in self.kernel.iter().enumerate() {
                let tap = self.first_tap + j;
                let from = tap % step * length + tap / step;
                for (sum, value) in line.iter_mut().zip(&apart[from..from + self.width_px]) {
                    *sum += value * k;
                }
            }
            pixels.extend_from_slice(&line);
        }
        pixels
    }
}

pub(super) fn map(h: &Matrix3<f64>, p: Point2<f64>) -> Point2<f64> {
    let v = h * p.to_homogeneous();
    Point2::new(v.x / v.z, v.y / v.z)
}

/// The lens's Gaussian sampled out to four standard deviations, convolved with the pixel's own samples; sums to one.
fn lens_and_pixel(sigma_px: f64, samples_per_px: usize) -> Vec<f32> {
    let sigma = sigma_px * samples_per_px as f64;
    let radius = (4.0 * sigma).ceil() as usize;
    let mut kernel = vec![0.0; 2 * radius + samples_per_px];
    for i in 0..=2 * radius {
        let d = i as f64 - radius as f64;
        let weight = if sigma > 0.0 { (-0.5 * (d / sigma).powi(2)).exp() } else { 1.0 };
        for k in &mut kernel[i..i + samples_per_px] {
            *k += weight;
        }
    }
    let sum: f64 = kernel.iter().sum();
    kernel.into_iter().map(|w| (w / sum) as f32).collect()
}

/// The four cells around a point with their bilinear shares; at the rim the nearest cell's value carries on.
fn bilinear(grid: &Grid, point: Point2<f64>, mut add: impl FnMut(usize, f64)) {
    let (x, y) = grid.cell_coordinates(point);
    let (x, y) = (x.clamp(0.0, (grid.columns - 1) as f64), y.clamp(0.0, (grid.rows - 1) as f64));
    let (left, top) = (x.floor() as usize, y.floor() as usize);
    let (fx, fy) = (x - left as f64, y - top as f64);
    let (right, bottom) = ((left + 1).min(grid.columns - 1), (top + 1).min(grid.rows - 1));
    add(top * grid.columns + left, (1.0 - fx) * (1.0 - fy));
    add(top * grid.columns + right, fx * (1.0 - fy));
    add(bottom * grid.columns + left, (1.0 - fx) * fy);
    add(bottom * grid.columns + right, fx * fy);
}

/// Bodies and paints, sorted into bins.
struct SceneIndex<'a> {
    setup: &'a Setup,
    outline: Face,
    origin_mm: Point2<f64>,
    columns: usize,
    rows: usize,
    bodies: Vec<Vec<u32>>,
    paints: Vec<Vec<u32>>,
}

impl<'a> SceneIndex<'a> {
    fn new(setup: &'a Setup) -> Self {
        let outline = Face { outline: setup.plate.outline.clone(), ..Face::default() };
        let (mut low, mut high) = (Point2::new(f64::INFINITY, f64::INFINITY), Point2::new(-1e300, -1e300));
        for corner in &setup.plate.outline {
            low = low.inf(&Point2::from(*corner));
            high = high.sup(&Point2::from(*corner));
        }
        let bins = |axis: usize| ((high[axis] - low[axis]) / BIN_MM).ceil().max(1.0) as usize;
        let (columns, rows) = (bins(0), bins(1));
        let mut index = Self {
            setup,
            outline,
            origin_mm: low,
            columns,
            rows,
            bodies: vec![Vec::new(); columns * rows],
            paints: vec![Vec::new(); columns * rows],
        };
        for (i, body) in setup.bodies.iter().enumerate().filter(|(_, b)| b.side == Side::Front) {
            for bin in index.bins_under(&body.footprint) {
                index.bodies[bin].push(i as u32);
            }
        }
        for (i, paint) in setup.paints.iter().enumerate() {
            for bin in index.bins_under(&paint.area) {
                index.paints[bin].push(i as u32);
            }
        }
        index
    }

    fn bins_under(&self, area: &Footprint) -> Vec<usize> {
        let corners = area.corners_mm();
        let span = |axis: usize, count: usize| {
            let low = corners.iter().map(|c| c[axis]).fold(f64::INFINITY, f64::min);
            let high = corners.iter().map(|c| c[axis]).fold(f64::NEG_INFINITY, f64::max);
            let bin = |v: f64| ((v - self.origin_mm[axis]) / BIN_MM).floor().clamp(0.0, (count - 1) as f64) as usize;
            bin(low)..=bin(high)
        };
        let columns = span(0, self.columns);
        span(1, self.rows).flat_map(|row| columns.clone().map(move |c| row * self.columns + c)).collect()
    }

    fn surface(&self, point: Point2<f64>) -> Surface {
        let around = &self.setup.surroundings;
        let off = point - self.origin_mm;
        let bin_of = |v: f64, count: usize| (v / BIN_MM).floor().clamp(0.0, (count - 1) as f64) as usize;
        let bin = bin_of(off.y, self.rows) * self.columns + bin_of(off.x, self.columns);
        for &i in self.bodies[bin].iter().rev() {
            let body = &self.setup.bodies[i as usize];
            if body.footprint.contains(point) {
                let along = body.footprint.own_from_board(point).x.abs();
                let emissivity = match body.end_caps {
                    Some((share, bare)) if along > body.footprint.half_mm.x * (1.0 - 2.0 * share) => bare,
                    _ => body.emissivity,
                };
                return Surface { emissivity, on: On::Body(i as usize) };
            }
        }
        if !self.outline.outline_contains(point) {
            return Surface { emissivity: around.bench_emissivity, on: On::Bench };
        }
        let painted = self.paints[bin].iter().rev().map(|&i| &self.setup.paints[i as usize]);
        let emissivity =
            painted.into_iter().find(|p| p.area.contains(point)).map_or(around.mask_emissivity, |p| p.emissivity);
        Surface { emissivity, on: On::Plate }
    }
}
