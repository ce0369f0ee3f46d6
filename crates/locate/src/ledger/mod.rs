//! Where heat starts: watts per part by forward templates.
//!
//! A raw Laplacian of the rise would amplify noise and take edges of the emissivity for sources. The heat equation is linear,
//! so it is solved forwards instead: one watt in a part gives a known picture over time, seen through the same time vectors
//! as the recording itself ([`course`], [`table`]), and non-negative least squares finds how many watts in which parts and
//! places explain the coefficient maps best, with the board's sheet conductance profiled ([`profile`]).

mod board_constants;
mod candidates;
mod course;
mod entries;
mod equations;
mod evidence;
mod geometry;
mod hints;
mod leakage;
mod looks;
mod pairs;
mod path;
mod profile;
mod samples;
mod select;
mod surface;
mod table;
mod templates;
#[cfg(test)]
mod tests;
mod weights;

use joulemark_frames::Unit;
use rayon::prelude::*;

use crate::{
    HeatLedger, HotSpot, Scene, SpotRole,
    board::JoinedRail,
    maps::{PixelNoise, Plane, RiseEstimator},
    model::ResponseModel,
    plate::ThinPlate,
    power::Power,
};

/// Standard deviation of the point spread of lens and pixel: usual lenses blur by about a pixel.
const BLUR_PX: f64 = 0.9;
/// Points that stand for a footprint are no closer than this: parts are not drawn finer.
const LEAST_PITCH_MM: f64 = 0.5;
/// How far the level of the whole picture may drift, in units of a frame's noise.
const LEVEL_DRIFT: f64 = 2.5;
/// Entering the ledger costs this much of the sum of squares, in units of the residuals' variance, and this share of what is
/// explained: for parts on the rail, and for all else. A second source of a tenth of the watts of the first, far from it, explains a hundredth
/// of the squares. Found on simulated boards.
const ENTRY: f64 = 16.0;
const ENTRY_OFF_RAIL: f64 = 32.0;
const ENTRY_SHARE: f64 = 0.01;
const ENTRY_SHARE_OFF_RAIL: f64 = 0.015;

pub use leakage::{LEAK_OHMS, is_leak, leakage_advice};

#[cfg(test)]
pub(crate) use evidence::PartEvidence;
pub(crate) use evidence::SpotEvidence;

use board_constants::Boards;
use candidates::{Candidate, Place};
use equations::Equations;
use looks::{Column, Kernels};
use profile::Profile;
use templates::{Optics, Templates};
use weights::Whitener;

/// What the ledger is made from.
#[derive(Clone, Copy)]
pub(crate) struct LedgerInput<'a> {
    pub(crate) model: &'a ResponseModel,
    /// Tells the size of drifts, where there is one.
    pub(crate) estimator: Option<&'a RiseEstimator>,
    /// In units of the pixel noise, one plane per vector of the model.
    pub(crate) coefficients: &'a [Plane],
    pub(crate) noise: &'a PixelNoise,
    /// Rise at the end of injection, where feed paths are to be looked for.
    pub(crate) rise: Option<&'a Plane>,
    pub(crate) scene: &'a Scene<'a>,
    pub(crate) joined: &'a [JoinedRail],
    pub(crate) hot_spots: &'a [HotSpot],
    pub(crate) unit: Unit,
    pub(crate) electrical: Power,
}

/// The ledger and what else the fit tells.
#[derive(Clone, Debug)]
pub(crate) struct LedgerSolution {
    /// `None` for takes that carry no temperature, and where nothing takes watts.
    pub(crate) ledger: Option<HeatLedger>,
    /// What each hot spot is to the current, in their order.
    pub(crate) roles: Vec<SpotRole>,
    /// Share of all watts that is made at each hot spot.
    pub(crate) own_shares: Vec<f64>,
    /// What each hot spot says about who is its source.
    pub(crate) evidence: Vec<SpotEvidence>,
    /// Sum of squares per value, in units of what noise and the allowed misfit explain.
    #[cfg_attr(not(test), expect(dead_code, reason = "tests judge the fit by it"))]
    pub(crate) reduced_chi_square: f64,
}

