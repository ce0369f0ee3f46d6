//! Centre of a spot with long flanks: a sum of concentric Gaussians on a tilted plane.
//!
//! Heat in a plate falls off like `K0`, which no single Gaussian follows, and its flanks tell of the centre as well: seen
//! through white noise, what a ring of radius `r` tells of it falls only as `1/r`. The radial form is left free (the heights of
//! the Gaussians are linear parameters), the ellipse is that of the Gaussian fit, and only the centre is searched.

use nalgebra::{DMatrix, DVector, Matrix2, Point2, Vector2};
use ndarray::ArrayView2;

use super::engine::{SeparableModel, Termination, jacobian, minimise, unit_covariance};

/// Widths of the Gaussians, in units of the given shape.
const WIDTHS: [f64; 4] = [0.6, 1.0, 2.0, 4.0];

/// A centre with its covariance, in window coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlankFit {
    /// Centre, pixels.
    pub centre_px: Point2<f64>,
    /// Its covariance, scaled up where the residuals exceed the noise.
    pub covariance_px2: Matrix2<f64>,
}

/// Fits the centre in a cut-out of a map with white noise of one standard deviation, from a spot of covariance `shape_px2` at
/// `start_px`; it may move by `reach_px`. `None` when the data do not say. Pixels that are not finite are left out.
pub fn fit_flanks(
    window: ArrayView2<'_, f32>,
    noise: f64,
    start_px: Point2<f64>,
    shape_px2: Matrix2<f64>,
    reach_px: f64,
) -> Option<FlankFit> {
    let (rows, columns) = window.dim();
    let pixels: Vec<Point2<f64>> = window
        .indexed_iter()
        .filter(|(_, v)| v.is_finite())
        .map(|((y, x), _)| Point2::new(x as f64, y as f64))
        .collect();
    if pixels.len() < 4 * (WIDTHS.len() + 5) || !(noise.is_finite() && noise > 0.0) {
        return None;
    }
    let data =
        DVector::from_iterator(pixels.len(), window.iter().filter(|v| v.is_finite()).map(|v| f64::from(*v) / noise));
    let bounds = [start_px.x, start_px.y].map(|at| (at - reach_px, at + reach_px)).to_vec();
    let middle_px = Point2::new(0.5 * (columns as f64 - 1.0), 0.5 * (rows as f64 - 1.0));
    let model = Model { pixels, middle_px, precision: shape_px2.try_inverse()?, bounds };
    let found = minimise(&model, &data, &[start_px.x, start_px.y], 1e-8);
    if found.termination != Termination::Converged {
        return None;
    }
    let parameters = found.linear.len() + 2;
    let reduced_chi_square = found.sum_of_squares / (model.pixels.len() - parameters) as f64;
    let covariance = unit_covariance(&jacobian(&model, &found.nonlinear, &found.linear))? * reduced_chi_square.max(1.0);
    let centre = found.linear.len();
    let [x, y] = found.nonlinear[..] else { return None };
    Some(FlankFit {
        centre_px: Point2::new(x, y),
        covariance_px2: covariance.fixed_view::<2, 2>(centre, centre).into_owned(),
    })
}

struct Model {
    pixels: Vec<Point2<f64>>,
    middle_px: Point2<f64>,
    precision: Matrix2<f64>,
    bounds: Vec<(f64, f64)>,
}

impl Model {
    /// Offsets from the centre, weighed by the ellipse, and their squared length.
    fn offsets(&self, p: &[f64]) -> impl Iterator<Item = (Vector2<f64>, f64)> {
        let centre = Point2::new(p[0], p[1]);
        self.pixels.iter().map(move |pixel| {
            let d = pixel - centre;
            let weighed = self.precision * d;
            (weighed, d.dot(&weighed))
        })
    }
}

impl SeparableModel for Model {
    fn bounds(&self) -> &[(f64, f64)] {
        &self.bounds
    }

    fn columns(&self, p: &[f64]) -> DMatrix<f64> {
        let n = WIDTHS.len();
        let mut all = DMatrix::from_element(self.pixels.len(), n + 3, 1.0);
        for (i, (_, square)) in self.offsets(p).enumerate() {
            for (k, width) in WIDTHS.iter().enumerate() {
                all[(i, k)] = (-0.5 * square / (width * width)).exp();
            }
            all[(i, n + 1)] = self.pixels[i].x - self.middle_px.x;
            all[(i, n + 2)] = self.pixels[i].y - self.middle_px.y;
        }
        all
    }

