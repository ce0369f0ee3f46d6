//! Two parts near a spot as its sources together: their templates mixed at some shares, the watts of the mixture free.
//!
//! With one free number, as a single part has, sums of squares compare as they are; the shares are averaged over.

use nalgebra::DVector;

use super::{candidates::Candidate, equations::Reduced};
use crate::{
    HotSpot,
    suspect::pairs::{SHARES, of_one_spot},
};

/// Pairs of hypotheses, as indices: parts of the face in the picture that the current can reach. `hypotheses` come nearest first.
pub(super) fn pairs(hypotheses: &[Candidate<'_>], face: &str, spot: &HotSpot, mm_per_px: f64) -> Vec<[usize; 2]> {
    let reached = hypotheses.iter().enumerate().filter(|(_, c)| c.part.is_some() && c.on_rail && c.face == face);
    of_one_spot(reached.filter_map(|(h, c)| Some((h, c.footprint?))), spot, mm_per_px)
}

/// Sums of squares of one pair, at each of [`SHARES`].
pub(super) type Squares = [f64; SHARES.len()];

/// Sums of squares that a pair leaves at each of [`SHARES`]. `watts` are those of either part alone, per column.
pub(super) fn squares(reduced: &Reduced, [a, b]: [&DVector<f64>; 2]) -> Squares {
    let looks = |watts: &DVector<f64>| watts / watts.sum().max(f64::MIN_POSITIVE);
    let (a, b) = (looks(a), looks(b));
    SHARES.map(|share| {
        let mixed = &a * share + &b * (1.0 - share);
        let length = mixed.dot(&(&reduced.gram * &mixed));
        let along = reduced.moment.dot(&mixed).max(0.0);
        reduced.square - if length > 0.0 { along.powi(2) / length } else { 0.0 }
    })
}

#[cfg(test)]
mod tests {
    use nalgebra::DMatrix;

    use super::*;

    /// By hand: orthogonal templates of length one, seen at 3 and 1: the mixture at 0.7 and 0.3 explains
    /// (0.7 * 3 + 0.3 * 1)^2 / (0.49 + 0.09).
    #[test]
    fn a_mixture_by_hand() {
        let reduced = Reduced {
            gram: DMatrix::identity(2, 2),
            moment: DVector::from_vec(vec![3.0, 1.0]),
            square: 12.0,
            rows: 4.0,
        };
        let [a, b] = [vec![3.0, 0.0], vec![0.0, 1.0]].map(DVector::from_vec);
        let found = squares(&reduced, [&a, &b]);
        let best = SHARES.iter().position(|s| *s == 0.7).unwrap();
        assert!((found[best] - (12.0 - 2.4_f64.powi(2) / 0.58)).abs() < 1e-12, "{found:?}");
        assert!(found.iter().all(|square| *square >= found[best]));
    }
}
