//! From watts per column to watts per part, with errors.

use super::{
    LedgerInput, SpotEvidence,
    candidates::{Candidate, Place},
    equations::BLOCKS,
    hints,
    looks::Column,
    profile::Profile,
};
use crate::{HeatLedger, HotSpot, LedgerEntry, power::Power};

/// Relative standard errors of what the picture cannot tell: heat capacity of the board, which sets the scale (boards are
/// 0.8 to 1.6 mm thick, copper and parts add to it), and emissivity of its mask.
const CAPACITY_ERROR: f64 = 0.3;
const EMISSIVITY_ERROR: f64 = 0.05;
/// Watts within this distance of a hot spot are its own, or within this many pixels.
const OWN_MM: f64 = 1.0;
const OWN_PX: f64 = 2.5;
/// Parts with less than this share of the whole, or below twice their own error, are not listed.
const LEAST_SHARE: f64 = 0.02;
const LEAST_ERRORS: f64 = 1.0;

/// Watts per candidate, with their standard errors from the fit alone.
pub(super) struct Books {
    watts: Vec<f64>,
    fit_se: Vec<f64>,
    pub(super) total: f64,
    total_fit_se: f64,
    pub(super) sheet_w_per_k: f64,
}

impl Books {
    pub(super) fn new(candidates: &[Candidate<'_>], columns: &[Column], profile: &Profile) -> Self {
        let per_candidate = |without: Option<usize>| {
            let (watts, sheet) = profile.at_best(without);
            let mut sums = vec![0.0; candidates.len()];
            for (column, w) in columns.iter().zip(watts.iter()) {
                sums[column.candidate] += w;
            }
            (sums, sheet)
        };
        let (watts, sheet_w_per_k) = per_candidate(None);
        // Blocks of places left out in turn (delete-a-group jackknife: Kott, J. Official Stat. 17 (2001) 521) see noise,
        // misfit that is correlated in space, and the uncertainty of the profiled constants at once.
        let left_out: Vec<Vec<f64>> = (0..BLOCKS).map(|b| per_candidate(Some(b)).0).collect();
        let jackknife = |value: &dyn Fn(&[f64]) -> f64| {
            let values: Vec<f64> = left_out.iter().map(|w| value(w)).collect();
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            let share = (BLOCKS - 1) as f64 / BLOCKS as f64;
            (share * values.iter().map(|v| (v - mean).powi(2)).sum::<f64>()).sqrt()
        };
        let mut by_sheet = vec![0.0; candidates.len()];
        for (column, w) in columns.iter().zip(profile.sheet_error().iter()) {
            by_sheet[column.candidate] += w;
        }
        Self {
            fit_se: (0..candidates.len()).map(|i| jackknife(&|w: &[f64]| w[i]).hypot(by_sheet[i])).collect(),
            total: watts.iter().sum(),
            total_fit_se: jackknife(&|w: &[f64]| w.iter().sum()).hypot(by_sheet.iter().sum()),
            watts,
            sheet_w_per_k,
        }
    }

    /// For each hot spot, the share of all watts that is made at its place: in parts over or beside it, in copper or off the
    /// drawing within the same distance. A spot without watts is warmed by others.
    pub(super) fn own_shares(&self, input: &LedgerInput<'_>, candidates: &[Candidate<'_>]) -> Vec<f64> {
        let own = |spot: &HotSpot| {
            let near_mm = OWN_MM.max(OWN_PX * input.scene.alignment.mm_per_px(spot.centre_px));
            let at_spot = |c: &Candidate<'_>| c.distance_mm(spot.centre_mm) <= near_mm;
            candidates.iter().zip(&self.watts).filter(|(c, _)| at_spot(c)).map(|(_, w)| w).sum::<f64>()
        };
        input.hot_spots.iter().map(|spot| own(spot) / self.total.max(f64::MIN_POSITIVE)).collect()
    }

    /// Watts of each stretch of feed path.
    pub(super) fn per_stretch(&self, candidates: &[Candidate<'_>], stretches: usize) -> Vec<f64> {
        let mut found = vec![0.0; stretches];
        for (candidate, watts) in candidates.iter().zip(&self.watts) {
            if let Place::Stretch(i) = candidate.place {
                found[i] = *watts;
            }
        }
        found
    }

    pub(super) fn ledger(
        &self,
        input: &LedgerInput<'_>,
        candidates: &[Candidate<'_>],
        evidence: &[SpotEvidence],
    ) -> HeatLedger {
        let at_board = match input.electrical {
            Power::Known(w) if w > 0.0 => Some(w),
            _ => None,
        };
        let mut entries: Vec<LedgerEntry> = candidates
            .iter()
            .zip(self.watts.iter().zip(&self.fit_se))
            .filter(|(_, (w, se))| **w > 0.0 && **w >= LEAST_SHARE * self.total && **w > LEAST_ERRORS * **se)
            .filter_map(|(candidate, (watts, fit_se))| {
                Some(LedgerEntry {
                    part: candidate.part?.designator.clone(),
                    face: candidate.face.to_owned(),
                    watts: *watts,
                    watts_se: fit_se.hypot(watts * scale_error()),
                    share: at_board.map(|w| watts / w),
                })
            })
            .collect();
        entries.sort_by(|a, b| b.watts.total_cmp(&a.watts));
        let listed: f64 = entries.iter().map(|e| e.watts).sum();
        let path_watts: f64 =
            candidates.iter().zip(&self.watts).filter(|(c, _)| matches!(c.place, Place::Stretch(_))).map(|c| c.1).sum();
        let total_se = self.total_fit_se.hypot(self.total * scale_error());
        let mut ledger = HeatLedger {
            entries,
            path_watts,
            elsewhere_watts: (self.total - listed - path_watts).max(0.0),
            explained_share: at_board.map(|w| self.total / w),
            explained_share_se: at_board.map(|w| total_se / w),
            sheet_w_per_k: self.sheet_w_per_k,
            hints: Vec::new(),
        };
        ledger.hints = hints::hints(input, &ledger, evidence, self.total, total_se);
        ledger
    }
}

/// Relative error of the scale of all watts together.
fn scale_error() -> f64 {
    CAPACITY_ERROR.hypot(EMISSIVITY_ERROR)
}
