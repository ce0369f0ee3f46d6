//! Fits the mapping and chooses its kind.

use nalgebra::{DMatrix, Matrix3, Point2};

use super::{
    AlignError, Alignment, AlignmentKind, PointPair, apply,
    outlier::suspicious_pair,
    solve::{Mapping, Scaling, mirrored_sum_of_squares, solve},
};

/// Standard deviation of one clicked coordinate before the residuals have spoken, in pixels (common practice, no
/// published source).
pub const ASSUMED_CLICK_SIGMA_PX: f64 = 0.7;

/// How many residuals the assumed sigma is worth when the two are averaged.
pub(super) const ASSUMED_WEIGHT: f64 = 4.0;

pub(super) const KINDS: [AlignmentKind; 3] =
    [AlignmentKind::Similarity, AlignmentKind::Affine, AlignmentKind::Homography];

/// A fit of one kind, and its sum of squared pixel distances.
pub(super) struct Candidate {
    pub(super) mapping: Mapping,
    pub(super) sum_px2: f64,
}

impl Alignment {
    /// Fits the simplest mapping that the pairs support.
    ///
    /// The drawing is exact, the clicks are not: squared pixel distances are minimised. Among the kinds that the number
    /// of pairs allows, the one with the least `sum / sigma² + parameters · ln(2 · pairs)` is taken (Schwarz's
    /// criterion), with sigma from the richest kind's residuals averaged with [`ASSUMED_CLICK_SIGMA_PX`], so that fits
    /// without spare pairs compare too.
    ///
    /// # Errors
    /// See [`AlignError`]. A richer kind that would be chosen but folds or mirrors is an error, not skipped.
    pub fn fit(pairs: &[PointPair]) -> Result<Self, AlignError> {
        check(pairs)?;
        let scaling = Scaling::of(pairs);
        refuse_mirrored(&scaling, pairs)?;
        let mut fits = Vec::new();
        for kind in KINDS.into_iter().filter(|k| pairs.len() >= k.pairs_needed()) {
            match candidate(kind, &scaling, pairs) {
                Ok(found) => fits.push(found),
                // Points on one line carry a simpler mapping well enough.
                Err(AlignError::Collinear) if kind != AlignmentKind::Similarity => {}
                Err(error) => return Err(error),
            }
        }
        let sigma_px2 = fits.last().map_or(0.0, |f| click_variance_px2(f, pairs.len()));
        let best = fits
            .into_iter()
            .min_by(|a, b| score(a, sigma_px2, pairs.len()).total_cmp(&score(b, sigma_px2, pairs.len())))
            .ok_or(AlignError::Collinear)?;
        admit(&best.mapping, &scaling, pairs)?;
        finish(best, &scaling, pairs)
    }

    /// Fits a mapping of the given kind.
    ///
    /// # Errors
    /// See [`AlignError`].
    pub fn fit_kind(kind: AlignmentKind, pairs: &[PointPair]) -> Result<Self, AlignError> {
        check(pairs)?;
        if pairs.len() < kind.pairs_needed() {
            return Err(AlignError::TooFewFor { found: pairs.len(), needed: kind.pairs_needed() });
        }
        let scaling = Scaling::of(pairs);
        refuse_mirrored(&scaling, pairs)?;
        let found = candidate(kind, &scaling, pairs)?;
        admit(&found.mapping, &scaling, pairs)?;
        finish(found, &scaling, pairs)
    }
}

pub(super) fn candidate(kind: AlignmentKind, scaling: &Scaling, pairs: &[PointPair]) -> Result<Candidate, AlignError> {
    let mapping = solve(kind, scaling, pairs)?;
    let sum_px2 = mapping.sum_of_squares(scaling, pairs) / scaling.per_px().powi(2);
    Ok(Candidate { mapping, sum_px2 })
}

/// Variance of a click: residuals averaged with the assumption, by their degrees of freedom.
pub(super) fn click_variance_px2(fit: &Candidate, pairs: usize) -> f64 {
    let spare = (2 * pairs - fit.mapping.kind.parameters()) as f64;
    (ASSUMED_WEIGHT * ASSUMED_CLICK_SIGMA_PX.powi(2) + fit.sum_px2) / (ASSUMED_WEIGHT + spare)
}

/// Schwarz's criterion.
pub(super) fn score(fit: &Candidate, sigma_px2: f64, pairs: usize) -> f64 {
    fit.sum_px2 / sigma_px2 + fit.mapping.kind.parameters() as f64 * (2.0 * pairs as f64).ln()
}

