//! What one hot spot says about who is its source: for each part near it, how much better that part alone explains the
//! places around the spot than nothing does.
//!
//! The drawing lies on the picture only to within the alignment's error and its own, so every hypothesis may move: sums of
//! squares at nine places are smoothed by a paraboloid, which is integrated with the error's Gaussian in closed form (Laplace). What the
//! templates cannot do is in the weights of the places, and what is left of it widens the noise, so that a misfit does not make
//! for certainty.

use nalgebra::{DMatrix, DVector, Matrix2, Vector2, Vector6};
use rayon::prelude::*;

use super::{
    LedgerInput,
    candidates::{Candidate, Place},
    equations::{Equations, Reduced},
    geometry::Spread,
    looks::{Column, Kernels, Look, Tables},
    pairs,
    samples::Sample,
    surface::Surface,
    templates::{Optics, Templates},
    weights::Whitener,
};
use crate::{
    HotSpot,
    board::{Face, Footprint, Part},
    plate::ThinPlate,
    suspect::pairs::mean_over_shares,
};

/// Places within this distance of the spot count, or this many pixels.
const AROUND_MM: f64 = 3.5;
const AROUND_PX: f64 = 7.0;
/// Fewer places than this around a spot say nothing.
const LEAST_PLACES: usize = 12;
/// Images further away than this do not matter.
const REACH_MM: f64 = 25.0;
/// Parts within this distance of the spot are hypotheses.
const WITHIN_MM: f64 = 4.0;
const MOST_PARTS: usize = 14;
/// Drawings and placements are right to about this much: common practice, no published source.
const DRAWING_MM: f64 = 0.1;
/// Something off the drawing looks like a part of this size.
const UNDRAWN_MM: (f64, f64) = (1.2, 0.8);
/// Heat spreads unevenly (copper, edges), which pulls the seen centre by about this share of the spot's size, as in
/// [`crate::suspect`]: common practice, no published source.
const PULL_SHARE: f64 = 0.12;
/// Share of cases in which something else is wrong (a bad pair, a moved board), and by what factor the place is then less
/// certain.
const GROSS_SHARE: f64 = 0.05;
const GROSS_FACTOR: f64 = 3.0;
/// Neighbouring places share their misfit, so that this many of them count as one where misfit rules; pixel noise they do not
/// share. Found on simulated boards.
const SHARED: f64 = 12.0;
/// A part looks bare when that makes this much difference to its logarithm of the likelihood, and takes this share of its watts.
const BARE_GAIN: f64 = 1.0;
const BARE_SHARE: f64 = 0.75;
/// A level of this size, in units of a frame's noise, is free around each spot: what other sources do there is not what is asked.
const LEVEL: f64 = 1000.0;

/// The evidence of one hot spot.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct SpotEvidence {
    /// Best first.
    pub(crate) parts: Vec<PartEvidence>,
    /// The same for two parts together.
    pub(crate) pairs: Vec<PairEvidence>,
    /// The same for something off the drawing that may lie anywhere on the board with equal density.
    pub(crate) off_drawing: f64,
}

/// The evidence for two parts that make a spot together.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PairEvidence {
    pub(crate) parts: [String; 2],
    /// As for one part, averaged over the shares of the two.
    pub(crate) log_gain: f64,
}

impl SpotEvidence {
    /// Logarithm of how much better the best source explains the spot than nothing does; `None` where nothing was fitted.
    pub(crate) fn best_gain(&self) -> Option<f64> {
        (!self.parts.is_empty()).then(|| self.parts.iter().map(|p| p.log_gain).fold(self.off_drawing, f64::max))
    }
}

/// The evidence for one part.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct PartEvidence {
    pub(crate) part: String,
    pub(crate) face: String,
    /// Natural logarithm of the likelihood of the places around the spot if this part alone is the source, over that if nothing
    /// is; the drawing's error is integrated over. Differences are logarithms of Bayes factors.
    pub(crate) log_gain: f64,
    /// Watts that it would take.
    pub(crate) watts: f64,
    /// Whether it looks like bare metal: cool itself in the warmth around it.
    pub(crate) looks_bare: bool,
    /// How far the drawing has to move for it, in millimetres.
    pub(crate) shift_mm: Vector2<f64>,
}

/// The joint solution, and what it was made from.
pub(super) struct Found<'a> {
    pub(super) samples: &'a [Sample],
    pub(super) candidates: &'a [Candidate<'a>],
    pub(super) columns: &'a [Column],
    /// Per column.
    pub(super) watts: DVector<f64>,
    pub(super) plate: ThinPlate,
}

