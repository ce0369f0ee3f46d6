//! The forms that a watt in a candidate may take in the picture, and what the time vectors see of each.

use rayon::prelude::*;

use super::{
    LedgerInput,
    board_constants::heat_capacity_j_per_k,
    candidates::{Candidate, Place},
    course::{self, Ages, PowerCourse},
    table::RadialTable,
    templates::Optics,
};
use crate::plate::ThinPlate;

/// A part is hotter than the board under it by one of these, kelvin per watt: power packages to small ceramics, and mixtures
/// in between (round numbers, from memory).
const BODY_K_PER_W: [f64; 3] = [8.0, 25.0, 80.0];
/// Its time constant is that times its heat capacity, taken to the nearest of these.
const BODY_TAUS_S: [f64; 5] = [0.05, 0.15, 0.5, 1.5, 4.5];
/// A part that does not show its own warmth, and one away from the hot spots, pass heat on as this one of the above does.
const MIDDLE: usize = 1;
/// Through the board: mean delay `L^2 / (6 alpha)` of a slab of thickness L that is heated on one side and seen on the
/// other, against the mean of its thickness (Carslaw & Jaeger section 3.4: the sum of 2 (-1)^(n+1) L^2 / (n^2 pi^2 alpha)). FR-4 of
/// 1.6 mm with L^2/alpha = 13.81 s: 2.30 s. Vias and planes shorten it; a quarter stands for those.
const BACK_LAGS_S: [f64; 2] = [2.30, 0.58];
/// Meanwhile it spreads sideways by `sqrt(2 alpha t)`: 1.6 mm for FR-4 in plane (alpha 5.72e-7 m2/s) and 2.3 s.
const BACK_SIGMA_MM: f64 = 1.6;
/// What a column stands for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Look {
    /// The board warms at once; the part shows the board's temperature.
    Plate,
    /// The board warms after a lag; the part itself is bare metal and does not show it.
    BareMetal {
        /// Index into [`BODY_TAUS_S`].
        tau: usize,
    },
    /// The part is hotter than the board, and passes its heat on after its own time constant.
    Body {
        /// Index into [`BODY_TAUS_S`].
        tau: usize,
        /// Kelvin per watt.
        k_per_w: f64,
    },
    /// Seen through the board, with lag of that index.
    Back(usize),
}

/// A column: a watt in a candidate.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column {
    pub(super) candidate: usize,
    pub(super) look: Look,
}

/// What the vectors see over time, for boards of any constants.
pub(super) struct Kernels {
    /// Without lag, then with each of [`BODY_TAUS_S`].
    front: Vec<Ages>,
    back: Vec<Ages>,
    bodies: Vec<Vec<f64>>,
}

impl Kernels {
    pub(super) fn new(input: &LedgerInput<'_>) -> Self {
        let course = PowerCourse::of(&input.model.drive);
        let frame_s = &input.model.drive.time_s;
        let vectors = &input.model.vectors;
        let lags = std::iter::once(0.0).chain(BODY_TAUS_S);
        Self {
            front: lags
                .collect::<Vec<_>>()
                .into_par_iter()
                .map(|lag| course::ages(&course, frame_s, vectors, lag))
                .collect(),
            back: BACK_LAGS_S.map(|lag| course::ages(&course, frame_s, vectors, lag)).to_vec(),
            bodies: BODY_TAUS_S.map(|tau| course::body(&course, frame_s, vectors, tau)).to_vec(),
        }
    }

    /// Radial tables for a board.
    pub(super) fn tables(&self, plate: &ThinPlate, optics: &Optics) -> Tables<'_> {
        let (sigma_mm, grid) = (optics.point_sigma_mm(), optics.grid());
        Tables {
            front: RadialTable::all(&self.front, plate, sigma_mm, &grid),
            back: RadialTable::all(&self.back, plate, sigma_mm.hypot(BACK_SIGMA_MM), &grid),
            bodies: &self.bodies,
        }
    }
}

/// The same around sources in one board.
pub(super) struct Tables<'a> {
    front: Vec<RadialTable>,
    back: Vec<RadialTable>,
    bodies: &'a [Vec<f64>],
}

impl Tables<'_> {
    /// The board's warmth for a look.
    pub(super) fn board(&self, look: Look) -> &RadialTable {
        match look {
            Look::Plate => &self.front[0],
            Look::BareMetal { tau } | Look::Body { tau, .. } => &self.front[tau + 1],
            Look::Back(lag) => &self.back[lag],
        }
    }

    /// The part's own rise over the board: kelvin per watt, and its course.
    pub(super) fn body(&self, look: Look) -> Option<(f64, &[f64])> {
        match look {
            Look::Body { tau, k_per_w } => Some((k_per_w, &self.bodies[tau])),
            _ => None,
        }
    }
}

/// The looks that are tried for a candidate.
pub(super) fn columns(index: usize, candidate: &Candidate<'_>) -> Vec<Column> {
    let capacity_j_per_k = candidate.part.map_or(0.0, heat_capacity_j_per_k);
    let nearest_tau = |tau_s: f64| {
        let apart = |i: usize| (BODY_TAUS_S[i] / tau_s.max(1e-6)).ln().abs();
        (0..BODY_TAUS_S.len()).min_by(|&a, &b| apart(a).total_cmp(&apart(b))).unwrap_or(0)
    };
    let body = |k_per_w: f64| Look::Body { tau: nearest_tau(capacity_j_per_k * k_per_w), k_per_w };
    let looks = match candidate.place {
        Place::Near => {
            let stated = candidate.part.is_some_and(|p| p.emissivity.is_some());
            let mut looks = vec![Look::Plate];
            let tau = nearest_tau(capacity_j_per_k * BODY_K_PER_W[MIDDLE]);
            looks.extend((!stated).then_some(Look::BareMetal { tau }));
            looks.extend(BODY_K_PER_W.map(body));
            looks
        }
        Place::Far => vec![Look::Plate, body(BODY_K_PER_W[MIDDLE])],
        Place::Behind => (0..BACK_LAGS_S.len()).map(Look::Back).collect(),
        Place::Elsewhere | Place::Stretch(_) => vec![Look::Plate],
    };
    looks.into_iter().map(|look| Column { candidate: index, look }).collect()
}
