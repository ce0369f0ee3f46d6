//! Two parts that make one spot between them.
//!
//! The hypothesis of a pair says that both make heat, the first one some share of it. Shares are tried at equal weights, so
//! a pair pays for its freedom by itself.

use nalgebra::{Matrix2, Point2};

use super::{
    Hypothesis,
    position::{self, Blur},
};
use crate::{HotSpot, PairOfSuspects, board::Footprint};

/// Shares of the first part in the heat of both that stand for all of them. A part that makes less than a tenth of a spot's heat
/// is not called its source.
pub(crate) const SHARES: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 0.9];
/// Share of faulty parts whose neighbour has gone with them, by the same spill, bend or surge: common practice, no published source.
const WITH_NEIGHBOUR: f64 = 0.02;
/// Two equal Gaussians have one top between them while their centres are no further apart than this many standard deviations
/// (Behboodian, Technometrics 12 (1970) 131).
const ONE_TOP: f64 = 2.0;

/// Parts nearest to a spot that may form pairs; six make fifteen.
const MOST_PARTS: usize = 6;

/// Two hypotheses, as indices, with what the position says of both together.
pub(super) struct Pair {
    pub(super) parts: [usize; 2],
    pub(super) prior: f64,
    /// Natural logarithm of the Bayes factor against anywhere on the board.
    pub(super) log_position: f64,
}

