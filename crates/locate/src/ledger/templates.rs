//! What one watt in each candidate looks like: columns of the least squares.

use nalgebra::{DMatrix, Point2};
use rayon::prelude::*;

use super::{
    board_constants::{BARE_METAL, MASK_EMISSIVITY, emissivity},
    candidates::{Candidate, Place},
    geometry::Mirrors,
    looks::{self, Column, Look, Tables},
    samples::{Sample, cover},
    surface::{Surface, blur_mm},
    table::{RadialGrid, RadialTable},
};
use crate::board::Face;

/// Footprint points closer together than this many of their distance from a place are seen from there as one.
const FAR_AWAY: f64 = 4.0;

/// Distances, as rows of the grid, and shares of the points of a candidate and their images, per sample.
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

    /// The grid of distances.
    pub(super) fn grid(&self) -> RadialGrid {
        RadialGrid::new(self.point_sigma_mm(), self.reach_mm)
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
    pub(super) surface: Surface,
}

impl<'a> Templates<'a> {
    pub(super) fn new(face: &Face, candidates: &'a [Candidate<'a>], samples: &[Sample], optics: Optics) -> Self {
        let sigma_mm = optics.sigma_mm;
        let mirrors = Mirrors::of(face);
        let surface = Surface::new(face, samples, sigma_mm);
        let points: Vec<Option<Point2<f64>>> = samples
            .iter()
            .map(|s| s.on_board.then_some(s.at_mm))
            .chain(surface.patches.iter().flat_map(|p| p.points.iter().copied().map(Some)))
            .collect();
        let covers = candidates
            .par_iter()
            .map(|c| match (c.footprint, c.place) {
                (Some(f), Place::Near | Place::Far) => {
                    samples.iter().map(|s| cover(&f, s.at_mm, blur_mm(s, sigma_mm)) as f32).collect()
                }
                _ => Vec::new(),
            })
            .collect();
        let terms = candidates.par_iter().map(|c| terms(c, &points, &mirrors, &optics)).collect();
        Self {
            columns: candidates.iter().enumerate().flat_map(|(i, c)| looks::columns(i, c)).collect(),
            vectors: samples.first().map_or(0, |s| s.seen.len()),
            candidates,
            terms,
            covers,
            surface,
        }
    }

    /// Kelvin per watt of the chosen columns (rows) at every sample and vector (columns, samples one after the other), for a
    /// board of these constants.
    pub(super) fn build(&self, tables: &Tables<'_>, chosen: &[usize]) -> DMatrix<f64> {
        let m = self.vectors;
        let samples = self.surface.emissivity.len();
        let row = |&c: &usize| {
            let column = self.columns[c];
            let mut warmth = Vec::new();
            self.warmth(tables.board(column.look), &self.terms[column.candidate], &mut warmth);
            warmth.truncate(samples * m);
            let covers = &self.covers[column.candidate];
            let own = self.candidates[column.candidate].part.map_or(MASK_EMISSIVITY, emissivity);
            for (sample, (values, emissivity)) in warmth.chunks_exact_mut(m).zip(&self.surface.emissivity).enumerate() {
                if *emissivity <= 0.0 {
                    values.fill(0.0);
                    continue;
                }
                let cover = covers.get(sample).map_or(0.0, |c| f64::from(*c));
                let visible = match column.look {
                    Look::BareMetal { .. } => emissivity - cover * (own - BARE_METAL),
                    _ => *emissivity,
                };
                values.iter_mut().for_each(|value| *value *= visible);
                if let (Some((k_per_w, course)), true) = (tables.body(column.look), cover > 0.0) {
                    for (value, seen) in values.iter_mut().zip(course) {
                        *value += k_per_w * cover * own * seen;
                    }
                }
            }
            warmth
        };
        let rows: Vec<Vec<f64>> = chosen.par_iter().map(row).collect();
        let mut values = vec![0.0; chosen.len() * samples * m];
        values.par_chunks_mut(chosen.len().max(1)).enumerate().for_each(|(at, column)| {
            column.iter_mut().zip(&rows).for_each(|(value, row)| *value = row[at]);
        });
        DMatrix::from_vec(chosen.len(), samples * m, values)
    }

    /// The board's rise per watt at each sample; what a part covers has that part's one temperature.
    fn warmth(&self, table: &RadialTable, terms: &Terms, out: &mut Vec<f64>) {
        let m = self.vectors;
        out.clear();
        out.resize((terms.starts.len() - 1) * m, 0.0);
        for (field, ends) in out.chunks_exact_mut(m).zip(terms.starts.windows(2)) {
            for &(row, share) in &terms.terms[ends[0] as usize..ends[1] as usize] {
                table.add(f64::from(row), f64::from(share), field);
            }
        }
        let mut start = self.surface.emissivity.len() * m;
        let mut mean = vec![0.0; m];
        for patch in &self.surface.patches {
            let end = start + patch.points.len() * m;
            mean.fill(0.0);
            for point in out[start..end].chunks_exact(m) {
                for (sum, value) in mean.iter_mut().zip(point) {
                    *sum += value / patch.points.len() as f64;
                }
            }
            start = end;
            for &(sample, share) in &patch.places {
                for (value, mean) in out[sample * m..(sample + 1) * m].iter_mut().zip(&mean) {
                    *value += share * (mean - *value);
                }
            }
        }
    }
}

/// `points` are samples, then the points under parts; `None` off the board.
fn terms(candidate: &Candidate<'_>, points: &[Option<Point2<f64>>], mirrors: &Mirrors, optics: &Optics) -> Terms {
    let (reach_mm, grid) = (optics.reach_mm, optics.grid());
    let spread = &candidate.spread;
    let images = mirrors.images(spread.centre_mm, reach_mm);
    let share = 1.0 / spread.points.len() as f32;
    let far_away = FAR_AWAY * spread.radius_mm;
    let mut starts = vec![0_u32];
    let mut terms: Vec<(f32, f32)> = Vec::new();
    for point in points {
        if let Some(at) = point {
            let mut add = |p: &Point2<f64>, share: f32| {
                let distance = (p - at).norm();
                if distance <= reach_mm {
                    terms.push((grid.row(distance) as f32, share));
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
