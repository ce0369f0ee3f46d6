//! Least squares for each kind of mapping, in scaled coordinates.
//!
//! The drawing is taken as exact and the clicks as equally uncertain in x and y, so pixels are predicted from millimetres
//! and squared pixel distances are minimised.

use nalgebra::{DMatrix, DVector, Matrix3, Point2, Vector2};

use super::{AlignError, AlignmentKind, PointPair, apply};

/// Scaled coordinates: each cloud of points centred, at a mean distance of sqrt(2) (Hartley, IEEE PAMI 19 (1997) 580).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Scaling {
    pub(super) from_board: Matrix3<f64>,
    pub(super) from_image: Matrix3<f64>,
}

impl Scaling {
    /// No scaling: for mappings that were not fitted.
    pub(super) fn none() -> Self {
        Self { from_board: Matrix3::identity(), from_image: Matrix3::identity() }
    }

    /// The scaling of a set of pairs whose points differ.
    pub(super) fn of(pairs: &[PointPair]) -> Self {
        Self {
            from_board: centre_and_scale(pairs.iter().map(|p| Point2::new(p.x_mm, p.y_mm))),
            from_image: centre_and_scale(pairs.iter().map(|p| Point2::new(p.x_px, p.y_px))),
        }
    }

    /// Scaled units per pixel.
    pub(super) fn per_px(&self) -> f64 {
        self.from_image[(0, 0)]
    }

    pub(super) fn board(&self, pair: &PointPair) -> Point2<f64> {
        apply(&self.from_board, Point2::new(pair.x_mm, pair.y_mm))
    }

    fn image(&self, pair: &PointPair) -> Point2<f64> {
        apply(&self.from_image, Point2::new(pair.x_px, pair.y_px))
    }
}

fn centre_and_scale(points: impl Iterator<Item = Point2<f64>> + Clone) -> Matrix3<f64> {
    let count = points.clone().count() as f64;
    let centre = points.clone().fold(Vector2::zeros(), |sum, p| sum + p.coords) / count;
    let mean_distance = points.map(|p| (p.coords - centre).norm()).sum::<f64>() / count;
    let scale = std::f64::consts::SQRT_2 / mean_distance;
    Matrix3::new(scale, 0.0, -scale * centre.x, 0.0, scale, -scale * centre.y, 0.0, 0.0, 1.0)
}

impl AlignmentKind {
    /// Fewest pairs.
    pub fn pairs_needed(self) -> usize {
        self.parameters() / 2
    }

    /// Free parameters.
    pub(super) fn parameters(self) -> usize {
        match self {
            Self::Similarity => 4,
            Self::Affine => 6,
            Self::Homography => 8,
        }
    }
}

/// Scaled picture from scaled board. Parameters: similarity `a b tx ty` for rows `a -b tx`, `b a ty`; affine and homography
/// the matrix row by row, its last element 1 and left out.
#[derive(Clone, Debug)]
pub(super) struct Mapping {
    pub(super) kind: AlignmentKind,
    pub(super) theta: DVector<f64>,
}

impl Mapping {
    pub(super) fn matrix(&self) -> Matrix3<f64> {
        let t = &self.theta;
        match self.kind {
            AlignmentKind::Similarity => Matrix3::new(t[0], -t[1], t[2], t[1], t[0], t[3], 0.0, 0.0, 1.0),
            AlignmentKind::Affine => Matrix3::new(t[0], t[1], t[2], t[3], t[4], t[5], 0.0, 0.0, 1.0),
            AlignmentKind::Homography => Matrix3::new(t[0], t[1], t[2], t[3], t[4], t[5], t[6], t[7], 1.0),
        }
    }

    /// Derivative of the predicted point by the parameters, two rows, written at `row` of `out`.
    pub(super) fn jacobian_into(&self, at: Point2<f64>, out: &mut DMatrix<f64>, row: usize) {
        parameter_jacobian(self.kind, &self.matrix(), at, out, row);
    }

    fn residual(&self, scaling: &Scaling, pair: &PointPair) -> Vector2<f64> {
        scaling.image(pair) - apply(&self.matrix(), scaling.board(pair))
    }

    /// Sum of squared residuals, scaled units.
    pub(super) fn sum_of_squares(&self, scaling: &Scaling, pairs: &[PointPair]) -> f64 {
        pairs.iter().map(|p| self.residual(scaling, p).norm_squared()).sum()
    }

    /// All residuals and the Jacobian of the predictions, two rows a pair.
    pub(super) fn system(&self, scaling: &Scaling, pairs: &[PointPair]) -> (DVector<f64>, DMatrix<f64>) {
        let mut residuals = DVector::zeros(2 * pairs.len());
        let mut jacobian = DMatrix::zeros(2 * pairs.len(), self.theta.len());
        for (i, pair) in pairs.iter().enumerate() {
            residuals.fixed_rows_mut::<2>(2 * i).copy_from(&self.residual(scaling, pair));
            self.jacobian_into(scaling.board(pair), &mut jacobian, 2 * i);
        }
        (residuals, jacobian)
    }
}

