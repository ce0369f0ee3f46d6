//! Moves an alignment onto the board's own edges: outline and part edges of the drawing against the gradient of the
//! picture before injection. Answers that are no better, too far or too uncertain are refused, with the reason.
//!
//! Each edge of the drawing is sampled; along its normal the strongest gradient is looked for, and the mapping's own
//! parameters follow by robust least squares, the point pairs standing in as prior with their covariance (search along
//! normals: Harris & Stennett, BMVC 1990; robust weights: Drummond & Cipolla, IEEE PAMI 24 (2002) 932).

mod edges;
mod picture;
#[cfg(test)]
mod practice;
#[cfg(test)]
mod tests;

use nalgebra::{DMatrix, DVector, Matrix3, Point2, Vector2};
use ndarray::ArrayView2;

use self::{
    edges::{Sample, samples},
    picture::Picture,
};
use super::{
    Alignment, AlignmentKind, PointPair, apply,
    fit::unit_corner,
    solve::{Mapping, parameter_jacobian},
};
use crate::board::Face;

/// Half lengths of the search along the normals, pass by pass, pixels. The first is what pairs clicked in a hurry are off.
const REACH_PX: [f64; 5] = [6.0, 4.0, 2.5, 2.0, 2.0];
/// A refinement that moves the outline further than this is no refinement, pixels.
const MOST_MOVED_PX: f64 = 8.0;
/// Fewer samples with an edge carry no answer.
const LEAST_SAMPLES: usize = 60;
/// An edge must stand out of the picture's usual gradient by this factor.
const EDGE_FACTOR: f64 = 3.0;
/// Neighbouring samples see the same edge through the lens's blur: so many count as one.
const CORRELATED_SAMPLES: f64 = 4.0;
/// Drawings are off by this, part by part, millimetres (the drawing error that suspects assume too).
const DRAWING_MM: f64 = 0.1;
/// A pair that ends up this many standard deviations from where it was clicked contradicts the edges.
const MOST_PAIR_SIGMA: f64 = 5.0;
/// The mean gradient on the edges must grow by this share, or nothing was gained.
const LEAST_GAIN: f64 = 0.005;

/// An edge counts for no more than this many usual ones: a few glaring edges are not the whole board.
const GLARING: f64 = 3.0;
/// Around the answer, places on a grid of this step and half width are tried too, pixels and steps.
const AWAY_STEP_PX: f64 = 2.0;
const AWAY_STEPS: i32 = 8;

/// What a refinement did.
#[derive(Clone, Debug, PartialEq)]
pub struct Refined {
    /// The mapping on the edges; its covariance holds both pairs and edges.
    pub alignment: Alignment,
    /// Largest movement of an outline corner, pixels.
    pub moved_px: f64,
    /// The same in millimetres.
    pub moved_mm: f64,
    /// Mean gradient across the drawing's edges before and after, in units of the picture's usual gradient.
    pub contrast: [f64; 2],
    /// Samples that found an edge, of all in the picture.
    pub samples: [usize; 2],
    /// Root mean square distance of the found edges from the drawing's, pixels.
    pub rms_px: f64,
}

/// Why a refinement was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RefineError {
    /// No pairs to start from.
    #[error("there are no point pairs to start from: set at least two")]
    NoPairs,
    /// The picture hardly shows the drawing's edges.
    #[error(
        "the picture shows the drawing's edges in {found} of {all} places only: draw more parts, or add point pairs"
    )]
    TooFewEdges {
        /// Samples with an edge.
        found: usize,
        /// Samples in the picture.
        all: usize,
    },
    /// It would move too far.
    #[error("the edges ask for a move by {0:.1} px, too far for a refinement: check the point pairs")]
    TooFar(f64),
    /// It does not follow the edges better.
    #[error("the drawing follows the picture's edges no better than before: the point pairs stand")]
    NoBetter,
    /// A pair is far off afterwards; counted from 0.
    #[error("the edges contradict point pair {} by {px:.1} px: check that pair", .pair + 1)]
    Contradicts {
        /// The pair, counted from 0.
        pair: usize,
        /// Its distance.
        px: f64,
    },
}