fn check(pairs: &[PointPair]) -> Result<(), AlignError> {
    if pairs.len() < 2 {
        return Err(AlignError::TooFew(pairs.len()));
    }
    let finite = |p: &PointPair| [p.x_px, p.y_px, p.x_mm, p.y_mm].iter().all(|v| v.is_finite());
    if let Some(bad) = pairs.iter().position(|p| !finite(p)) {
        return Err(AlignError::NotANumber(bad));
    }
    let extent =
        |f: &dyn Fn(&PointPair) -> Point2<f64>| pairs.iter().map(|p| (f(p) - f(&pairs[0])).norm()).fold(0.0, f64::max);
    let board = |p: &PointPair| Point2::new(p.x_mm, p.y_mm);
    let image = |p: &PointPair| Point2::new(p.x_px, p.y_px);
    // A billionth of the extent: equal but for rounding.
    let (board_limit, image_limit) = (1e-9 * extent(&board), 1e-9 * extent(&image));
    for (j, b) in pairs.iter().enumerate() {
        for (i, a) in pairs[..j].iter().enumerate() {
            if (board(a) - board(b)).norm() <= board_limit || (image(a) - image(b)).norm() <= image_limit {
                return Err(AlignError::Repeated(i, j));
            }
        }
    }
    Ok(())
}

/// Refuses pairs that a mirror image fits far better: by more than 25 in chi-square under the assumed sigma (odds of
/// e^12 at equal parameters), and leaving less than a tenth of the squares.
fn refuse_mirrored(scaling: &Scaling, pairs: &[PointPair]) -> Result<(), AlignError> {
    let proper = candidate(AlignmentKind::Similarity, scaling, pairs)?.sum_px2;
    let mirrored = mirrored_sum_of_squares(scaling, pairs) / scaling.per_px().powi(2);
    let far_better = proper - mirrored > 25.0 * ASSUMED_CLICK_SIGMA_PX.powi(2) && mirrored < 0.1 * proper;
    if far_better { Err(AlignError::Mirrored) } else { Ok(()) }
}

/// Refuses a mapping that folds over between the pairs, shrinks to nothing or mirrors.
fn admit(mapping: &Mapping, scaling: &Scaling, pairs: &[PointPair]) -> Result<(), AlignError> {
    let m = mapping.matrix();
    let denominator = |p: Point2<f64>| m[(2, 0)] * p.x + m[(2, 1)] * p.y + m[(2, 2)];
    // The denominator is linear: of one sign at the points, it is of one sign over their hull.
    if pairs.iter().any(|p| denominator(scaling.board(p)) <= 0.0) {
        return Err(AlignError::Folds);
    }
    let determinant = m.determinant();
    if determinant.abs() < 1e-12 {
        Err(AlignError::Folds)
    } else if determinant < 0.0 {
        Err(AlignError::Mirrored)
    } else {
        Ok(())
    }
}

fn finish(fit: Candidate, scaling: &Scaling, pairs: &[PointPair]) -> Result<Alignment, AlignError> {
    let to_px = invert(&scaling.from_image)?;
    let image_from_board = unit_corner(to_px * fit.mapping.matrix() * scaling.from_board);
    let board_from_image = unit_corner(invert(&image_from_board)?);
    let variance_px2 = click_variance_px2(&fit, pairs.len());
    let (_, jacobian) = fit.mapping.system(scaling, pairs);
    let normal: DMatrix<f64> = jacobian.tr_mul(&jacobian);
    let inverse = normal.cholesky().ok_or(AlignError::Collinear)?.inverse();
    let distance = |m: &Matrix3<f64>, from: Point2<f64>, to: Point2<f64>| (apply(m, from) - to).norm();
    let image = |p: &PointPair| Point2::new(p.x_px, p.y_px);
    let board = |p: &PointPair| Point2::new(p.x_mm, p.y_mm);
    Ok(Alignment {
        kind: fit.mapping.kind,
        board_from_image,
        image_from_board,
        scaling: *scaling,
        parameter_covariance: inverse * (variance_px2 * scaling.per_px().powi(2)),
        residuals_mm: pairs.iter().map(|p| distance(&board_from_image, image(p), board(p))).collect(),
        residuals_px: pairs.iter().map(|p| distance(&image_from_board, board(p), image(p))).collect(),
        pair_sigma_px: variance_px2.sqrt(),
        suspicious_pair: suspicious_pair(&fit, pairs),
    })
}

fn invert(m: &Matrix3<f64>) -> Result<Matrix3<f64>, AlignError> {
    m.try_inverse().ok_or(AlignError::Singular)
}

/// Scales a homogeneous matrix to a last element of 1 where it can be.
pub(super) fn unit_corner(m: Matrix3<f64>) -> Matrix3<f64> {
    let corner = m[(2, 2)];
    if corner.abs() > 1e-12 * m.norm() { m / corner } else { m }
}
