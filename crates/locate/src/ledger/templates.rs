//! What one watt in each candidate looks like: columns of the least squares.

use nalgebra::{DMatrix, Point2};

use super::{
    board_constants::{BARE_METAL, MASK_EMISSIVITY, emissivity},
    candidates::{Candidate, Place},
    geometry::Mirrors,
    looks::{self, Column, Look, Tables},
    samples::{Sample, cover},
};
use crate::board::{Face, Footprint};

/// Footprint points closer together than this many of their distance from a place are seen from there as one.
const FAR_AWAY: f64 = 4.0;

/// Distances and shares of the points of a candidate and their images, per sample.
struct Terms {
    starts: Vec<u32>,
    terms: Vec<(f32, f32)>,
}

/// How the picture blurs, and how far heat gets.
#[derive(Clone, Copy, Debug)]
pub(super) struct Optics {
    /// Standard deviation of the point spread.
    pub(super) sigma_mm: f64,
    /// Pitch of the points that stand for a footprint.
    pub(super) pitch_mm: f64,
    /// Images further away than this do not matter.
    pub(super) reach_mm: f64,
}

impl Optics {
    /// Standard deviation of one such point as it is seen.
    pub(super) fn point_sigma_mm(&self) -> f64 {
        self.sigma_mm.hypot(self.pitch_mm / 12_f64.sqrt())
    }
}

/// Everything about the templates that does not depend on the board's constants.
pub(super) struct Templates<'a> {
    pub(super) columns: Vec<Column>,
    vectors: usize,
    candidates: &'a [Candidate<'a>],
    terms: Vec<Terms>,
    /// Per candidate and sample, the share of the sample that falls on its footprint; empty where it does not matter.
    covers: Vec<Vec<f32>>,
    /// Per sample: emissivity as drawn.
    emissivity: Vec<f64>,
    /// Per sample: share that falls on parts of unstated emissivity.
    pub(super) unsure: Vec<f64>,
}

impl<'a> Templates<'a> {
    pub(super) fn new(face: &Face, candidates: &'a [Candidate<'a>], samples: &[Sample], optics: Optics) -> Self {
        let Optics { sigma_mm, reach_mm, .. } = optics;
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
        Self {
            columns: candidates.iter().enumerate().flat_map(|(i, c)| looks::columns(i, c)).collect(),
            vectors: samples.first().map_or(0, |s| s.seen.len()),
            candidates,
            terms,
            covers,
            emissivity: seen_emissivity,
            unsure,
        }
    }

    /// Kelvin per watt of the chosen columns (rows) at every sample and vector (columns, samples one after the other), for a
    /// board of these constants.
    pub(super) fn build(&self, tables: &Tables<'_>, chosen: &[usize]) -> DMatrix<f64> {
        let m = self.vectors;
        let samples = self.emissivity.len();
        let mut out = DMatrix::zeros(chosen.len(), samples * m);
        let mut field = vec![0.0; m];
        for (row, column) in chosen.iter().map(|&c| self.columns[c]).enumerate() {
            let table = tables.board(column.look);
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
                if let (Some((k_per_w, course)), true) = (tables.body(column.look), cover > 0.0) {
                    for (value, seen) in field.iter_mut().zip(course) {
                        *value += k_per_w * cover * own * seen;
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