/// See [`Mapping::jacobian_into`]; `scaled` is the scaled picture-from-board matrix with its last element 1.
pub(super) fn parameter_jacobian(
    kind: AlignmentKind,
    scaled: &Matrix3<f64>,
    at: Point2<f64>,
    out: &mut DMatrix<f64>,
    row: usize,
) {
    let (x, y) = (at.x, at.y);
    match kind {
        AlignmentKind::Similarity => {
            set_row(out, row, &[x, -y, 1.0, 0.0]);
            set_row(out, row + 1, &[y, x, 0.0, 1.0]);
        }
        AlignmentKind::Affine => {
            set_row(out, row, &[x, y, 1.0, 0.0, 0.0, 0.0]);
            set_row(out, row + 1, &[0.0, 0.0, 0.0, x, y, 1.0]);
        }
        AlignmentKind::Homography => {
            let w = scaled[(2, 0)] * x + scaled[(2, 1)] * y + scaled[(2, 2)];
            let p = apply(scaled, at);
            let (x, y, one) = (x / w, y / w, 1.0 / w);
            set_row(out, row, &[x, y, one, 0.0, 0.0, 0.0, -x * p.x, -y * p.x]);
            set_row(out, row + 1, &[0.0, 0.0, 0.0, x, y, one, -x * p.y, -y * p.y]);
        }
    }
}

fn set_row(out: &mut DMatrix<f64>, row: usize, values: &[f64]) {
    for (column, value) in values.iter().enumerate() {
        out[(row, column)] = *value;
    }
}

/// Least squares for one kind. Expects enough pairs, all finite, none repeated.
pub(super) fn solve(kind: AlignmentKind, scaling: &Scaling, pairs: &[PointPair]) -> Result<Mapping, AlignError> {
    match kind {
        AlignmentKind::Similarity => Ok(similarity(scaling, pairs)),
        AlignmentKind::Affine => affine(scaling, pairs),
        AlignmentKind::Homography => homography(scaling, pairs),
    }
}

/// In the plane, Umeyama's solution under his determinant rule (IEEE PAMI 13 (1991) 376) is the linear least-squares
/// solution over scaled rotations, written here as one complex factor; it cannot be a mirror image.
fn similarity(scaling: &Scaling, pairs: &[PointPair]) -> Mapping {
    let (mut dot, mut cross, mut square) = (0.0, 0.0, 0.0);
    let (board_mean, image_mean) = means(scaling, pairs);
    for pair in pairs {
        let s = scaling.board(pair).coords - board_mean;
        let d = scaling.image(pair).coords - image_mean;
        dot += s.dot(&d);
        cross += s.x * d.y - s.y * d.x;
        square += s.norm_squared();
    }
    let (a, b) = (dot / square, cross / square);
    let shift_x = image_mean.x - a * board_mean.x + b * board_mean.y;
    let shift_y = image_mean.y - b * board_mean.x - a * board_mean.y;
    Mapping { kind: AlignmentKind::Similarity, theta: DVector::from_vec(vec![a, b, shift_x, shift_y]) }
}

/// Sum of squared residuals (scaled units) of the best similarity that does mirror.
pub(super) fn mirrored_sum_of_squares(scaling: &Scaling, pairs: &[PointPair]) -> f64 {
    let flipped: Vec<PointPair> = pairs.iter().map(|p| PointPair { x_px: -p.x_px, ..*p }).collect();
    let mut flipped_scaling = *scaling;
    flipped_scaling.from_image[(0, 2)] = -scaling.from_image[(0, 2)];
    similarity(&flipped_scaling, &flipped).sum_of_squares(&flipped_scaling, &flipped)
}

fn means(scaling: &Scaling, pairs: &[PointPair]) -> (Vector2<f64>, Vector2<f64>) {
    let count = pairs.len() as f64;
    let sum =
        |f: &dyn Fn(&PointPair) -> Point2<f64>| pairs.iter().fold(Vector2::zeros(), |s, p| s + f(p).coords) / count;
    (sum(&|p| scaling.board(p)), sum(&|p| scaling.image(p)))
}

/// Smallest singular value, relative to the largest, of a system that still counts as determined: far above rounding,
/// far below anything that clicks can produce.
const RANK_LIMIT: f64 = 1e-9;

