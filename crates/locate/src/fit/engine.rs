//! Separable least squares: linear parameters are eliminated (variable projection), the others found by
//! Levenberg-Marquardt within bounds.
//!
//! Golub & Pereyra, SIAM J. Numer. Anal. 10 (1973) 413, with Kaufman's shorter Jacobian, BIT 15 (1975) 49 (both from
//! memory). Bounds hold because each parameter is a logistic function of a free one.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt, TerminationReason};
use nalgebra::{DMatrix, DVector, Dyn, storage::Owned};

/// A model that is linear in some parameters: `data = columns(p) * c`. Weights are the model's business.
pub trait SeparableModel {
    /// Lowest and highest value of each nonlinear parameter.
    fn bounds(&self) -> &[(f64, f64)];
    /// One row per value, one column per linear parameter.
    fn columns(&self, nonlinear: &[f64]) -> DMatrix<f64>;
    /// Derivative of [`Self::columns`] by each nonlinear parameter.
    fn derivatives(&self, nonlinear: &[f64]) -> Vec<DMatrix<f64>>;
}

/// How a fit ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Termination {
    /// At a minimum inside the bounds.
    Converged,
    /// The sum of squares still falls towards a bound: the values are no fit.
    AtBound,
    /// Out of evaluations.
    LostPatience,
    /// The numbers broke down.
    Failed,
}

/// A minimum that was found.
#[derive(Clone, Debug)]
pub struct Solution {
    /// Nonlinear parameters.
    pub nonlinear: Vec<f64>,
    /// Linear parameters; zero for a column that the ones before it imitate.
    pub linear: DVector<f64>,
    /// Sum of squared residuals.
    pub sum_of_squares: f64,
    /// Data less model.
    pub residuals: DVector<f64>,
    /// How it ended.
    pub termination: Termination,
}

/// A parameter this near to a bound, as a share of its range, lies on it.
const BOUND_SHARE: f64 = 1e-4;

/// Tolerance at which nothing but rounding is left.
pub const TIGHTEST: f64 = 1e-14;

/// Minimises from one start, until a step would change the sum of squares and the free parameters by less than
/// `tolerance`, relative. Without nonlinear parameters this is plain linear least squares.
pub fn minimise(model: &impl SeparableModel, data: &DVector<f64>, start: &[f64], tolerance: f64) -> Solution {
    if start.is_empty() {
        let Projection { linear, residuals, .. } = Projection::new(model.columns(start), data);
        let sum_of_squares = residuals.norm_squared();
        return Solution {
            nonlinear: Vec::new(),
            linear,
            sum_of_squares,
            residuals,
            termination: Termination::Converged,
        };
    }
    let free = DVector::from_iterator(start.len(), start.iter().zip(model.bounds()).map(|(p, b)| to_free(*p, *b)));
    let reduced = Reduced::new(model, data, free);
    let (reduced, report) = LevenbergMarquardt::new().with_tol(tolerance).with_patience(100).minimize(reduced);
    let nonlinear = reduced.nonlinear();
    let on_bound = |(p, (low, high)): (&f64, &(f64, f64))| (p - low).min(high - p) < BOUND_SHARE * (high - low);
    let termination = match report.termination {
        _ if nonlinear.iter().zip(model.bounds()).any(on_bound) => Termination::AtBound,
        TerminationReason::ResidualsZero | TerminationReason::Orthogonal | TerminationReason::Converged { .. } => {
            Termination::Converged
        }
        // The tolerances are at rounding already, so this too is a minimum.
        TerminationReason::NoImprovementPossible(_) => Termination::Converged,
        TerminationReason::LostPatience => Termination::LostPatience,
        _ => Termination::Failed,
    };
    let Projection { linear, residuals, .. } = reduced.projection;
    Solution { sum_of_squares: residuals.norm_squared(), nonlinear, linear, residuals, termination }
}

/// Sum of squared residuals at given nonlinear parameters.
pub fn sum_of_squares(model: &impl SeparableModel, data: &DVector<f64>, nonlinear: &[f64]) -> f64 {
    Projection::new(model.columns(nonlinear), data).residuals.norm_squared()
}

/// Derivative of the model by all its parameters, linear ones first.
pub fn jacobian(model: &impl SeparableModel, nonlinear: &[f64], linear: &DVector<f64>) -> DMatrix<f64> {
    let columns = model.columns(nonlinear);
    let mut all = columns.clone().resize_horizontally(linear.len() + nonlinear.len(), 0.0);
    for (k, derivative) in model.derivatives(nonlinear).iter().enumerate() {
        all.set_column(linear.len() + k, &(derivative * linear));
    }
    all
}

