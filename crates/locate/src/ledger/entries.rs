//! From watts per column to watts per part, with errors.

use super::{
    ElectricalPower, LedgerInput, candidates::Candidate, equations::BLOCKS, hints, looks::Column, profile::Profile,
};
use crate::{HeatLedger, LedgerEntry};

/// Relative standard errors of what the picture cannot tell: heat capacity of the board, which sets the scale (boards are
/// 0.8 to 1.6 mm thick, copper and parts add to it), and emissivity of its mask.
const CAPACITY_ERROR: f64 = 0.3;
const EMISSIVITY_ERROR: f64 = 0.05;
/// Parts with less than this share of the whole, or below twice their own error, are not listed.
const LEAST_SHARE: f64 = 0.02;
const LEAST_ERRORS: f64 = 1.0;

/// Watts of a candidate and their standard error from the fit alone.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Taken {
    pub(super) watts: f64,
    pub(super) fit_se: f64,
}

pub(super) fn ledger(
    input: &LedgerInput<'_>,
    candidates: &[Candidate<'_>],
    columns: &[Column],
    profile: &Profile,
) -> HeatLedger {
    let per_candidate = |without: Option<usize>| {
        let (watts, sheet) = profile.at_best(without);
        let mut sums = vec![0.0; candidates.len()];
        for (column, w) in columns.iter().zip(watts.iter()) {
            sums[column.candidate] += w;
        }
        (sums, sheet)
    };
    let (watts, sheet_w_per_k) = per_candidate(None);
    // Blocks of places left out in turn (delete-one-group jackknife: Kott, J. Official Stat. 17 (2001) 521) see noise, misfit that is
    // correlated in space, and the uncertainty of the profiled constants at once.
    let left_out: Vec<Vec<f64>> = (0..BLOCKS).map(|b| per_candidate(Some(b)).0).collect();
    let jackknife = |value: &dyn Fn(&[f64]) -> f64| {
        let values: Vec<f64> = left_out.iter().map(|w| value(w)).collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let share = (BLOCKS - 1) as f64 / BLOCKS as f64;
        (share * values.iter().map(|v| (v - mean).powi(2)).sum::<f64>()).sqrt()
    };
    let taken: Vec<Taken> =
        (0..candidates.len()).map(|i| Taken { watts: watts[i], fit_se: jackknife(&|w: &[f64]| w[i]) }).collect();
    let total: f64 = watts.iter().sum();
    let total_se = jackknife(&|w: &[f64]| w.iter().sum()).hypot(total * scale_error());
    let at_board = match input.electrical {
        ElectricalPower::Known(w) if w > 0.0 => Some(w),
        _ => None,
    };
    let mut entries: Vec<LedgerEntry> = candidates
        .iter()
        .zip(&taken)
        .filter(|(c, t)| {
            c.part.is_some() && t.watts > 0.0 && t.watts >= LEAST_SHARE * total && t.watts > LEAST_ERRORS * t.fit_se
        })
        .map(|(c, t)| LedgerEntry {
            part: c.part.map(|p| p.designator.clone()).unwrap_or_default(),
            face: c.face.to_owned(),
            watts: t.watts,
            watts_se: t.fit_se.hypot(t.watts * scale_error()),
            share: at_board.map(|w| t.watts / w),
        })
        .collect();
    entries.sort_by(|a, b| b.watts.total_cmp(&a.watts));
    let listed: f64 = entries.iter().map(|e| e.watts).sum();
    let mut ledger = HeatLedger {
        entries,
        elsewhere_watts: total - listed,
        explained_share: at_board.map(|w| total / w),
        explained_share_se: at_board.map(|w| total_se / w),
        sheet_w_per_k,
        hints: Vec::new(),
    };
    ledger.hints = hints::hints(input, &ledger, total, total_se);
    ledger
}

/// Relative error of the scale of all watts together.
fn scale_error() -> f64 {
    CAPACITY_ERROR.hypot(EMISSIVITY_ERROR)
}