    fn derivatives(&self, p: &[f64]) -> Vec<DMatrix<f64>> {
        let n = WIDTHS.len();
        let mut by = [0, 1].map(|_| DMatrix::zeros(self.pixels.len(), n + 3));
        for (i, (weighed, square)) in self.offsets(p).enumerate() {
            for (k, width) in WIDTHS.iter().enumerate() {
                let over = 1.0 / (width * width);
                let value = (-0.5 * square * over).exp() * over;
                by[0][(i, k)] = value * weighed.x;
                by[1][(i, k)] = value * weighed.y;
            }
        }
        by.into()
    }
}

#[cfg(test)]
mod tests {
    use ndarray::Array2;
    use rand::{SeedableRng, rngs::ChaCha8Rng};
    use rand_distr::{Distribution, Normal};

    use super::*;
    use crate::{
        fit::spot::{SpotStart, fit_spot},
        plate::bessel_k0,
    };

    const AT: Point2<f64> = Point2::new(20.3, 19.6);
    const SIZE: usize = 41;

    /// Heat around a small source in a plate: `K0` of the distance, rounded off at 1.5 px; 1 at the centre.
    fn heat(x: f64, y: f64) -> f64 {
        let value = |square: f64| bessel_k0((square + 1.5_f64.powi(2)).sqrt() / 12.0);
        value((Point2::new(x, y) - AT).norm_squared()) / value(0.0)
    }

    /// Best standard deviation of the centre per axis at that noise (Cramer-Rao), by differences.
    fn bound_px(noise: f64) -> f64 {
        let slope = |i: usize| {
            let (x, y) = ((i % SIZE) as f64, (i / SIZE) as f64);
            (heat(x + 1e-3, y) - heat(x - 1e-3, y)) / 2e-3
        };
        noise / (0..SIZE * SIZE).map(|i| slope(i).powi(2)).sum::<f64>().sqrt()
    }

    #[test]
    fn heat_in_a_plate_is_placed_near_the_bound_and_better_than_by_one_gaussian() {
        let noise = 0.05;
        let (mut flanked, mut plain) = (0.0, 0.0);
        let runs = 60;
        for seed in 0..runs {
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            let white = Normal::new(0.0, noise).unwrap();
            let window = Array2::from_shape_fn((SIZE, SIZE), |(y, x)| {
                (heat(x as f64, y as f64) + white.sample(&mut random)) as f32
            });
            let core = window.slice(ndarray::s![12..28, 12..29]);
            let spot = fit_spot(core, noise, SpotStart { centre_px: Point2::new(8.0, 8.0), scale_px: 3.0 });
            assert!(spot.converged);
            let seen = spot.centre_px + Vector2::new(12.0, 12.0);
            let found = fit_flanks(window.view(), noise, seen, spot.shape_px2, 2.0).unwrap();
            flanked += (found.centre_px - AT).norm_squared();
            plain += (seen - AT).norm_squared();
        }
        let per_axis = |sum: f64| (sum / (2 * runs) as f64).sqrt();
        let (flanked, plain, bound) = (per_axis(flanked), per_axis(plain), bound_px(noise));
        // 120 values: a tenth of a standard error on the ratio, thrice.
        assert!(flanked < 1.25 * bound, "{flanked} against {bound}");
        assert!(flanked < plain, "{flanked} against {plain}");
    }

    /// Starts in the middle of what the centre may move by, between bounds whose digits end differently: the middle is then off by its
    /// rounding.
    #[test]
    fn no_start_is_where_it_ends_for_want_of_a_step() {
        let mut random = ChaCha8Rng::seed_from_u64(7);
        let noise = 0.02;
        let white = Normal::new(0.0, noise).unwrap();
        let window =
            Array2::from_shape_fn((SIZE, SIZE), |(y, x)| (heat(x as f64, y as f64) + white.sample(&mut random)) as f32);
        let window = window.slice(ndarray::s![4.., 4..]);
        let at = AT - Vector2::new(4.0, 4.0);
        for k in 0..40 {
            let start = at + Vector2::new(0.9 + 0.001 * f64::from(k), -0.7);
            let found = fit_flanks(window, noise, start, Matrix2::identity() * 9.0, 1.7 + 0.01 * f64::from(k)).unwrap();
            let off = (found.centre_px - at).norm();
            // Five standard errors of one axis; the starts are fifty off.
            assert!(off < 5.0 * bound_px(noise), "start {k}: {off} px off");
        }
    }

    #[test]
    fn a_flat_window_has_no_centre() {
        let flat = Array2::zeros((20, 20));
        assert_eq!(fit_flanks(flat.view(), 0.1, Point2::new(9.0, 9.0), Matrix2::identity() * 4.0, 2.0), None);
        let few = Array2::zeros((3, 3));
        assert_eq!(fit_flanks(few.view(), 0.1, Point2::new(1.0, 1.0), Matrix2::identity(), 1.0), None);
    }
}
