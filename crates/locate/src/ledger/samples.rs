//! The places whose coefficients are fitted: fine cells around the hot spots, coarse ones over the rest of the picture.

use nalgebra::Point2;
use rayon::prelude::*;

use super::LedgerInput;
use crate::board::{Face, Footprint};

/// Fine cells reach this far from a hot spot, or this many pixels.
const NEAR_MM: f64 = 5.0;
const NEAR_PX: f64 = 8.0;
/// Sides of fine and coarse cells, rounded to whole pixels.
const FINE_MM: f64 = 0.35;
const COARSE_MM: f64 = 2.0;
/// More fine cells than this are not used: the cells get larger instead.
const MOST_FINE: usize = 2500;
/// Coarse cells off the board, at most: they only hold the level.
const MOST_OFF_BOARD: usize = 150;
/// Off the board means this far from it, so that neither blur nor alignment bring the board in.
const OFF_BOARD_MM: f64 = 2.0;
/// Blocks that are left out in turn have this side.
const BLOCK_MM: f64 = 3.0;

/// Mean coefficients over a cell.
#[derive(Clone, Debug)]
pub(super) struct Sample {
    pub(super) at_mm: Point2<f64>,
    /// Coefficients in the take's unit, one per vector.
    pub(super) seen: Vec<f64>,
    /// Variance of each from the pixel noise.
    pub(super) variance: f64,
    /// Side of the cell.
    pub(super) side_mm: f64,
    pub(super) on_board: bool,
    /// Group that is left out together, not yet reduced to the number of groups.
    pub(super) block: usize,
}

/// Cells of the picture.
pub(super) fn samples(input: &LedgerInput<'_>, face: &Face) -> Vec<Sample> {
    let alignment = input.scene.alignment;
    let (width, height) = (input.coefficients[0].width, input.coefficients[0].height);
    let Some(first) = input.hot_spots.first() else { return Vec::new() };
    let mm_per_px = alignment.mm_per_px(first.centre_px);
    let near_mm = NEAR_MM.max(NEAR_PX * mm_per_px);
    let fine_count = input.hot_spots.len() as f64 * std::f64::consts::PI * (near_mm / mm_per_px).powi(2);
    let fewer = (fine_count / MOST_FINE as f64).sqrt();
    let fine = ((FINE_MM / mm_per_px).round().max(fewer.ceil()) as usize).max(1);
    let coarse = ((COARSE_MM / mm_per_px / fine as f64).round() as usize).max(2) * fine;
    let strip = |top: usize| {
        let (mut on_board, mut off_board) = (Vec::new(), Vec::new());
        for left in (0..width).step_by(coarse) {
            let (bottom, right) = ((top + coarse).min(height), (left + coarse).min(width));
            let centre = Point2::new((left + right - 1) as f64 / 2.0, (top + bottom - 1) as f64 / 2.0);
            let at_mm = alignment.to_board(centre);
            let near = input.hot_spots.iter().any(|h| (h.centre_mm - at_mm).norm() < near_mm);
            if near {
                for y in (top..bottom).step_by(fine) {
                    for x in (left..right).step_by(fine) {
                        let cell = Cell { x, y, right: (x + fine).min(right), bottom: (y + fine).min(bottom) };
                        on_board.extend(cell.mean(input, face).filter(|s| s.on_board));
                    }
                }
            } else if let Some(sample) = (Cell { x: left, y: top, right, bottom }).mean(input, face) {
                if sample.on_board { on_board.push(sample) } else { off_board.push(sample) }
            }
        }
        (on_board, off_board)
    };
    let tops: Vec<usize> = (0..height).step_by(coarse).collect();
    let (on_board, off_board): (Vec<_>, Vec<_>) = tops.into_par_iter().map(strip).unzip();
    let mut on_board = on_board.concat();
    let off_board = off_board.concat();
    let every = off_board.len().div_ceil(MOST_OFF_BOARD).max(1);
    on_board.extend(off_board.into_iter().step_by(every));
    on_board
}

struct Cell {
    x: usize,
    y: usize,
    right: usize,
    bottom: usize,
}

impl Cell {
    /// `None` for cells across the board's edge or without usable pixels.
    fn mean(&self, input: &LedgerInput<'_>, face: &Face) -> Option<Sample> {
        let alignment = input.scene.alignment;
        let corner = |x: usize, y: usize| alignment.to_board(Point2::new(x as f64 - 0.5, y as f64 - 0.5));
        let corners = [
            corner(self.x, self.y),
            corner(self.right, self.y),
            corner(self.right, self.bottom),
            corner(self.x, self.bottom),
        ];
        let inside = corners.iter().filter(|c| face.outline_contains(**c)).count();
        let centre = Point2::new((self.x + self.right - 1) as f64 / 2.0, (self.y + self.bottom - 1) as f64 / 2.0);
        let at_mm = alignment.to_board(centre);
        let on_board = match inside {
            4 => true,
            0 if distance_to_outline_mm(face, at_mm) > OFF_BOARD_MM => false,
            _ => return None,
        };
        let width = input.coefficients[0].width;
        let mut seen = vec![0.0; input.coefficients.len()];
        let (mut variance, mut count) = (0.0, 0.0);
        for y in self.y..self.bottom {
            for p in y * width + self.x..y * width + self.right {
                if input.noise.unusable[p] {
                    continue;
                }
                let sigma = f64::from(input.noise.sigma[p]);
                for (sum, plane) in seen.iter_mut().zip(input.coefficients) {
                    *sum += f64::from(plane.values[p]) * sigma;
                }
                variance += sigma * sigma;
                count += 1.0;
            }
        }
        if count == 0.0 {
            return None;
        }
        for value in &mut seen {
            *value /= count;
        }
        let block = ((at_mm.x / BLOCK_MM).floor() as i64).wrapping_mul(7) + ((at_mm.y / BLOCK_MM).floor() as i64) * 3;
        Some(Sample {
            at_mm,
            seen,
            variance: variance / (count * count),
            side_mm: (corners[0] - corners[1]).norm(),
            on_board,
            block: block.rem_euclid(super::equations::BLOCKS as i64) as usize,
        })
    }
}

fn distance_to_outline_mm(face: &Face, point: Point2<f64>) -> f64 {
    let n = face.outline.len();
    (0..n)
        .map(|i| {
            let (a, b) = (Point2::from(face.outline[i]), Point2::from(face.outline[(i + 1) % n]));
            let along = b - a;
            let t = ((point - a).dot(&along) / along.norm_squared().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
            (point - (a + along * t)).norm()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Share of a Gaussian of standard deviation `sigma_mm` around a point that falls on the footprint.
pub(super) fn cover(footprint: &Footprint, at_mm: Point2<f64>, sigma_mm: f64) -> f64 {
    let own = footprint.own_from_board(at_mm);
    let scale = sigma_mm * std::f64::consts::SQRT_2;
    let along = |x: f64, half: f64| {
        if x.abs() - half > 4.0 * sigma_mm {
            return 0.0;
        }
        let erf = statrs::function::erf::erf;
        0.5 * (erf((x + half) / scale) - erf((x - half) / scale))
    };
    along(own.x, footprint.half_mm.x) * along(own.y, footprint.half_mm.y)
}