/// Finds the watts. `None` without hot spots.
pub(crate) fn solve(input: &LedgerInput<'_>) -> Option<LedgerSolution> {
    let face = input.scene.board.face(input.scene.face)?;
    let first = input.hot_spots.first()?;
    let mm_per_px = input.scene.alignment.mm_per_px(first.centre_px);
    let boards = Boards::around(face, first.centre_mm);
    let optics = Optics {
        sigma_mm: BLUR_PX * mm_per_px,
        pitch_mm: mm_per_px.max(LEAST_PITCH_MM),
        reach_mm: reach_mm(input, &boards),
    };
    let samples = samples::samples(input, face);
    if samples.iter().all(|s| !s.on_board) {
        return None;
    }
    let mut candidates = candidates::candidates(input, face, optics.pitch_mm);
    let stretches = path::stretches(input, face);
    candidates.extend(stretches.iter().enumerate().map(|(i, stretch)| Candidate::stretch(i, stretch)));
    let kernels = Kernels::new(input);
    let templates = Templates::new(face, &candidates, &samples, optics);
    let whiteners: Vec<Whitener> =
        samples.par_iter().zip(&templates.surface.unsure).map(|(s, unsure)| Whitener::new(input, s, *unsure)).collect();
    let equations = |plate: &ThinPlate, chosen: &[usize]| {
        let columns = templates.build(&kernels.tables(plate, &optics), chosen);
        Equations::new(&columns, &samples, &whiteners, level_sd(input))
    };
    let profile_of =
        |chosen: &[usize], near: Option<f64>| Profile::new(&|plate: &ThinPlate| equations(plate, chosen), boards, near);
    let columns_of = |wanted: &dyn Fn(&Candidate<'_>) -> bool| -> Vec<usize> {
        let is_wanted = |c: &usize| wanted(&candidates[templates.columns[*c].candidate]);
        (0..templates.columns.len()).filter(is_wanted).collect()
    };
    // The constants of the board first, with whatever is near; then who takes the watts; then both once more.
    let at_a_spot = |c: &Candidate<'_>| input.hot_spots.iter().any(|h| c.spread.centre_mm == h.centre_mm);
    let every = columns_of(&|_| true);
    let groups = groups(&candidates, &templates.columns);
    let mut chosen = columns_of(&|c| c.place == Place::Near || (c.part.is_none() && at_a_spot(c)));
    let mut profile = profile_of(&chosen, None);
    for _ in 0..2 {
        let (_, sheet_w_per_k) = profile.at_best(None);
        let reduced = equations(&boards.board(sheet_w_per_k), &every).reduced(None);
        let variance = (reduced.solve_among(&every).chi_square / reduced.rows).max(1.0);
        let entered = select::select(&reduced, &groups, variance);
        if entered.is_empty() {
            break;
        }
        chosen = entered.iter().flat_map(|&g| groups[g].columns.iter().copied()).collect();
        profile = profile_of(&chosen, Some(sheet_w_per_k));
    }
    let columns: Vec<Column> = chosen.iter().map(|&c| templates.columns[c]).collect();
    let books = entries::Books::new(&candidates, &columns, &profile);
    let found = evidence::Found {
        samples: &samples,
        candidates: &candidates,
        columns: &columns,
        watts: profile.at_best(None).0,
        plate: boards.board(books.sheet_w_per_k),
    };
    let evidence = evidence::evidence(input, face, &kernels, optics, &found);
    let per_stretch = books.per_stretch(&candidates, stretches.len());
    Some(LedgerSolution {
        own_shares: books.own_shares(input, &candidates),
        roles: path::roles(input, &stretches, &per_stretch, books.total),
        ledger: (input.unit == Unit::Kelvin && books.total > 0.0).then(|| books.ledger(input, &candidates, &evidence)),
        evidence,
        reduced_chi_square: profile.reduced_chi_square(),
    })
}

/// One group per candidate.
fn groups(candidates: &[Candidate<'_>], columns: &[Column]) -> Vec<select::Group> {
    candidates
        .iter()
        .enumerate()
        .map(|(i, candidate)| select::Group {
            columns: (0..columns.len()).filter(|c| columns[*c].candidate == i).collect(),
            cost: if candidate.on_rail { ENTRY } else { ENTRY_OFF_RAIL },
            share: if candidate.on_rail { ENTRY_SHARE } else { ENTRY_SHARE_OFF_RAIL },
        })
        .collect()
}

/// How far the level of the whole picture may drift along one vector, in the take's unit.
fn level_sd(input: &LedgerInput<'_>) -> f64 {
    LEVEL_DRIFT * f64::from(input.noise.typical) * (input.model.vectors.nrows() as f64).sqrt() / 2.0
}

/// How far heat gets by the end, on the best conducting board that is considered.
fn reach_mm(input: &LedgerInput<'_>, boards: &Boards) -> f64 {
    let best = boards.board(0.08);
    let times = &input.model.drive.time_s;
    let on = input.model.drive.onset_s();
    3.0e3 * best.spread_m((times[times.len() - 1] - on).max(0.0))
}