/// Covariance of all parameters for unit noise, `(JᵀJ)⁻¹`; `None` when the data do not determine them.
pub fn unit_covariance(jacobian: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let norms: Vec<f64> = jacobian.column_iter().map(|c| c.norm()).collect();
    if norms.iter().any(|n| !n.is_finite() || *n == 0.0) {
        return None;
    }
    let scaled = DMatrix::from_fn(jacobian.nrows(), norms.len(), |i, j| jacobian[(i, j)] / norms[j]);
    let inverse = scaled.tr_mul(&scaled).cholesky()?.inverse();
    Some(DMatrix::from_fn(norms.len(), norms.len(), |i, j| inverse[(i, j)] / (norms[i] * norms[j])))
}

/// Free value of the middle between the bounds. Levenberg-Marquardt's first step is bounded by the length of the free parameters: at zero
/// for all of them, but for rounding, it would end where it started.
const MIDDLE: f64 = 1.0;

fn to_free(value: f64, (low, high): (f64, f64)) -> f64 {
    let share = ((value - low) / (high - low)).clamp(1e-3, 1.0 - 1e-3);
    MIDDLE + (share / (1.0 - share)).ln()
}

/// Value and its derivative.
fn from_free(free: f64, (low, high): (f64, f64)) -> (f64, f64) {
    let share = 1.0 / (1.0 + (MIDDLE - free).exp());
    (low + (high - low) * share, (high - low) * share * (1.0 - share))
}

/// Data projected off the columns.
struct Projection {
    orthonormal: DMatrix<f64>,
    linear: DVector<f64>,
    residuals: DVector<f64>,
}

impl Projection {
    /// Modified Gram-Schmidt, each column twice so that it is orthogonal to rounding.
    fn new(columns: DMatrix<f64>, data: &DVector<f64>) -> Self {
        let count = columns.ncols();
        let mut q = columns;
        let mut r = DMatrix::<f64>::zeros(count, count);
        for k in 0..count {
            let length = q.column(k).norm();
            for _ in 0..2 {
                for j in 0..k {
                    let dot = q.column(j).dot(&q.column(k));
                    r[(j, k)] += dot;
                    let (done, mut current) = q.columns_range_pair_mut(j, k);
                    current.axpy(-dot, &done, 1.0);
                }
            }
            let rest = q.column(k).norm();
            // A column within rounding of the span of those before it brings nothing.
            let kept = rest > 1e-13 * length && rest.is_finite();
            r[(k, k)] = if kept { rest } else { 0.0 };
            q.column_mut(k).scale_mut(if kept { 1.0 / rest } else { 0.0 });
        }
        let mut residuals = data.clone();
        let mut along = DVector::zeros(count);
        for k in 0..count {
            along[k] = q.column(k).dot(&residuals);
            residuals.axpy(-along[k], &q.column(k), 1.0);
        }
        Self { linear: back_substitute(&r, along), orthonormal: q, residuals }
    }

    fn remove(&self, vector: &mut DVector<f64>) {
        for q in self.orthonormal.column_iter() {
            let dot = q.dot(vector);
            vector.axpy(-dot, &q, 1.0);
        }
    }
}

fn back_substitute(r: &DMatrix<f64>, mut x: DVector<f64>) -> DVector<f64> {
    for k in (0..x.len()).rev() {
        let known: f64 = (k + 1..x.len()).map(|j| r[(k, j)] * x[j]).sum();
        x[k] = if r[(k, k)] == 0.0 { 0.0 } else { (x[k] - known) / r[(k, k)] };
    }
    x
}

/// The problem left to Levenberg-Marquardt.
struct Reduced<'a, M> {
    model: &'a M,
    data: &'a DVector<f64>,
    free: DVector<f64>,
    projection: Projection,
}

impl<'a, M: SeparableModel> Reduced<'a, M> {
    fn new(model: &'a M, data: &'a DVector<f64>, free: DVector<f64>) -> Self {
        let projection =
            Projection { orthonormal: DMatrix::zeros(0, 0), linear: DVector::zeros(0), residuals: data.clone() };
        let mut new = Self { model, data, free: free.clone(), projection };
        new.set_params(&free);
        new
    }

    fn nonlinear(&self) -> Vec<f64> {
        self.free.iter().zip(self.model.bounds()).map(|(u, b)| from_free(*u, *b).0).collect()
    }
}

impl<M: SeparableModel> LeastSquaresProblem<f64, Dyn, Dyn> for Reduced<'_, M> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, free: &DVector<f64>) {
        self.free.copy_from(free);
        self.projection = Projection::new(self.model.columns(&self.nonlinear()), self.data);
    }

    fn params(&self) -> DVector<f64> {
        self.free.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some(self.projection.residuals.clone())
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let derivatives = self.model.derivatives(&self.nonlinear());
        let mut all = DMatrix::zeros(self.data.len(), derivatives.len());
        for (k, derivative) in derivatives.iter().enumerate() {
            let mut column = derivative * &self.projection.linear;
            self.projection.remove(&mut column);
            column.scale_mut(-from_free(self.free[k], self.model.bounds()[k]).1);
            all.set_column(k, &column);
        }
        Some(all)
    }
}
