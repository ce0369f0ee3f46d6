//! What one watt in each candidate looks like: columns of the least squares.

use nalgebra::{DMatrix, Point2};

use super::{
    LedgerInput,
    board_constants::{BARE_METAL, MASK_EMISSIVITY, emissivity, heat_capacity_j_per_k},
    candidates::{Candidate, Place},
    course::{self, Ages, PowerCourse},
    geometry::Mirrors,
    samples::{Sample, cover},
    table::RadialTable,
};
use crate::{
    board::{Face, Footprint},
    plate::ThinPlate,
};

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
pub(super) const BACK_LAGS_S: [f64; 2] = [2.30, 0.58];
/// Meanwhile it spreads sideways by `sqrt(2 alpha t)`: 1.6 mm for FR-4 in plane (alpha 5.72e-7 m2/s) and 2.3 s.
const BACK_SIGMA_MM: f64 = 1.6;
/// Footprint points closer together than this many of their distance from a place are seen from there as one.
const FAR_AWAY: f64 = 4.0;

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

/// Distances and shares of the points of a candidate and their images, per sample.
struct Terms {
    starts: Vec<u32>,
    terms: Vec<(f32, f32)>,
}

/// Everything about the templates that does not depend on the board's constants.
pub(super) struct Templates<'a> {
    pub(super) columns: Vec<Column>,
    pub(super) vectors: usize,
    candidates: &'a [Candidate<'a>],
    terms: Vec<Terms>,
    /// Per candidate and sample, the share of the sample that falls on its footprint; empty where it does not matter.
    covers: Vec<Vec<f32>>,
    /// Per sample: emissivity as drawn.
    emissivity: Vec<f64>,
    /// Per sample: share that falls on parts of unstated emissivity.
    pub(super) unsure: Vec<f64>,
    ages: Vec<Ages>,
    back_ages: Vec<Ages>,
    bodies: Vec<Vec<f64>>,
    sigma_mm: f64,
}

