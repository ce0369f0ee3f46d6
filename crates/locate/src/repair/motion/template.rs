//! Fine position of a frame: least squares of its texture against the reference's slopes (Lucas and Kanade, IJCAI (1981)
//! 674, with the fixed slopes of Baker and Matthews, IJCV 56 (2004) 221), heat and changed contrast fitted beside them.

use nalgebra::{DMatrix, DVector};
use pulp::Arch;

use super::{
    super::resample::{Move, Scratch},
    Pose,
    band::Band,
};
use super::{MOST_ROTATION_DEG, MOST_SHIFT_PX};

/// Border that a moved frame may not hold, in pixels of the recording, at most this share of the side; then a fade.
const BORDER_PX: f64 = 13.0;
const BORDER_SHARE: f64 = 0.12;
const FADE_PX: f64 = 8.0;
/// Residuals beyond this many standard deviations, plus what a misplaced slope may make, are cut.
const CUT: f32 = 3.0;
/// How far the position may be off at each step, in texture pixels.
const OFF_PX: [f32; 4] = [1.5, 0.6, 0.2, 0.2];
/// Steps below this end the search, texture pixels.
const DONE_PX: f64 = 0.01;
/// Every this many pixels one is used for the spread of the residuals.
const SPREAD_STRIDE: usize = 13;
/// Heat is masked where it exceeds this many standard deviations of its map, and around.
const HEAT_FACTOR: f32 = 4.0;
const HEAT_AROUND_PX: usize = 3;
/// At least this share of the picture stays, however much of it warms.
const LEAST_KEPT: f64 = 0.4;

/// Shift in x and y, rotation: the first columns of the fit.
pub(super) const POSE: usize = 3;

/// A reference texture with its slopes.
pub(super) struct Template {
    band: Band,
    values: Vec<f32>,
    steepness: Vec<f32>,
    weights: Vec<f32>,
    /// Weighted square of the values.
    square: f64,
    /// What the injection's heat looks like, where that is known.
    heat: Option<Vec<f32>>,
    /// Weighted squares of the slopes in x and y.
    slope_squares: [f64; 2],
    /// Weighted rows of the pseudo-inverse.
    pseudo: Vec<Vec<f32>>,
    /// Covariance of the coefficients for frames of unit white noise.
    covariance: DMatrix<f64>,
    /// Half the diagonal: a rotation is fitted as the movement of the corner.
    radius: f64,
    noise_share: f64,
}

/// Position of a frame, in texture pixels.
#[derive(Clone, Debug)]
pub(super) struct Fit {
    pub(super) pose: Pose,
    /// Covariance of x, y, and of the corner's movement by rotation.
    pub(super) covariance: [[f64; POSE]; POSE],
    /// Correlation of the resampled texture with the reference.
    pub(super) likeness: f64,
    /// The texture as resampled last.
    pub(super) resampled: Vec<f32>,
}

/// Where one step of least squares leads.
struct Step {
    resampled: Vec<f32>,
    pose: Pose,
    /// Of what is plain noise in the difference to the reference.
    spread: f32,
    /// How far it goes, texture pixels.
    moved: f64,
    /// Share of the heat that was fitted, where it is known.
    heat: Option<f32>,
}

impl Template {
    /// `heat` is the texture that the injection makes; its places are left out and its course is fitted.
    pub(super) fn new(band: &Band, values: Vec<f32>, heat: Option<&[f32]>) -> Self {
        let (width, height) = (band.width, band.height);
        let radius = (width as f64).hypot(height as f64) / 2.0;
        let mut weights = borders(band);
        let mut columns = slopes(&values, width, radius);
        let steepness = columns[0].iter().zip(&columns[1]).map(|(x, y)| x.hypot(*y)).collect();
        columns.push(values.clone());
        let noise_share = band.noise_share();
        let mut template = Self {
            band: band.clone(),
            values,
            steepness,
            weights: Vec::new(),
            square: 0.0,
            heat: None,
            slope_squares: [0.0; 2],
            pseudo: Vec::new(),
            covariance: DMatrix::zeros(0, 0),
            radius,
            noise_share,
        };
        if let Some(heat) = heat {
            // What remains of the heat's texture once movement is fitted to it.
            template.solve(weights.clone(), &columns);
            let (fitted, spread) = template.coefficients(heat, None, 0.1);
            let mut own = heat.to_vec();
            for (column, c) in columns.iter().zip(&fitted).take(POSE) {
                own.iter_mut().zip(column).for_each(|(o, v)| *o -= (*c as f32) * v);
            }
            mask(&own, spread, width, &mut weights);
            template.heat = Some(own.clone());
            columns.push(own);
        }
        template.solve(weights, &columns);
        template
    }