impl Alignment {
    /// Refines this alignment, which was fitted to `pairs`, on the edges of `face` in the picture before injection
    /// (`[row, column]`, any unit; pixels that are not a number are left out).
    ///
    /// # Errors
    /// [`RefineError`]: nothing changes then.
    pub fn refine(
        &self,
        pairs: &[PointPair],
        face: &Face,
        before: ArrayView2<'_, f32>,
    ) -> Result<Refined, RefineError> {
        if pairs.is_empty() || self.parameter_covariance.is_empty() {
            return Err(RefineError::NoPairs);
        }
        let picture = Picture::of(before);
        let samples = samples(face, self, &picture);
        let start = self.as_mapping();
        let mut state = start.clone();
        let mut solved = None;
        for reach_px in REACH_PX {
            let found = self.found(&state, &samples, &picture, reach_px);
            if found.len() < LEAST_SAMPLES.max(samples.len() / 5) {
                return Err(RefineError::TooFewEdges { found: found.len(), all: samples.len() });
            }
            let Some(step) = self.step(&start, &state, &found) else { return Err(RefineError::NoBetter) };
            state.theta += &step.change;
            let mut strengths: Vec<f64> = found.iter().map(|f| f.strength).collect();
            let middle = strengths.len() / 2;
            let usual = *strengths.select_nth_unstable_by(middle, f64::total_cmp).1;
            solved = Some((step, found.len(), GLARING * usual));
        }
        let Some((step, found, cap)) = solved else { return Err(RefineError::NoBetter) };
        let alignment = self.with_mapping(&state, step.covariance, pairs).ok_or(RefineError::NoBetter)?;
        let moved = |p: &[f64; 2]| {
            let p = Point2::new(p[0], p[1]);
            let (old, new) = (self.to_image(p), alignment.to_image(p));
            ((new - old).norm(), (alignment.to_board(old) - p).norm())
        };
        let (moved_px, moved_mm) =
            face.outline.iter().map(moved).fold((0.0, 0.0), |(a, b): (f64, f64), (c, d)| (a.max(c), b.max(d)));
        if !moved_px.is_finite() || moved_px > MOST_MOVED_PX {
            return Err(RefineError::TooFar(moved_px));
        }
        let worst = alignment.residuals_px.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((pair, px)) = worst.filter(|(_, px)| *px > MOST_PAIR_SIGMA * self.pair_sigma_px) {
            return Err(RefineError::Contradicts { pair, px });
        }
        let none = Vector2::zeros();
        let contrast = [&start, &state].map(|m| self.contrast(m, none, cap, &samples, &picture));
        if let Some(away_px) = self.better_away(&state, cap, contrast[1], &samples, &picture) {
            return Err(RefineError::TooFar(away_px));
        }
        if contrast[1] < contrast[0] * (1.0 + LEAST_GAIN) {
            return Err(RefineError::NoBetter);
        }
        Ok(Refined { alignment, moved_px, moved_mm, contrast, samples: [found, samples.len()], rms_px: step.rms_px })
    }

    fn as_mapping(&self) -> Mapping {
        let to_scaled = self.scaling.from_board.try_inverse().unwrap_or_else(Matrix3::identity);
        let m = unit_corner(self.scaling.from_image * self.image_from_board * to_scaled);
        let theta = match self.kind {
            AlignmentKind::Similarity => vec![m[(0, 0)], m[(1, 0)], m[(0, 2)], m[(1, 2)]],
            AlignmentKind::Affine => vec![m[(0, 0)], m[(0, 1)], m[(0, 2)], m[(1, 0)], m[(1, 1)], m[(1, 2)]],
            AlignmentKind::Homography => {
                let rows = [m[(0, 0)], m[(0, 1)], m[(0, 2)], m[(1, 0)], m[(1, 1)], m[(1, 2)], m[(2, 0)], m[(2, 1)]];
                rows.to_vec()
            }
        };
        Mapping { kind: self.kind, theta: DVector::from_vec(theta) }
    }

    /// Where a mapping puts a face point, pixels.
    fn seen(&self, mapping: &Matrix3<f64>, at: Point2<f64>) -> Point2<f64> {
        let scaled = apply(mapping, apply(&self.scaling.from_board, at));
        let s = &self.scaling.from_image;
        Point2::new((scaled.x - s[(0, 2)]) / s[(0, 0)], (scaled.y - s[(1, 2)]) / s[(1, 1)])
    }