/// One entry per hot spot, in their order.
pub(super) fn evidence(
    input: &LedgerInput<'_>,
    face: &Face,
    kernels: &Kernels,
    optics: Optics,
    found: &Found<'_>,
) -> Vec<SpotEvidence> {
    // Only what is near counts, and a level is free: distant images do not matter.
    let optics = Optics { reach_mm: optics.reach_mm.min(REACH_MM), ..optics };
    let tables = kernels.tables(&found.plate, &optics);
    input
        .hot_spots
        .iter()
        .map(|spot| {
            let mm_per_px = input.scene.alignment.mm_per_px(spot.centre_px);
            let around_mm = AROUND_MM.max(AROUND_PX * mm_per_px);
            let mut places: Vec<Sample> = found
                .samples
                .iter()
                .filter(|s| s.on_board && (s.at_mm - spot.centre_mm).norm() <= around_mm)
                .cloned()
                .collect();
            if places.len() < LEAST_PLACES {
                return SpotEvidence::default();
            }
            take_off_others(&mut places, spot, face, &tables, optics, found);
            let hypotheses = hypotheses(spot, found.candidates, optics);
            of_spot(input, face, spot, &places, &hypotheses, &tables, optics)
        })
        .collect()
}

/// Takes off what sources well away from the spot do.
fn take_off_others(
    places: &mut [Sample],
    spot: &HotSpot,
    face: &Face,
    tables: &Tables<'_>,
    optics: Optics,
    found: &Found<'_>,
) {
    let far = |c: &Candidate<'_>| {
        c.footprint.map_or((c.spread.centre_mm - spot.centre_mm).norm(), |f| f.distance_mm(spot.centre_mm)) > WITHIN_MM
    };
    let others: Vec<(&Candidate<'_>, Column, f64)> = found
        .columns
        .iter()
        .zip(found.watts.iter())
        .map(|(column, watts)| (&found.candidates[column.candidate], *column, *watts))
        .filter(|(c, _, watts)| *watts > 0.0 && far(c))
        .collect();
    for (candidate, column, watts) in others {
        let alone = [candidate.clone()];
        let templates = Templates::new(face, &alone, places, optics);
        let Some(same) = templates.columns.iter().position(|c| c.look == column.look) else { continue };
        let seen = templates.build(tables, &[same]);
        let m = places.first().map_or(0, |p| p.seen.len());
        for (i, place) in places.iter_mut().enumerate() {
            for (k, value) in place.seen.iter_mut().enumerate() {
                *value -= watts * seen[(0, i * m + k)];
            }
        }
    }
}

/// Parts near the spot, and last something off the drawing at the spot itself.
fn hypotheses<'a>(spot: &HotSpot, candidates: &[Candidate<'a>], optics: Optics) -> Vec<Candidate<'a>> {
    let mut near: Vec<(f64, Candidate<'a>)> = candidates
        .iter()
        .filter_map(|c| Some((c.footprint?.distance_mm(spot.centre_mm), c.clone())))
        .filter(|(distance_mm, _)| *distance_mm <= WITHIN_MM)
        .map(|(distance_mm, mut c)| {
            if c.place == Place::Far {
                c.place = Place::Near;
            }
            (distance_mm, c)
        })
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    near.truncate(MOST_PARTS);
    let undrawn = Footprint::from(&Part {
        x_mm: spot.centre_mm.x,
        y_mm: spot.centre_mm.y,
        width_mm: UNDRAWN_MM.0,
        height_mm: UNDRAWN_MM.1,
        ..Part::default()
    });
    let mut found: Vec<Candidate<'a>> = near.into_iter().map(|(_, c)| c).collect();
    found.push(Candidate {
        part: None,
        face: "",
        place: Place::Near,
        spread: Spread::of_footprint(&undrawn, optics.pitch_mm),
        footprint: Some(undrawn),
        on_rail: false,
    });
    found
}

/// Offsets at which the drawing is tried, in steps.
const OFFSETS: [(f64, f64); 9] =
    [(0.0, 0.0), (1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)];

