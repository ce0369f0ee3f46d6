//! Finds the one pair that spoils a fit.

use super::{
    AlignmentKind, PointPair,
    fit::{ASSUMED_CLICK_SIGMA_PX, ASSUMED_WEIGHT, Candidate, KINDS, candidate, click_variance_px2, score},
    solve::Scaling,
};

/// Probability of accusing a pair when all are good, under the assumed sigma.
const FALSE_ACCUSATION: f64 = 0.01;

/// How much more likely the accused pair must be than the next one.
const ODDS_TO_NEXT: f64 = 10.0;

/// Looks for the pair without which a mapping of the chosen kind, or of a simpler one, fits far better.
///
/// A simpler kind counts too, because four pairs of which one is wrong always fit a homography. It must then explain the
/// pairs better than the chosen kind does, at the price of two more parameters.
pub(super) fn suspicious_pair(chosen: &Candidate, pairs: &[PointPair]) -> Option<usize> {
    let kinds = KINDS.into_iter().rev().filter(|k| *k <= chosen.mapping.kind);
    kinds.filter_map(|kind| accused_under(kind, chosen, pairs)).next()
}

fn accused_under(kind: AlignmentKind, chosen: &Candidate, pairs: &[PointPair]) -> Option<usize> {
    let spare = (2 * pairs.len()).checked_sub(2 + kind.parameters())?;
    if spare < 2 {
        return None;
    }
    let all = candidate(kind, &Scaling::of(pairs), pairs).ok()?;
    let mut without: Vec<(usize, Candidate)> =
        (0..pairs.len()).filter_map(|i| Some((i, leave_out(kind, pairs, i)?))).collect();
    without.sort_by(|a, b| a.1.sum_px2.total_cmp(&b.1.sum_px2));
    let [(accused, best), (_, next), ..] = &without[..] else { return None };

    let assumed_px2 = ASSUMED_WEIGHT * ASSUMED_CLICK_SIGMA_PX.powi(2);
    let freedom = ASSUMED_WEIGHT + spare as f64;
    // Upper tail of F with 2 and `freedom` degrees, in closed form.
    let tail = ((assumed_px2 + best.sum_px2) / (assumed_px2 + all.sum_px2)).powf(0.5 * freedom);
    let odds = ((assumed_px2 + next.sum_px2) / (assumed_px2 + best.sum_px2)).powf(0.5 * freedom);
    if tail * pairs.len() as f64 > FALSE_ACCUSATION || odds < ODDS_TO_NEXT {
        return None;
    }
    let sigma_px2 = click_variance_px2(chosen, pairs.len());
    let price = 2.0 * (2.0 * pairs.len() as f64).ln();
    let simpler = kind < chosen.mapping.kind;
    let worse = score(best, sigma_px2, pairs.len()) + price > score(chosen, sigma_px2, pairs.len());
    if simpler && worse { None } else { Some(*accused) }
}

fn leave_out(kind: AlignmentKind, pairs: &[PointPair], left_out: usize) -> Option<Candidate> {
    let kept: Vec<PointPair> = pairs.iter().enumerate().filter(|(i, _)| *i != left_out).map(|(_, p)| *p).collect();
    candidate(kind, &Scaling::of(&kept), &kept).ok()
}
