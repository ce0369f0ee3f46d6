//! Two parts that make one spot between them.
//!
//! The hypothesis of a pair says that both make heat, the first one some share of it. Shares are tried at equal weights, so
//! a pair pays for its freedom by itself.

use nalgebra::{Matrix2, Point2};

use super::{
    Hypothesis,
    position::{self, Blur},
};
use crate::{HotSpot, board::Footprint};

/// Shares of the first part in the heat of both that stand for all of them. A part that makes less than a tenth of a spot's heat
/// is not called its source.
pub(crate) const SHARES: [f64; 5] = [0.1, 0.3, 0.5, 0.7, 0.9];
/// Share of faulty parts whose neighbour has gone with them, by the same spill, bend or surge: common practice, no published source.
const WITH_NEIGHBOUR: f64 = 0.02;
/// Two equal Gaussians have one top between them while their centres are no further apart than this many standard deviations
/// (Behboodian, Technometrics 12 (1970) 131).
const ONE_TOP: f64 = 2.0;

/// Parts nearest to a spot that may form pairs; six make fifteen.
pub(crate) const MOST_PARTS: usize = 6;

/// Pairs of hypotheses, as indices: parts in the picture that the current can reach and whose heat runs into one spot.
pub(super) fn pairs(hypotheses: &[Hypothesis<'_>], face: &str, spot: &HotSpot, mm_per_px: f64) -> Vec<[usize; 2]> {
    let may = |h: &Hypothesis<'_>| h.evidence.on_rail && h.face.name == face;
    let mut near: Vec<usize> = (0..hypotheses.len()).filter(|h| may(&hypotheses[*h])).collect();
    let distance_mm = |h: &usize| hypotheses[*h].evidence.distance_mm;
    near.sort_by(|a, b| distance_mm(a).total_cmp(&distance_mm(b)));
    near.truncate(MOST_PARTS);
    let one_spot = |[a, b]: &[usize; 2]| {
        let footprint = |h: usize| Footprint::from(hypotheses[h].part);
        make_one_spot(&footprint(*a), &footprint(*b), spot, mm_per_px)
    };
    let every = near.iter().enumerate().flat_map(|(i, &a)| near[i + 1..].iter().map(move |&b| [a, b]));
    every.filter(one_spot).collect()
}

/// Whether the heat of two parts would run into one spot of this size.
pub(crate) fn make_one_spot(a: &Footprint, b: &Footprint, spot: &HotSpot, mm_per_px: f64) -> bool {
    (a.centre_mm - b.centre_mm).norm() <= ONE_TOP * spot.scale_px * mm_per_px
}

/// Prior of each pair from those of its parts: either may have gone first and taken one of its neighbours with it.
pub(super) fn priors(pairs: &[[usize; 2]], of_part: impl Fn(usize) -> f64) -> Vec<f64> {
    let neighbours = |part: usize| pairs.iter().filter(|pair| pair.contains(&part)).count().max(1) as f64;
    pairs.iter().map(|pair| pair.map(|part| WITH_NEIGHBOUR * of_part(part) / neighbours(part)).iter().sum()).collect()
}

/// Density of the seen centre, per square millimetre: the centre of both heats, uniform over each footprint, as one Gaussian.
pub(super) fn density_per_mm2(a: &Footprint, b: &Footprint, centre: Point2<f64>, blur: &Blur) -> f64 {
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
pub(crate) fn mean_over_shares(logs: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = logs.clone().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + (logs.map(|log| (log - most).exp()).sum::<f64>() / SHARES.len() as f64).ln()
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
        let mean = mean_over_shares(values.iter().map(|v| v.ln() + 800.0));
        assert!((mean - 800.0 - 3.0_f64.ln()).abs() < 1e-12);
        assert_eq!(mean_over_shares([f64::NEG_INFINITY; 5].into_iter()), f64::NEG_INFINITY);
    }
}