fn of_spot(
    input: &LedgerInput<'_>,
    face: &Face,
    spot: &HotSpot,
    places: &[Sample],
    hypotheses: &[Candidate<'_>],
    tables: &Tables<'_>,
    optics: Optics,
) -> SpotEvidence {
    let pull_mm = PULL_SHARE * spot.scale_px * input.scene.alignment.mm_per_px(spot.centre_px);
    let drawing = input.scene.alignment.covariance_mm2(spot.centre_px)
        + Matrix2::identity() * (DRAWING_MM.powi(2) + pull_mm.powi(2));
    let step_mm = 1.5 * (drawing.trace() / 2.0).sqrt();
    let level_sd = LEVEL * f64::from(input.noise.typical) * (input.model.vectors.nrows() as f64).sqrt();
    // One set of weights for all offsets, or offsets would compete by what they do not look at.
    let whiteners: Vec<Whitener> = places
        .iter()
        .zip(&Surface::new(face, places, optics.sigma_mm).unsure)
        .map(|(s, unsure)| Whitener::new(input, s, *unsure))
        .collect();
    let pairs = pairs::pairs(hypotheses, &face.name, spot, input.scene.alignment.mm_per_px(spot.centre_px));
    let tried: Vec<(f64, Vec<Tried>, Vec<pairs::Squares>)> = OFFSETS
        .par_iter()
        .map(|(x, y)| {
            let offset = Vector2::new(*x, *y) * step_mm;
            // Moving the drawing one way is moving the places the other.
            let moved: Vec<Sample> = places.iter().map(|p| Sample { at_mm: p.at_mm - offset, ..p.clone() }).collect();
            let templates = Templates::new(face, hypotheses, &moved, optics);
            let every: Vec<usize> = (0..templates.columns.len()).collect();
            let reduced = Equations::new(&templates.build(tables, &every), &moved, &whiteners, level_sd).reduced(None);
            let fits: Vec<Tried> = (0..hypotheses.len()).map(|h| Tried::new(&reduced, &templates.columns, h)).collect();
            let of_pairs =
                pairs.iter().map(|[a, b]| pairs::squares(&reduced, [&fits[*a].watts, &fits[*b].watts])).collect();
            (reduced.square, fits, of_pairs)
        })
        .collect();
    let nothing = tried[0].0;
    let (tried, tried_pairs): (Vec<Vec<Tried>>, Vec<Vec<pairs::Squares>>) =
        tried.into_iter().map(|t| (t.1, t.2)).unzip();
    let rows = (places.len() * places.first().map_or(0, |p| p.seen.len())).max(1) as f64;
    let least = tried.iter().flatten().map(|t| t.chi_square).fold(f64::INFINITY, f64::min);
    let misfit = whiteners.iter().map(Whitener::misfit_share).sum::<f64>() / whiteners.len().max(1) as f64;
    let variance = (1.0 + (SHARED - 1.0) * misfit) * (least / rows).max(1.0);
    let bowl = |squares: &mut dyn Iterator<Item = f64>| {
        Bowl::through(&squares.map(|square| (nothing - square) / (2.0 * variance)).collect::<Vec<_>>(), step_mm)
    };
    let bowls: Vec<Bowl> = (0..hypotheses.len()).map(|h| bowl(&mut tried.iter().map(|t| t[h].chi_square))).collect();
    // With the drawing's error integrated over, gross errors included.
    let gain = |bowl: &Bowl| {
        let (usual, shift_mm) = bowl.integrated(&drawing, 1.5 * step_mm);
        let (gross, _) = bowl.integrated(&(drawing * GROSS_FACTOR.powi(2)), 3.0 * step_mm);
        let (usual, gross) = (usual + (1.0 - GROSS_SHARE).ln(), gross + GROSS_SHARE.ln());
        (usual.max(gross) + (-(usual - gross).abs()).exp().ln_1p(), shift_mm)
    };
    let mut parts: Vec<PartEvidence> = hypotheses
        .iter()
        .zip(&bowls)
        .enumerate()
        .filter_map(|(h, (candidate, bowl))| {
            let (log_gain, shift_mm) = gain(bowl);
            Some(PartEvidence {
                part: candidate.part?.designator.clone(),
                face: candidate.face.to_owned(),
                log_gain,
                watts: tried[0][h].watts.sum(),
                looks_bare: tried[0][h].bare_share > BARE_SHARE
                    && (tried[0][h].covered - tried[0][h].chi_square) / (2.0 * variance) > BARE_GAIN,
                shift_mm,
            })
        })
        .collect();
    parts.sort_by(|a, b| b.log_gain.total_cmp(&a.log_gain));
    let off_drawing =
        bowls.last().map_or(f64::NEG_INFINITY, |b| b.anywhere(face.outline_area_mm2().max(1.0), 1.5 * step_mm));
    let name = |h: usize| hypotheses[h].part.map(|p| p.designator.clone()).unwrap_or_default();
    let pairs = pairs.iter().enumerate().map(|(i, parts)| {
        let gains = std::array::from_fn(|share| gain(&bowl(&mut tried_pairs.iter().map(|t| t[i][share]))).0);
        PairEvidence { parts: parts.map(name), log_gain: mean_over_shares(gains) }
    });
    SpotEvidence { parts, pairs: pairs.collect(), off_drawing }
}

/// The fit of one hypothesis alone.
struct Tried {
    chi_square: f64,
    /// Per column.
    watts: DVector<f64>,
    /// Share of the watts under bare metal.
    bare_share: f64,
    /// Sum of squares if it may not be bare metal.
    covered: f64,
}

impl Tried {
    fn new(reduced: &Reduced, columns: &[Column], hypothesis: usize) -> Self {
        let own: Vec<usize> = (0..columns.len()).filter(|c| columns[*c].candidate == hypothesis).collect();
        let is_bare = |c: &usize| matches!(columns[*c].look, Look::BareMetal { .. });
        let covered: Vec<usize> = own.iter().copied().filter(|c| !is_bare(c)).collect();
        let solution = reduced.solve_among(&own);
        let bare: f64 = own.iter().filter(|c| is_bare(c)).map(|c| solution.watts[*c]).sum();
        Self {
            chi_square: solution.chi_square,
            bare_share: bare / solution.watts.sum().max(f64::MIN_POSITIVE),
            watts: solution.watts,
            covered: reduced.solve_among(&covered).chi_square,
        }
    }
}

/// A logarithm of a likelihood over offsets: `top + slope . x - x' curvature x / 2`.
#[derive(Clone, Copy, Debug)]
struct Bowl {
    middle: f64,
    slope: Vector2<f64>,
    curvature: Matrix2<f64>,
}

impl Bowl {
    /// Least squares through the values at [`OFFSETS`].
    fn through(values: &[f64], step_mm: f64) -> Self {
        let design = DMatrix::from_fn(OFFSETS.len(), 6, |i, j| {
            let (x, y) = (OFFSETS[i].0 * step_mm, OFFSETS[i].1 * step_mm);
            Vector6::new(1.0, x, y, -x * x / 2.0, -x * y, -y * y / 2.0)[j]
        });
        let normal = design.tr_mul(&design);
        let right = design.tr_mul(&DVector::from_column_slice(values));
        let Some(found) = normal.cholesky().map(|factor| factor.solve(&right)) else {
            return Self { middle: values[0], slope: Vector2::zeros(), curvature: Matrix2::zeros() };
        };
        // A saddle is flattened: the integral must exist.
        let eigen = Matrix2::new(found[3], found[4], found[4], found[5]).symmetric_eigen();
        let curvature = eigen.eigenvectors
            * Matrix2::from_diagonal(&eigen.eigenvalues.map(|v| v.max(0.0)))
            * eigen.eigenvectors.transpose();
        Self { middle: found[0], slope: Vector2::new(found[1], found[2]), curvature }
    }

    /// Logarithm of the mean likelihood under a Gaussian of offsets, and the most probable offset; not beyond `reach_mm`, where the
    /// paraboloid is a guess.
    fn integrated(&self, covariance: &Matrix2<f64>, reach_mm: f64) -> (f64, Vector2<f64>) {
        let Some(prior) = covariance.try_inverse() else { return (self.middle, Vector2::zeros()) };
        let Some(posterior) = (prior + self.curvature).try_inverse() else { return (self.middle, Vector2::zeros()) };
        let best = posterior * self.slope;
        let at = best * (reach_mm / best.norm().max(f64::MIN_POSITIVE)).min(1.0);
        let spread = (Matrix2::identity() + covariance * self.curvature).determinant().max(f64::MIN_POSITIVE);
        let value = self.middle + self.slope.dot(&at) - 0.5 * at.dot(&((prior + self.curvature) * at));
        (value - 0.5 * spread.ln(), at)
    }

    /// Logarithm of the mean likelihood over an area, of which the part within `reach_mm` counts.
    fn anywhere(&self, area_mm2: f64, reach_mm: f64) -> f64 {
        let prior = Matrix2::identity() * reach_mm.powi(2);
        let (mean, _) = self.integrated(&prior, reach_mm);
        mean + (std::f64::consts::TAU * reach_mm.powi(2) / area_mm2).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gaussian_is_integrated_exactly() {
        let (step, slope, curvature) = (0.2, Vector2::new(3.0, -1.0), Matrix2::new(40.0, 5.0, 5.0, 20.0));
        let values: Vec<f64> = OFFSETS
            .iter()
            .map(|o| {
                let x = Vector2::new(o.0, o.1) * step;
                7.0 + slope.dot(&x) - 0.5 * x.dot(&(curvature * x))
            })
            .collect();
        let bowl = Bowl::through(&values, step);
        let covariance = Matrix2::new(0.04, 0.01, 0.01, 0.09);
        // By brute force, to its own accuracy: 1e-4 in the logarithm.
        let inverse = covariance.try_inverse().unwrap();
        let (mut sum, mut weight) = (0.0, 0.0);
        for i in -300..=300 {
            for j in -300..=300 {
                let x = Vector2::new(f64::from(i), f64::from(j)) * 0.005;
                let w = (-0.5 * x.dot(&(inverse * x))).exp();
                sum += w * (slope.dot(&x) - 0.5 * x.dot(&(curvature * x))).exp();
                weight += w;
            }
        }
        let (found, _) = bowl.integrated(&covariance, f64::INFINITY);
        assert!((found - 7.0 - (sum / weight).ln()).abs() < 1e-4, "{found}");
    }
}
