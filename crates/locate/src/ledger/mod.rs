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
mod geometry;
mod hints;
mod profile;
mod samples;
mod select;
mod table;
mod templates;
#[cfg(test)]
mod tests;
mod weights;

use joulemark_frames::Unit;

use crate::{
    HeatLedger, HotSpot, Scene,
    board::JoinedRail,
    maps::{PixelNoise, Plane, RiseEstimator},
    model::ResponseModel,
    plate::ThinPlate,
};

/// Standard deviation of the point spread of lens and pixel: usual lenses blur by about a pixel.
const BLUR_PX: f64 = 0.9;
/// How far the level of the whole picture may drift, kelvin.
const LEVEL_DRIFT_K: f64 = 0.1;
/// Entering the ledger costs this much of the sum of squares, in units of the residuals' variance, and this share of what is
/// explained: for parts on the rail, and for all else. A second source of a tenth of the watts of the first, far from it, explains a hundredth
/// of the squares. Found on simulated boards.
const ENTRY: f64 = 16.0;
const ENTRY_OFF_RAIL: f64 = 32.0;
const ENTRY_SHARE: f64 = 0.01;
const ENTRY_SHARE_OFF_RAIL: f64 = 0.015;

/// Power at the board while injecting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum ElectricalPower {
    /// Leads taken off.
    Known(f64),
    /// Lead resistance unknown: the supply's watts are a bound.
    AtMost(f64),
    /// No readings.
    Unknown,
}

/// What the ledger is made from.
#[derive(Clone, Copy)]
pub(crate) struct LedgerInput<'a> {
    pub(crate) model: &'a ResponseModel,
    /// Tells the size of drifts, where there is one.
    pub(crate) estimator: Option<&'a RiseEstimator>,
    /// In units of the pixel noise, one plane per vector of the model.
    pub(crate) coefficients: &'a [Plane],
    pub(crate) noise: &'a PixelNoise,
    pub(crate) scene: &'a Scene<'a>,
    pub(crate) joined: &'a [JoinedRail],
    pub(crate) hot_spots: &'a [HotSpot],
    pub(crate) unit: Unit,
    pub(crate) electrical: ElectricalPower,
}

/// The ledger and what else the fit tells.
#[derive(Clone, Debug)]
pub(crate) struct LedgerSolution {
    pub(crate) ledger: HeatLedger,
    /// Sum of squares per value, in units of what noise and the allowed misfit explain.
    pub(crate) reduced_chi_square: f64,
}

/// Finds the watts. `None` without hot spots, and for takes that carry no temperature.
pub(crate) fn solve(input: &LedgerInput<'_>) -> Option<LedgerSolution> {
    let face = input.scene.board.face(input.scene.face)?;
    let first = input.hot_spots.first().filter(|_| input.unit == Unit::Kelvin)?;
    let mm_per_px = input.scene.alignment.mm_per_px(first.centre_px);
    let sigma_mm = BLUR_PX * mm_per_px;
    let pitch_mm = mm_per_px.max(0.5);
    let samples = samples::samples(input, face);
    let candidates = candidates::candidates(input, face, pitch_mm);
    let boards = board_constants::Boards::around(face, first.centre_mm);
    let templates = templates::Templates::new(input, face, &candidates, &samples, sigma_mm, reach_mm(input, &boards));
    let whiteners: Vec<weights::Whitener> =
        samples.iter().zip(&templates.unsure).map(|(s, unsure)| weights::Whitener::new(input, s, *unsure)).collect();
    let level_sd = LEVEL_DRIFT_K * (input.model.vectors.nrows() as f64).sqrt() / 2.0;
    let equations = |plate: &ThinPlate, chosen: &[usize]| {
        let columns = templates.build(plate, pitch_mm, chosen);
        equations::Equations::new(&columns, &samples, &whiteners, templates.vectors, level_sd)
    };
    let profile_of = |chosen: &[usize], near: Option<f64>| {
        profile::Profile::new(&|plate: &ThinPlate| equations(plate, chosen), boards, near)
    };
    let groups: Vec<select::Group> = candidates
        .iter()
        .enumerate()
        .map(|(i, candidate)| select::Group {
            columns: (0..templates.columns.len()).filter(|c| templates.columns[*c].candidate == i).collect(),
            cost: if candidate.on_rail { ENTRY } else { ENTRY_OFF_RAIL },
            share: if candidate.on_rail { ENTRY_SHARE } else { ENTRY_SHARE_OFF_RAIL },
        })
        .collect();
    // The constants of the board first, with whatever is near; then who takes the watts; then both once more.
    let near: Vec<usize> = (0..templates.columns.len())
        .filter(|&c| candidates[templates.columns[c].candidate].place == candidates::Place::Near)
        .chain((0..templates.columns.len()).filter(|&c| {
            let candidate = &candidates[templates.columns[c].candidate];
            input.hot_spots.iter().any(|h| candidate.part.is_none() && candidate.spread.centre_mm == h.centre_mm)
        }))
        .collect();
    let mut profile = profile_of(&near, None);
    let mut chosen_columns = near;
    let every: Vec<usize> = (0..templates.columns.len()).collect();
    for _ in 0..2 {
        let (_, sheet_w_per_k) = profile.at_best(None);
        let reduced = equations(&boards.board(sheet_w_per_k), &every).reduced(None);
        let variance = (reduced.solve_among(&every).chi_square / reduced.rows).max(1.0);
        let chosen = select::select(&reduced, &groups, variance);
        if std::env::var("DBG").is_ok() {
            for &g in &chosen {
                let c = &candidates[g];
                eprintln!(
                    "   {g} = {} {:?} at {:.1?} size {:?} rail {}",
                    c.part.map_or("-", |p| &p.designator),
                    c.place,
                    c.spread.centre_mm,
                    c.footprint.map(|f| f.half_mm * 2.0),
                    c.on_rail
                );
            }
            for h in input.hot_spots {
                eprintln!("   hot spot {:.2?} scale {:.1} px rise {:.2}", h.centre_mm, h.scale_px, h.rise.end);
            }
        }
        if chosen.is_empty() {
            return None;
        }
        chosen_columns = chosen.iter().flat_map(|&g| groups[g].columns.iter().copied()).collect();
        profile = profile_of(&chosen_columns, Some(sheet_w_per_k));
    }
    let columns: Vec<templates::Column> = chosen_columns.iter().map(|&c| templates.columns[c]).collect();
    let ledger = entries::ledger(input, &candidates, &columns, &profile);
    Some(LedgerSolution { ledger, reduced_chi_square: profile.reduced_chi_square() })
}

/// How far heat gets by the end, on the best conducting board that is considered.
fn reach_mm(input: &LedgerInput<'_>, boards: &board_constants::Boards) -> f64 {
    let best = boards.board(0.08);
    let times = &input.model.drive.time_s;
    let on = input.model.drive.first_injected().map_or(0.0, |i| times[i]);
    3.0e3 * best.spread_m((times[times.len() - 1] - on).max(0.0))
}