    fn solve(&mut self, weights: Vec<f32>, columns: &[Vec<f32>]) {
        let n = columns.len();
        let mut normal = DMatrix::zeros(n, n);
        for i in 0..n {
            for j in 0..=i {
                let sum = weighted(&weights, &columns[i], &columns[j]);
                normal[(i, j)] = sum;
                normal[(j, i)] = sum;
            }
        }
        self.slope_squares = [normal[(0, 0)], normal[(1, 1)]];
        // A column of zeros (no texture at all) gets no coefficient.
        let largest = normal.diagonal().max().max(f64::MIN_POSITIVE);
        let inverse = normal.pseudo_inverse(1e-12 * largest).unwrap_or_else(|_| DMatrix::zeros(n, n));
        self.pseudo = (0..n)
            .map(|i| {
                let mut row = vec![0.0_f32; weights.len()];
                for (j, column) in columns.iter().enumerate() {
                    let factor = inverse[(i, j)] as f32;
                    row.iter_mut().zip(column).for_each(|(r, v)| *r += factor * v);
                }
                row.iter_mut().zip(&weights).for_each(|(r, w)| *r *= w);
                row
            })
            .collect();
        // Noise enters through the band-pass, so its covariance is that of the band-passed rows.
        let passed: Vec<Vec<f32>> = self.pseudo.iter().map(|row| self.band.pass(row)).collect();
        self.covariance = DMatrix::from_fn(n, n, |i, j| dot(&passed[i], &passed[j]));
        self.square = weighted(&weights, &self.values, &self.values);
        self.weights = weights;
    }

    /// Coefficients of a difference to the reference, and the spread of what is plain noise in it.
    fn coefficients(&self, difference: &[f32], spread: Option<f32>, off_px: f32) -> (Vec<f64>, f32) {
        let spread = spread.unwrap_or_else(|| self.spread(difference));
        let mut cut = difference.to_vec();
        let (values, steepness) = (&mut cut, &self.steepness);
        Arch::new().dispatch(
            // Moved, so that the numbers are known not to change with what is written.
            #[inline(always)]
            move || {
                for (d, s) in values.iter_mut().zip(steepness) {
                    let limit = CUT * spread + off_px * s;
                    *d = d.max(-limit).min(limit);
                }
            },
        );
        (self.pseudo.iter().map(|row| dot(row, &cut)).collect(), spread)
    }

    fn spread(&self, difference: &[f32]) -> f32 {
        let some = difference.iter().zip(&self.weights).step_by(SPREAD_STRIDE).filter(|(_, w)| **w > 0.0);
        let mut sizes: Vec<f32> = some.map(|(d, _)| d.abs()).collect();
        if sizes.is_empty() {
            return 0.0;
        }
        let middle = sizes.len() / 2;
        // 1.4826: median absolute value of a Gaussian (Rousseeuw and Croux, JASA 88 (1993) 1273).
        1.4826 * *sizes.select_nth_unstable_by(middle, f32::total_cmp).1
    }

    /// One step without resampling: enough to see whether anything moved.
    pub(super) fn glance(&self, texture: Vec<f32>) -> Fit {
        self.judged(self.step(texture, Pose::default(), 0))
    }

    /// Position from a start that is right to some 1.5 texture pixels; `None` when the likeness at the start is below
    /// `least` already.
    pub(super) fn fit(&self, texture: &[f32], start: Pose, least: f64, scratch: &mut Scratch) -> Option<Fit> {
        let size = (self.band.width, self.band.height);
        let mut pose = start;
        let mut step = 0;
        loop {
            let taken = self.step(resampled(texture, size, &pose, scratch), pose, step);
            if step == 0 && least > f64::NEG_INFINITY && self.likeness(&taken) < least {
                return None;
            }
            step += 1;
            // A fit that runs away is lost; it is not to be followed to where resampling makes no sense.
            let runs_away = taken.pose.rotation_deg.abs() > 2.0 * MOST_ROTATION_DEG
                || taken.pose.x_px.abs().max(taken.pose.y_px.abs()) > 2.0 * MOST_SHIFT_PX;
            if step == OFF_PX.len() || taken.moved < DONE_PX || runs_away {
                return Some(self.judged(taken));
            }
            pose = taken.pose;
        }
    }

