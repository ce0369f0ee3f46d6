//! Sub-pixel centre, height and widths of a spot: an elliptical Gaussian on a tilted plane.

use nalgebra::{DMatrix, DVector, Matrix2, Point2};
use ndarray::ArrayView2;

use super::{
    Estimate,
    engine::{SeparableModel, Solution, Termination, jacobian, minimise, unit_covariance},
};

/// Where to start, in window coordinates: column and row, pixel centres at integers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpotStart {
    /// Where the spot seems to be.
    pub centre_px: Point2<f64>,
    /// Its standard deviation as a Gaussian, roughly.
    pub scale_px: f64,
}

/// A fitted spot, in window coordinates.
#[derive(Clone, Debug, PartialEq)]
pub struct SpotFit {
    /// Centre; the start where the fit did not converge.
    pub centre_px: Point2<f64>,
    /// Covariance of the centre from all parameters jointly; the start's scale squared where the fit did not converge.
    pub covariance_px2: Matrix2<f64>,
    /// Height above the plane, in the window's unit; not a number where the fit did not converge.
    pub amplitude: Estimate,
    /// Covariance of the Gaussian itself: its widths and turn.
    pub shape_px2: Matrix2<f64>,
    /// Plane at the centre and its slopes per pixel in x and y.
    pub plane: [f64; 3],
    /// Sum of squared residuals over noise and degrees of freedom. Above 1, covariances are already scaled up by it.
    pub reduced_chi_square: f64,
    /// Whether a spot was found near the start, inside the window.
    pub converged: bool,
}

impl SpotFit {
    /// Standard deviation of the round Gaussian of the same area.
    pub fn scale_px(&self) -> f64 {
        self.shape_px2.determinant().max(0.0).powf(0.25)
    }
}

/// Narrowest standard deviation that pixels can show.
const NARROWEST_PX: f64 = 0.35;

/// Fits a spot in a cut-out of a map with white noise of one standard deviation. Pixels that are not finite are left out.
///
/// Never fails: without a credible spot near the start, `converged` is false and the start comes back.
pub fn fit_spot(window: ArrayView2<'_, f32>, noise: f64, start: SpotStart) -> SpotFit {
    try_fit(window, noise, start).unwrap_or_else(|| SpotFit {
        centre_px: start.centre_px,
        covariance_px2: Matrix2::identity() * start.scale_px.powi(2),
        amplitude: Estimate { value: f64::NAN, standard_error: f64::INFINITY },
        shape_px2: Matrix2::identity() * start.scale_px.powi(2),
        plane: [f64::NAN; 3],
        reduced_chi_square: f64::NAN,
        converged: false,
    })
}

fn try_fit(window: ArrayView2<'_, f32>, noise: f64, start: SpotStart) -> Option<SpotFit> {
    if !(noise.is_finite() && noise > 0.0 && start.scale_px.is_finite() && start.scale_px > 0.0) {
        return None;
    }
    let model = Model::new(window, start)?;
    let data = DVector::from_iterator(
        model.pixels.len(),
        window.iter().filter(|v| v.is_finite()).map(|v| f64::from(*v) / noise),
    );
    let factor = (1.0 / start.scale_px).clamp(model.bounds[2].0.exp(), model.bounds[2].1.exp()).ln();
    let first = [start.centre_px.x, start.centre_px.y, factor, 0.0, factor];
    let found = minimise(&model, &data, &first, 1e-10);
    if found.termination != Termination::Converged || found.linear[0] <= 0.0 {
        return None;
    }
    report(&model, &found, noise)
}

fn report(model: &Model, found: &Solution, noise: f64) -> Option<SpotFit> {
    let parameters = found.linear.len() + found.nonlinear.len();
    let freedom = (model.pixels.len() - parameters) as f64;
    let reduced_chi_square = found.sum_of_squares / freedom;
    let covariance = unit_covariance(&jacobian(model, &found.nonlinear, &found.linear))? * reduced_chi_square.max(1.0);
    let centre = found.linear.len();
    let covariance_px2 = covariance.fixed_view::<2, 2>(centre, centre).into_owned();
    let [x, y, ..] = found.nonlinear[..] else { return None };
    let factor = Model::factor(&found.nonlinear);
    let shape_px2 = (factor.transpose() * factor).try_inverse()?;
    // A centre known no better than the window is wide is no centre.
    let spread_px2 = covariance_px2.trace();
    if !spread_px2.is_finite() || spread_px2 > model.size_px.0.powi(2) + model.size_px.1.powi(2) {
        return None;
    }
    let [height, level, by_x, by_y] = [0, 1, 2, 3].map(|i| found.linear[i] * noise);
    Some(SpotFit {
        centre_px: Point2::new(x, y),
        covariance_px2,
        amplitude: Estimate { value: height, standard_error: covariance[(0, 0)].sqrt() * noise },
        shape_px2,
        plane: [level + by_x * (x - model.middle_px.x) + by_y * (y - model.middle_px.y), by_x, by_y],
        reduced_chi_square,
        converged: true,
    })
}