impl<'a> Templates<'a> {
    /// `sigma_mm` is the point spread; `reach_mm` how far images matter.
    pub(super) fn new(
        input: &LedgerInput<'_>,
        face: &Face,
        candidates: &'a [Candidate<'a>],
        samples: &[Sample],
        sigma_mm: f64,
        reach_mm: f64,
    ) -> Self {
        let mirrors = Mirrors::of(face);
        let blur = |s: &Sample| sigma_mm.hypot(s.side_mm / 12_f64.sqrt());
        let parts: Vec<(Footprint, f64, bool)> =
            face.parts.iter().map(|p| (Footprint::from(p), emissivity(p), p.emissivity.is_none())).collect();
        let mut seen_emissivity = Vec::with_capacity(samples.len());
        let mut unsure = Vec::with_capacity(samples.len());
        for sample in samples {
            let sigma = blur(sample);
            let (mut mean, mut rest, mut unknown) = (0.0, 1.0, 0.0);
            for (footprint, own, unstated) in &parts {
                let reach = footprint.half_mm.norm() + 4.0 * sigma;
                if (footprint.centre_mm - sample.at_mm).norm() < reach {
                    let share = cover(footprint, sample.at_mm, sigma).min(rest);
                    mean += share * own;
                    rest -= share;
                    unknown += if *unstated { share } else { 0.0 };
                }
            }
            seen_emissivity.push(if sample.on_board { mean + rest * MASK_EMISSIVITY } else { 0.0 });
            unsure.push(unknown);
        }
        let covers = candidates
            .iter()
            .map(|c| match (c.footprint, c.place) {
                (Some(f), Place::Near | Place::Far) => {
                    samples.iter().map(|s| cover(&f, s.at_mm, blur(s)) as f32).collect()
                }
                _ => Vec::new(),
            })
            .collect();
        let terms = candidates.iter().map(|c| terms(c, samples, &mirrors, reach_mm)).collect();
        let course = PowerCourse { time_s: &input.model.drive.time_s, power: &input.model.drive.power };
        let vectors = &input.model.vectors;
        let lags = std::iter::once(0.0).chain(BODY_TAUS_S);
        Self {
            columns: candidates.iter().enumerate().flat_map(|(i, c)| columns(i, c)).collect(),
            vectors: vectors.ncols(),
            candidates,
            terms,
            covers,
            emissivity: seen_emissivity,
            unsure,
            ages: lags.map(|lag| course::ages(course, vectors, lag)).collect(),
            back_ages: BACK_LAGS_S.map(|lag| course::ages(course, vectors, lag)).to_vec(),
            bodies: BODY_TAUS_S.map(|tau| course::body(course, vectors, tau)).to_vec(),
            sigma_mm,
        }
    }

    /// Kelvin per watt of the chosen columns (rows) at every sample and vector (columns, samples one after the other), for a
    /// board of these constants.
    pub(super) fn build(&self, plate: &ThinPlate, pitch_mm: f64, chosen: &[usize]) -> DMatrix<f64> {
        let sigma = self.sigma_mm.hypot(pitch_mm / 12_f64.sqrt());
        let fronts: Vec<RadialTable> = self.ages.iter().map(|a| RadialTable::new(a, plate, sigma)).collect();
        let backs: Vec<RadialTable> =
            self.back_ages.iter().map(|a| RadialTable::new(a, plate, sigma.hypot(BACK_SIGMA_MM))).collect();
        let m = self.vectors;
        let samples = self.emissivity.len();
        let mut out = DMatrix::zeros(chosen.len(), samples * m);
        let mut field = vec![0.0; m];
        for (row, column) in chosen.iter().map(|&c| self.columns[c]).enumerate() {
            let table = match column.look {
                Look::Plate => &fronts[0],
                Look::BareMetal { tau } | Look::Body { tau, .. } => &fronts[tau + 1],
                Look::Back(lag) => &backs[lag],
            };
            let terms = &self.terms[column.candidate];
            let covers = &self.covers[column.candidate];
            let own = self.candidates[column.candidate].part.map_or(MASK_EMISSIVITY, emissivity);
            for sample in 0..samples {
                if self.emissivity[sample] == 0.0 {
                    continue;
                }
                field.fill(0.0);
                for &(distance_mm, share) in
                    &terms.terms[terms.starts[sample] as usize..terms.starts[sample + 1] as usize]
                {
                    table.add(f64::from(distance_mm), f64::from(share), &mut field);
                }
                let cover = covers.get(sample).map_or(0.0, |c| f64::from(*c));
                let visible = match column.look {
                    Look::BareMetal { .. } => self.emissivity[sample] - cover * (own - BARE_METAL),
                    _ => self.emissivity[sample],
                };
                for value in &mut field {
                    *value *= visible;
                }
                if let (Look::Body { tau, k_per_w }, true) = (column.look, cover > 0.0) {
                    let kelvin = k_per_w * cover * own;
                    for (value, seen) in field.iter_mut().zip(&self.bodies[tau]) {
                        *value += kelvin * seen;
                    }
                }
                for (k, value) in field.iter().enumerate() {
                    out[(row, sample * m + k)] = *value;
                }
            }
        }
        out
    }
}

fn columns(index: usize, candidate: &Candidate<'_>) -> Vec<Column> {
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
        Place::Elsewhere => vec![Look::Plate],
    };
    looks.into_iter().map(|look| Column { candidate: index, look }).collect()
}

fn terms(candidate: &Candidate<'_>, samples: &[Sample], mirrors: &Mirrors, reach_mm: f64) -> Terms {
    let spread = &candidate.spread;
    let images = mirrors.images(spread.centre_mm, reach_mm);
    let share = 1.0 / spread.points.len() as f32;
    let far_away = FAR_AWAY * spread.radius_mm;
    let mut starts = vec![0_u32];
    let mut terms: Vec<(f32, f32)> = Vec::new();
    for sample in samples {
        if sample.on_board {
            let at = sample.at_mm;
            let mut add = |p: &Point2<f64>, share: f32| {
                let distance = (p - at).norm();
                if distance <= reach_mm {
                    terms.push((distance as f32, share));
                }
            };
            if (spread.centre_mm - at).norm() > far_away {
                add(&spread.centre_mm, 1.0);
            } else {
                spread.points.iter().for_each(|p| add(p, share));
            }
            // Images lie outside the board: a footprint's own size matters little from there.
            images.iter().for_each(|p| add(p, 1.0));
        }
        starts.push(terms.len() as u32);
    }
    Terms { starts, terms }
}