    /// One step of least squares from `pose`, where the texture was resampled.
    fn step(&self, resampled: Vec<f32>, mut pose: Pose, step: usize) -> Step {
        let difference: Vec<f32> = resampled.iter().zip(&self.values).map(|(a, b)| a - b).collect();
        let (c, spread) = self.coefficients(&difference, None, OFF_PX[step]);
        // The picture's contrast scales its slopes; it may turn over where shiny parts warm, so only near one.
        let contrast = (1.0 + c[POSE]).clamp(0.5, 2.0);
        let (dx, dy, corner) = (c[0] / contrast, c[1] / contrast, c[2] / contrast);
        let (sin, cos) = pose.rotation_deg.to_radians().sin_cos();
        pose.x_px -= cos * dx - sin * dy;
        pose.y_px -= sin * dx + cos * dy;
        pose.rotation_deg -= (corner / self.radius).to_degrees();
        let moved = dx.abs().max(dy.abs()).max(corner.abs());
        Step { resampled, pose, spread, moved, heat: self.heat.as_ref().map(|_| c[POSE + 1] as f32) }
    }

    /// The fit that a step led to.
    fn judged(&self, step: Step) -> Fit {
        let likeness = self.likeness(&step);
        let variance = f64::from(step.spread).powi(2) / self.noise_share;
        let covariance = std::array::from_fn(|i| std::array::from_fn(|j| self.covariance[(i, j)] * variance));
        Fit { pose: step.pose, covariance, likeness, resampled: step.resampled }
    }

    /// Correlation of the resampled texture, less its heat, with the reference.
    fn likeness(&self, step: &Step) -> f64 {
        let cold: Vec<f32>;
        let own = match self.heat.as_ref().zip(step.heat) {
            Some((heat, share)) => {
                cold = step.resampled.iter().zip(heat).map(|(v, h)| v - share * h).collect();
                &cold
            }
            None => &step.resampled,
        };
        let (both, ours) = (weighted(&self.weights, own, &self.values), weighted(&self.weights, own, own));
        both / (ours * self.square).sqrt().max(f64::MIN_POSITIVE)
    }

    /// Share of the slopes' squares that white noise of this variance per pixel of the reference makes.
    pub(super) fn noise_in_slopes(&self, variance: f64) -> f64 {
        let (width, height) = (self.band.width, self.band.height);
        let mut impulse = vec![0.0; width * height];
        impulse[height / 2 * width + width / 2] = 1.0;
        let passed = slopes(&self.band.pass(&impulse), width, self.radius);
        let total: f64 = self.weights.iter().map(|w| f64::from(*w)).sum();
        let share = |axis: usize| total * variance * dot(&passed[axis], &passed[axis]) / self.slope_squares[axis];
        share(0).max(share(1))
    }

    /// The reference itself.
    pub(super) fn values(&self) -> &[f32] {
        &self.values
    }

    /// Half the diagonal, in texture pixels.
    pub(super) fn radius(&self) -> f64 {
        self.radius
    }
}

/// A texture as it would be seen had it not moved.
pub(super) fn resampled(texture: &[f32], size: (usize, usize), pose: &Pose, scratch: &mut Scratch) -> Vec<f32> {
    let read = |run: std::ops::Range<usize>, out: &mut [f32]| out.copy_from_slice(&texture[run]);
    let mut out = vec![0.0; texture.len()];
    Move::new(pose, size.0, size.1).rectangle(size, 0..size.1, 0..size.0, scratch, &mut out, &read);
    out
}

/// Takes a rotation off a fit that has none: the best shift given that the rotation is zero.
pub(super) fn without_rotation(fit: &Fit, radius: f64) -> (Pose, [f64; 2]) {
    let c = DMatrix::from_fn(POSE, POSE, |i, j| fit.covariance[i][j]);
    let turned = fit.pose.rotation_deg.to_radians() * radius;
    let along = DVector::from_fn(2, |i, _| if c[(2, 2)] > 0.0 { c[(i, 2)] / c[(2, 2)] } else { 0.0 });
    let pose =
        Pose { x_px: fit.pose.x_px - along[0] * turned, y_px: fit.pose.y_px - along[1] * turned, rotation_deg: 0.0 };
    (pose, std::array::from_fn(|i| (c[(i, i)] - along[i] * c[(i, 2)]).max(0.0).sqrt()))
}

/// Terms of a sum in f32: eight lanes of a thousand keep six digits.
const AT_ONCE: usize = 1024;