    /// Edges found along the normals of the samples.
    fn found<'a>(&self, state: &Mapping, samples: &'a [Sample], picture: &Picture, reach_px: f64) -> Vec<Found<'a>> {
        let m = state.matrix();
        let found = samples.iter().filter_map(|sample| {
            let at = self.seen(&m, sample.at_mm);
            let normal = (self.seen(&m, sample.beside_mm) - at).try_normalize(1e-9)?;
            let (offset_px, strength) = picture.strongest(at, normal, reach_px)?;
            (strength > EDGE_FACTOR).then_some(Found { sample, normal, offset_px, strength })
        });
        found.collect()
    }

    /// One step of robust least squares, the pairs' covariance about the start as prior.
    fn step(&self, start: &Mapping, state: &Mapping, found: &[Found<'_>]) -> Option<Step> {
        let n = state.theta.len();
        let per_px = self.scaling.per_px();
        let matrix = state.matrix();
        let prior = self.parameter_covariance.clone().cholesky()?.inverse();
        let mut sizes: Vec<f64> = found.iter().map(|f| f.offset_px.abs()).collect();
        let middle = sizes.len() / 2;
        let spread_px = (1.4826 * *sizes.select_nth_unstable_by(middle, f64::total_cmp).1).max(0.3);
        let mut normal_matrix = DMatrix::zeros(n, n);
        let mut right = DVector::zeros(n);
        let (mut squares, mut weights) = (0.0, 0.0);
        let mut rows = DMatrix::zeros(2, n);
        for f in found {
            parameter_jacobian(state.kind, &matrix, apply(&self.scaling.from_board, f.sample.at_mm), &mut rows, 0);
            let row = (rows.row(0) * f.normal.x + rows.row(1) * f.normal.y) / per_px;
            let drawing_px = DRAWING_MM * f.sample.px_per_mm;
            let variance = (spread_px.powi(2) + drawing_px.powi(2)) * CORRELATED_SAMPLES;
            // Cauchy's weight for edges that belong to something else; clear edges count for more than faint ones.
            let robust = 1.0 / (1.0 + (f.offset_px / (2.0 * spread_px)).powi(2));
            let weight = robust * (f.strength / (f.strength + 2.0 * EDGE_FACTOR));
            squares += weight * f.offset_px.powi(2);
            weights += weight;
            let w = weight / variance;
            normal_matrix += row.transpose() * &row * w;
            right += row.transpose() * (w * f.offset_px);
        }
        right -= &prior * (&state.theta - &start.theta);
        let covariance = (normal_matrix + prior).cholesky()?.inverse();
        let change = &covariance * right;
        Some(Step { change, covariance, rms_px: (squares / weights).sqrt() })
    }

    /// How far away, on a grid around the answer, the drawing would follow the edges better than it does there.
    fn better_away(&self, state: &Mapping, cap: f64, here: f64, samples: &[Sample], picture: &Picture) -> Option<f64> {
        let places = (-AWAY_STEPS..=AWAY_STEPS).flat_map(|i| (-AWAY_STEPS..=AWAY_STEPS).map(move |j| (i, j)));
        places
            .map(|(i, j)| Vector2::new(f64::from(i), f64::from(j)) * AWAY_STEP_PX)
            .filter(|shift| shift.norm() >= 2.0 * AWAY_STEP_PX)
            .map(|shift| (self.contrast(state, shift, cap, samples, picture), shift.norm()))
            .filter(|(there, _)| *there > here)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, px)| px)
    }

    /// Mean gradient across the edges, shifted in the picture, in units of the picture's usual one.
    fn contrast(
        &self,
        mapping: &Mapping,
        shift_px: Vector2<f64>,
        cap: f64,
        samples: &[Sample],
        picture: &Picture,
    ) -> f64 {
        let m = mapping.matrix();
        let (mut sum, mut count) = (0.0, 0);
        for sample in samples {
            let at = self.seen(&m, sample.at_mm);
            let Some(normal) = (self.seen(&m, sample.beside_mm) - at).try_normalize(1e-9) else { continue };
            if let Some(gradient) = picture.across(at + shift_px, normal) {
                sum += gradient.abs().min(cap);
                count += 1;
            }
        }
        sum / f64::from(count.max(1))
    }

    fn with_mapping(&self, mapping: &Mapping, covariance: DMatrix<f64>, pairs: &[PointPair]) -> Option<Self> {
        let to_px = self.scaling.from_image.try_inverse()?;
        let image_from_board = unit_corner(to_px * mapping.matrix() * self.scaling.from_board);
        self.with_matrix(image_from_board, covariance, pairs)
    }

    /// This alignment with another mapping, its residuals counted anew; `None` where that one folds or mirrors.
    pub(super) fn with_matrix(
        &self,
        image_from_board: Matrix3<f64>,
        covariance: DMatrix<f64>,
        pairs: &[PointPair],
    ) -> Option<Self> {
        let board_from_image = unit_corner(image_from_board.try_inverse()?);
        // The scalings are of positive determinant, so the sign is that of the mapping between scaled points.
        if image_from_board.iter().any(|v| !v.is_finite()) || image_from_board.determinant() <= 0.0 {
            return None;
        }
        let image = |p: &PointPair| Point2::new(p.x_px, p.y_px);
        let board = |p: &PointPair| Point2::new(p.x_mm, p.y_mm);
        Some(Self {
            image_from_board,
            board_from_image,
            parameter_covariance: covariance,
            residuals_px: pairs.iter().map(|p| (apply(&image_from_board, board(p)) - image(p)).norm()).collect(),
            residuals_mm: pairs.iter().map(|p| (apply(&board_from_image, image(p)) - board(p)).norm()).collect(),
            ..self.clone()
        })
    }
}

struct Found<'a> {
    sample: &'a Sample,
    normal: Vector2<f64>,
    offset_px: f64,
    strength: f64,
}

struct Step {
    change: DVector<f64>,
    covariance: DMatrix<f64>,
    rms_px: f64,
}