/// `height exp(-|F d|²/2) + plane`, with `d` from the centre and `F` upper triangular: logarithms of its diagonal and
/// its other element are the shape parameters, so every shape is an ellipse.
struct Model {
    pixels: Vec<Point2<f64>>,
    size_px: (f64, f64),
    middle_px: Point2<f64>,
    bounds: Vec<(f64, f64)>,
}

impl Model {
    fn new(window: ArrayView2<'_, f32>, start: SpotStart) -> Option<Self> {
        let (height, width) = window.dim();
        let pixels: Vec<Point2<f64>> = window
            .indexed_iter()
            .filter(|(_, v)| v.is_finite())
            .map(|((y, x), _)| Point2::new(x as f64, y as f64))
            .collect();
        // Nine parameters, and something left to judge them by.
        if pixels.len() < 16 {
            return None;
        }
        let size_px = (width as f64, height as f64);
        let reach = (2.0 * start.scale_px).max(2.0);
        let around = |at: f64, size: f64| ((at - reach).max(-0.5), (at + reach).min(size - 0.5));
        let widest = size_px.0.max(size_px.1).max(2.0 * NARROWEST_PX);
        let width_bounds = (-widest.ln(), -NARROWEST_PX.ln());
        let bounds = vec![
            around(start.centre_px.x, size_px.0),
            around(start.centre_px.y, size_px.1),
            width_bounds,
            (-1.0 / NARROWEST_PX, 1.0 / NARROWEST_PX),
            width_bounds,
        ];
        let middle_px = Point2::new(0.5 * (size_px.0 - 1.0), 0.5 * (size_px.1 - 1.0));
        let inside = bounds.iter().all(|(low, high)| low < high);
        inside.then_some(Self { pixels, size_px, middle_px, bounds })
    }

    fn factor(p: &[f64]) -> Matrix2<f64> {
        Matrix2::new(p[2].exp(), p[3], 0.0, p[4].exp())
    }

    /// Writes the derivative of the first column.
    fn derivative(&self, p: &[f64], f: impl Fn(f64, f64, f64) -> f64) -> DMatrix<f64> {
        let factor = Self::factor(p);
        let centre = Point2::new(p[0], p[1]);
        let mut all = DMatrix::zeros(self.pixels.len(), 4);
        for (i, pixel) in self.pixels.iter().enumerate() {
            let d = pixel - centre;
            let u = factor * d;
            all[(i, 0)] = (-0.5 * u.norm_squared()).exp() * f(u.x, u.y, d.y);
        }
        all
    }
}

impl SeparableModel for Model {
    fn bounds(&self) -> &[(f64, f64)] {
        &self.bounds
    }

    fn columns(&self, p: &[f64]) -> DMatrix<f64> {
        let factor = Self::factor(p);
        let centre = Point2::new(p[0], p[1]);
        let mut all = DMatrix::from_element(self.pixels.len(), 4, 1.0);
        for (i, pixel) in self.pixels.iter().enumerate() {
            all[(i, 0)] = (-0.5 * (factor * (pixel - centre)).norm_squared()).exp();
            all[(i, 2)] = pixel.x - self.middle_px.x;
            all[(i, 3)] = pixel.y - self.middle_px.y;
        }
        all
    }

    fn derivatives(&self, p: &[f64]) -> Vec<DMatrix<f64>> {
        let f = Self::factor(p);
        vec![
            self.derivative(p, |u, _, _| u * f[(0, 0)]),
            self.derivative(p, |u, v, _| u * f[(0, 1)] + v * f[(1, 1)]),
            // By ln(F11): -u F11 dx, where F11 dx = u - F12 dy.
            self.derivative(p, |u, _, dy| -u * (u - f[(0, 1)] * dy)),
            self.derivative(p, |u, _, dy| -u * dy),
            self.derivative(p, |_, v, _| -v * v),
        ]
    }
}

#[cfg(test)]
mod tests;