fn dot(a: &[f32], b: &[f32]) -> f64 {
    Arch::new().dispatch(
        #[inline(always)]
        || a.chunks(AT_ONCE).zip(b.chunks(AT_ONCE)).map(|(a, b)| dot_of_some(a, b)).sum(),
    )
}

#[inline(always)]
fn dot_of_some(a: &[f32], b: &[f32]) -> f64 {
    let mut lanes = [0.0_f32; 8];
    let ((a, a_rest), (b, b_rest)) = (a.as_chunks::<8>(), b.as_chunks::<8>());
    let rest: f32 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    for (a, b) in a.iter().zip(b) {
        for i in 0..8 {
            lanes[i] += a[i] * b[i];
        }
    }
    f64::from(lanes.iter().sum::<f32>() + rest)
}

fn weighted(weights: &[f32], a: &[f32], b: &[f32]) -> f64 {
    Arch::new().dispatch(
        #[inline(always)]
        || {
            let mut products = [0.0_f32; AT_ONCE];
            let some = weights.chunks(AT_ONCE).zip(a.chunks(AT_ONCE)).zip(b.chunks(AT_ONCE));
            some.map(|((weights, a), b)| {
                let products = &mut products[..a.len()];
                products.iter_mut().zip(a).zip(weights).for_each(|((product, a), w)| *product = a * w);
                dot_of_some(products, b)
            })
            .sum()
        },
    )
}

/// One inside, zero at the border that a moved frame may not hold.
fn borders(band: &Band) -> Vec<f32> {
    let bin = band.bin as f64;
    let ramp = |i: usize, n: usize| {
        let border = (BORDER_PX / bin).min(BORDER_SHARE * n as f64);
        let inside = (i.min(n - 1 - i) as f64 - border) / (FADE_PX / bin);
        if inside <= 0.0 { 0.0 } else { (std::f64::consts::FRAC_PI_2 * inside.min(1.0)).sin().powi(2) }
    };
    let down: Vec<f64> = (0..band.height).map(|y| ramp(y, band.height)).collect();
    let across: Vec<f64> = (0..band.width).map(|x| ramp(x, band.width)).collect();
    down.iter().flat_map(|d| across.iter().map(move |a| (a * d) as f32)).collect()
}

/// Change for a movement by one pixel in x, in y, and of the corner by rotation.
fn slopes(values: &[f32], width: usize, radius: f64) -> Vec<Vec<f32>> {
    let height = values.len() / width;
    let (cx, cy) = ((width as f32 - 1.0) / 2.0, (height as f32 - 1.0) / 2.0);
    let mut columns = vec![vec![0.0_f32; values.len()]; POSE];
    // Differences of fourth order (Abramowitz and Stegun 25.3.21 and the five-point rule after it).
    let slope = |ll: f32, l: f32, r: f32, rr: f32| (8.0 * (r - l) - (rr - ll)) / 12.0;
    for y in 2..height.saturating_sub(2) {
        for x in 2..width.saturating_sub(2) {
            let p = y * width + x;
            let gx = slope(values[p - 2], values[p - 1], values[p + 1], values[p + 2]);
            let gy = slope(values[p - 2 * width], values[p - width], values[p + width], values[p + 2 * width]);
            columns[0][p] = gx;
            columns[1][p] = gy;
            columns[2][p] = ((x as f32 - cx) * gy - (y as f32 - cy) * gx) / radius as f32;
        }
    }
    columns
}

/// Takes the weight off warm places and what lies around them.
fn mask(heat: &[f32], spread: f32, width: usize, weights: &mut [f32]) {
    let height = heat.len() / width;
    let total: f64 = weights.iter().map(|w| f64::from(*w)).sum();
    let mut factor = HEAT_FACTOR;
    loop {
        let mut masked = weights.to_vec();
        for (p, _) in heat.iter().enumerate().filter(|(_, v)| v.abs() > factor * spread) {
            let (y, x) = (p / width, p % width);
            for v in y.saturating_sub(HEAT_AROUND_PX)..=(y + HEAT_AROUND_PX).min(height - 1) {
                let row = v * width;
                masked[row + x.saturating_sub(HEAT_AROUND_PX)..=row + (x + HEAT_AROUND_PX).min(width - 1)].fill(0.0);
            }
        }
        let kept: f64 = masked.iter().map(|w| f64::from(*w)).sum();
        if kept >= LEAST_KEPT * total || factor > 1e6 {
            weights.copy_from_slice(&masked);
            return;
        }
        factor *= 1.5;
    }
}