fn affine(scaling: &Scaling, pairs: &[PointPair]) -> Result<Mapping, AlignError> {
    let start = Mapping { kind: AlignmentKind::Affine, theta: DVector::zeros(6) };
    let (residuals, jacobian) = start.system(scaling, pairs);
    let svd = jacobian.svd(true, true);
    if svd.singular_values.min() < RANK_LIMIT * svd.singular_values.max() {
        return Err(AlignError::Collinear);
    }
    let theta = svd.solve(&residuals, 0.0).map_err(|_| AlignError::Collinear)?;
    let mapping = Mapping { kind: AlignmentKind::Affine, theta };
    let m = mapping.matrix();
    // The points of the picture may lie on one line although those of the board do not.
    let linear = m.fixed_view::<2, 2>(0, 0).svd(false, false).singular_values;
    if linear.min() < RANK_LIMIT * linear.max() {
        return Err(AlignError::Collinear);
    }
    Ok(mapping)
}

fn homography(scaling: &Scaling, pairs: &[PointPair]) -> Result<Mapping, AlignError> {
    if pairs.len() == 4 && three_on_a_line(scaling, pairs) {
        return Err(AlignError::Collinear);
    }
    let start = direct_linear(scaling, pairs)?;
    let refined = refine(start, scaling, pairs);
    let singular = refined.matrix().svd(false, false).singular_values;
    if singular.min() < RANK_LIMIT * singular.max() {
        return Err(AlignError::Collinear);
    }
    Ok(refined)
}

fn three_on_a_line(scaling: &Scaling, pairs: &[PointPair]) -> bool {
    let twice_area = |a: Point2<f64>, b: Point2<f64>, c: Point2<f64>| (b - a).perp(&(c - a)).abs();
    (0..4).any(|left_out| {
        let rest: Vec<&PointPair> = (0..4).filter(|i| *i != left_out).map(|i| &pairs[i]).collect();
        let board = twice_area(scaling.board(rest[0]), scaling.board(rest[1]), scaling.board(rest[2]));
        let image = twice_area(scaling.image(rest[0]), scaling.image(rest[1]), scaling.image(rest[2]));
        board.min(image) < RANK_LIMIT
    })
}

/// Direct linear transform: the null vector of the cross-product equations.
fn direct_linear(scaling: &Scaling, pairs: &[PointPair]) -> Result<Mapping, AlignError> {
    // At least nine rows, so that the decomposition yields all nine right singular vectors.
    let mut system = DMatrix::zeros((2 * pairs.len()).max(9), 9);
    for (i, pair) in pairs.iter().enumerate() {
        let (s, d) = (scaling.board(pair), scaling.image(pair));
        set_row(&mut system, 2 * i, &[s.x, s.y, 1.0, 0.0, 0.0, 0.0, -d.x * s.x, -d.x * s.y, -d.x]);
        set_row(&mut system, 2 * i + 1, &[0.0, 0.0, 0.0, s.x, s.y, 1.0, -d.y * s.x, -d.y * s.y, -d.y]);
    }
    let svd = system.svd(false, true);
    let mut order: Vec<usize> = (0..9).collect();
    order.sort_by(|a, b| svd.singular_values[*b].total_cmp(&svd.singular_values[*a]));
    let right = svd.v_t.ok_or(AlignError::Collinear)?;
    if svd.singular_values[order[7]] < RANK_LIMIT * svd.singular_values[order[0]] {
        return Err(AlignError::Collinear);
    }
    let h = right.row(order[8]);
    // The last element is the denominator at the middle of the board's points.
    if h[8].abs() < RANK_LIMIT {
        return Err(AlignError::Folds);
    }
    Ok(Mapping { kind: AlignmentKind::Homography, theta: DVector::from_fn(8, |i, _| h[i] / h[8]) })
}

/// Levenberg-Marquardt on the pixel distances. A start that folds is returned as it is: the caller refuses it.
fn refine(start: Mapping, scaling: &Scaling, pairs: &[PointPair]) -> Mapping {
    let mut best = start;
    let mut cost = best.sum_of_squares(scaling, pairs);
    let mut damping = 1e-6;
    for _ in 0..60 {
        let (residuals, jacobian) = best.system(scaling, pairs);
        let mut normal = jacobian.tr_mul(&jacobian);
        for i in 0..normal.nrows() {
            normal[(i, i)] *= 1.0 + damping;
        }
        let Some(factor) = normal.cholesky() else { break };
        let step = factor.solve(&jacobian.tr_mul(&residuals));
        let trial = Mapping { kind: best.kind, theta: &best.theta + &step };
        let trial_cost = trial.sum_of_squares(scaling, pairs);
        if trial_cost < cost {
            (best, cost) = (trial, trial_cost);
            damping = (damping * 0.1).max(1e-15);
        } else {
            damping *= 10.0;
        }
        if step.norm() < 1e-14 * best.theta.norm() || damping > 1e10 {
            break;
        }
    }
    best
}