/// Pairs of the parts in the picture that the current can reach.
pub(super) fn pairs(
    hypotheses: &[Hypothesis<'_>],
    face: &str,
    spot: &HotSpot,
    mm_per_px: f64,
    (blur, board_density): (&Blur, f64),
) -> Vec<Pair> {
    let footprint = |h: usize| Footprint::from(hypotheses[h].part);
    let may = |h: &usize| hypotheses[*h].evidence.on_rail && hypotheses[*h].face.name == face;
    let mut near: Vec<usize> = (0..hypotheses.len()).filter(may).collect();
    let distance_mm = |h: &usize| hypotheses[*h].evidence.distance_mm;
    near.sort_by(|a, b| distance_mm(a).total_cmp(&distance_mm(b)));
    let found = of_one_spot(near.into_iter().map(|h| (h, footprint(h))), spot, mm_per_px);
    let priors = priors(&found, |h| hypotheses[h].evidence.prior);
    let pair = |(parts, prior): ([usize; 2], f64)| {
        let [a, b] = parts.map(footprint);
        let density = density_per_mm2(&a, &b, spot.centre_mm, blur);
        Pair { parts, prior, log_position: (density / board_density).max(f64::MIN_POSITIVE).ln() }
    };
    found.into_iter().zip(priors).map(pair).collect()
}

/// Of some footprints, nearest to the spot first, those two by two whose heat runs into one spot of its size.
pub(crate) fn of_one_spot(
    nearest_first: impl Iterator<Item = (usize, Footprint)>,
    spot: &HotSpot,
    mm_per_px: f64,
) -> Vec<[usize; 2]> {
    let near: Vec<(usize, Footprint)> = nearest_first.take(MOST_PARTS).collect();
    let most_mm = ONE_TOP * spot.scale_px * mm_per_px;
    let every = near.iter().enumerate().flat_map(|(i, a)| near[i + 1..].iter().map(move |b| (a, b)));
    every.filter(|(a, b)| (a.1.centre_mm - b.1.centre_mm).norm() <= most_mm).map(|(a, b)| [a.0, b.0]).collect()
}

/// Adds what pairs get to their parts, half to either: every part keeps one entry, and all sum to 1. Returns the pairs, most probable
/// first. `probabilities` are theirs.
pub(super) fn share_out(
    hypotheses: &mut [Hypothesis<'_>],
    pairs: &[Pair],
    probabilities: impl Iterator<Item = f64>,
) -> Vec<PairOfSuspects> {
    let mut shared: Vec<PairOfSuspects> = Vec::new();
    for (pair, probability) in pairs.iter().zip(probabilities) {
        for part in pair.parts {
            hypotheses[part].probability += probability / 2.0;
        }
        shared.push(PairOfSuspects { parts: pair.parts.map(|h| hypotheses[h].part.designator.clone()), probability });
    }
    shared.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    shared
}

/// Prior of each pair from those of its parts: either may have gone first and taken one of its neighbours with it.
fn priors(pairs: &[[usize; 2]], of_part: impl Fn(usize) -> f64) -> Vec<f64> {
    let neighbours = |part: usize| pairs.iter().filter(|pair| pair.contains(&part)).count().max(1) as f64;
    pairs.iter().map(|pair| pair.map(|part| WITH_NEIGHBOUR * of_part(part) / neighbours(part)).iter().sum()).collect()
}

/// Density of the seen centre, per square millimetre: the centre of both heats, uniform over each footprint, as one Gaussian.
fn density_per_mm2(a: &Footprint, b: &Footprint, centre: Point2<f64>, blur: &Blur) -> f64 {
    let density = |share: f64| {
        let middle = a.centre_mm + (b.centre_mm - a.centre_mm) * (1.0 - share);
        let spread = uniform(a) * share.powi(2) + uniform(b) * (1.0 - share).powi(2);
        position::gaussian_per_mm2(centre - middle, &spread, blur)
    };
    SHARES.iter().map(|share| density(*share)).sum::<f64>() / SHARES.len() as f64
}

/// Covariance of a uniform density over a footprint, in the board's axes.
fn uniform(footprint: &Footprint) -> Matrix2<f64> {
    let own = footprint.half_mm.map(|half| half.powi(2) / 3.0);
    footprint.board_covariance(Matrix2::from_diagonal(&own))
}

/// Logarithm of the mean over [`SHARES`], of logarithms.
pub(crate) fn mean_over_shares(logs: [f64; SHARES.len()]) -> f64 {
    let most = logs.into_iter().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + (logs.iter().map(|log| (log - most).exp()).sum::<f64>() / SHARES.len() as f64).ln()
}

#[cfg(test)]
mod tests {
    use nalgebra::Point2;

    use super::*;
    use crate::board::Part;

    fn part(x_mm: f64, rotation_deg: f64) -> Footprint {
        Footprint::from(&Part { x_mm, width_mm: 1.0, height_mm: 0.5, rotation_deg, ..Part::default() })
    }

    #[test]
    fn the_density_integrates_to_one() {
        let (a, b, blur) = (part(0.0, 30.0), part(1.4, 90.0), Blur::round(0.15));
        let step = 0.05;
        let sum: f64 = (-200..=200)
            .flat_map(|i| (-200..=200).map(move |j| Point2::new(f64::from(i) * step, f64::from(j) * step)))
            .map(|at| density_per_mm2(&a, &b, at, &blur) * step * step)
            .sum();
        // The midpoint rule over edges three steps wide and more.
        assert!((sum - 1.0).abs() < 1e-3, "{sum}");
    }

    #[test]
    fn between_two_parts_the_pair_is_denser_and_on_one_part_that_part() {
        let (a, b, blur) = (part(0.0, 90.0), part(1.4, 90.0), Blur::round(0.1));
        let alone =
            |at: Point2<f64>| position::density_per_mm2(&a, at, &blur).max(position::density_per_mm2(&b, at, &blur));
        let between = Point2::new(0.7, 0.0);
        assert!(density_per_mm2(&a, &b, between, &blur) > 10.0 * alone(between));
        assert!(density_per_mm2(&a, &b, a.centre_mm, &blur) < 0.5 * alone(a.centre_mm));
    }

    /// Part 1 shares what it takes along between two neighbours, the others have one each.
    #[test]
    fn a_part_takes_one_of_its_neighbours_along() {
        let of_part = [0.5, 0.3, 0.1];
        let found = priors(&[[0, 1], [1, 2]], |part| of_part[part]);
        let wanted = [0.5 + 0.15, 0.15 + 0.1].map(|share| share * WITH_NEIGHBOUR);
        assert!(found.iter().zip(wanted).all(|(found, wanted)| (found - wanted).abs() < 1e-15), "{found:?}");
    }

    #[test]
    fn the_mean_over_shares_is_that_of_the_values() {
        let values = [1.0_f64, 2.0, 3.0, 4.0, 5.0];
        let mean = mean_over_shares(values.map(|v| v.ln() + 800.0));
        assert!((mean - 800.0 - 3.0_f64.ln()).abs() < 1e-12);
        assert_eq!(mean_over_shares([f64::NEG_INFINITY; 5]), f64::NEG_INFINITY);
    }
}
