//! Heat along the feed path: with a low-ohm short the copper between the probe and the short warms too.
//!
//! Current that goes on beyond a warm place makes heat beyond it; a short takes all of it. So a hot spot lies *on the path* when the
//! stretch from it to another hot spot takes watts of its own in the joint fit. Where the copper runs is not on the drawing:
//! the way is taken from the rise itself, as the path of least cost from the probe's mark where warm places are cheap (Dijkstra, Numer. Math.
//! 1 (1959) 269).

use std::{cmp::Reverse, collections::BinaryHeap};

use nalgebra::Point2;

use super::{LedgerInput, SpotRole, geometry::Spread};
use crate::board::Face;

/// Heat this near to the probe's mark, besides blur, is the probe's contact.
const PROBE_MM: f64 = 1.0;
/// A hot spot this near to a path, besides blur, lies on it.
const ON_PATH_MM: f64 = 1.5;
/// Stretches end this far from hot spots and mark, whose own heat they would take; shorter ones than this cannot be told.
const CLEAR_MM: f64 = 1.0;
const LEAST_STRETCH_MM: f64 = 1.5;
/// Points that stand for a stretch are this far apart.
const POINT_MM: f64 = 0.75;
/// Most grid points along a side: the way need not be fine.
const MOST_SIDE: usize = 160;
/// Cost of a cold place against one as warm as the goal.
const COLD: f64 = 0.05;
/// A stretch that takes less than this share of all watts is no path.
const LEAST_SHARE: f64 = 0.02;

/// A piece of a feed path between the mark or a hot spot and the next hot spot.
#[derive(Clone, Debug)]
pub(super) struct Stretch {
    /// Hot spot that it starts at; `None` for the mark.
    pub(super) from: Option<usize>,
    pub(super) to: usize,
    pub(super) spread: Spread,
}

/// Stretches from the mark to all hot spots; none without a mark.
pub(super) fn stretches(input: &LedgerInput<'_>, face: &Face) -> Vec<Stretch> {
    let Some(mark) = input.scene.injection_mm else { return Vec::new() };
    let Some(field) = Field::new(input, face) else { return Vec::new() };
    let mut found: Vec<Stretch> = Vec::new();
    for (goal, spot) in input.hot_spots.iter().enumerate() {
        if at_probe(input, goal) {
            continue;
        }
        let way = field.way(mark, spot.centre_mm, spot.rise.end);
        let mut nodes: Vec<(Option<usize>, usize)> = vec![(None, 0)];
        let mut passed: Vec<(usize, usize)> = (0..input.hot_spots.len())
            .filter(|&i| i != goal && !at_probe(input, i))
            .filter_map(|i| {
                let (place, distance_mm) = nearest(&way, input.hot_spots[i].centre_mm)?;
                (distance_mm <= ON_PATH_MM + blur_mm(input, i)).then_some((i, place))
            })
            .collect();
        passed.sort_by_key(|p| p.1);
        nodes.extend(passed.into_iter().map(|(i, place)| (Some(i), place)));
        nodes.push((Some(goal), way.len().saturating_sub(1)));
        for pair in nodes.windows(2) {
            let (from, Some(to)) = (pair[0].0, pair[1].0) else { continue };
            if found.iter().any(|s| s.from == from && s.to == to) {
                continue;
            }
            if let Some(spread) = trimmed(&way[pair[0].1..=pair[1].1]) {
                found.push(Stretch { from, to, spread });
            }
        }
    }
    found
}

/// Roles from the watts of each stretch.
pub(super) fn roles(input: &LedgerInput<'_>, stretches: &[Stretch], watts: &[f64], total: f64) -> Vec<SpotRole> {
    let warm = |s: &usize| watts[*s] >= LEAST_SHARE * total && watts[*s] > 0.0;
    let warm: Vec<&Stretch> = (0..stretches.len()).filter(warm).map(|s| &stretches[s]).collect();
    (0..input.hot_spots.len())
        .map(|i| {
            if at_probe(input, i) {
                return SpotRole::AtProbe;
            }
            let onwards = warm.iter().find(|s| s.from == Some(i));
            match onwards {
                Some(stretch) => SpotRole::OnPath { towards: stretch.to },
                None if warm.iter().any(|s| s.to == i) => SpotRole::End,
                None => SpotRole::Own,
            }
        })
        .collect()
}

fn at_probe(input: &LedgerInput<'_>, spot: usize) -> bool {
    let at_mm = input.hot_spots[spot].centre_mm;
    input.scene.injection_mm.is_some_and(|mark| (mark - at_mm).norm() <= PROBE_MM + blur_mm(input, spot))
}

/// Blur of the picture and uncertainty of the alignment at a hot spot.
fn blur_mm(input: &LedgerInput<'_>, spot: usize) -> f64 {
    let spot = &input.hot_spots[spot];
    let blur_mm = super::BLUR_PX * input.scene.alignment.mm_per_px(spot.centre_px);
    (blur_mm.powi(2) + spot.covariance_mm2.trace() / 2.0).sqrt()
}

fn nearest(way: &[Point2<f64>], point: Point2<f64>) -> Option<(usize, f64)> {
    way.iter().map(|p| (p - point).norm()).enumerate().min_by(|a, b| a.1.total_cmp(&b.1))
}

/// Points along a way, at even distances, clear of its ends.
fn trimmed(way: &[Point2<f64>]) -> Option<Spread> {
    let steps: Vec<f64> = way.windows(2).map(|w| (w[1] - w[0]).norm()).collect();
    let length: f64 = steps.iter().sum();
    if length - 2.0 * CLEAR_MM < LEAST_STRETCH_MM {
        return None;
    }
    let count = ((length - 2.0 * CLEAR_MM) / POINT_MM).ceil().max(2.0) as usize;
    let points: Vec<Point2<f64>> = (0..count)
        .map(|i| {
            let mut rest = CLEAR_MM + (length - 2.0 * CLEAR_MM) * (i as f64 + 0.5) / count as f64;
            for (pair, step) in way.windows(2).zip(&steps) {
                if rest <= *step {
                    return pair[0] + (pair[1] - pair[0]) * (rest / step.max(f64::MIN_POSITIVE));
                }
                rest -= step;
            }
            way[way.len() - 1]
        })
        .collect();
    let centre_mm =
        Point2::from(points.iter().fold(nalgebra::Vector2::zeros(), |sum, p| sum + p.coords) / count as f64);
    let radius_mm = points.iter().map(|p| (p - centre_mm).norm()).fold(0.0, f64::max);
    Some(Spread { centre_mm, points, radius_mm })
}

/// The rise on a coarse grid, with its places on the board.
struct Field<'a> {
    input: &'a LedgerInput<'a>,
    columns: usize,
    step_px: usize,
    /// Millimetres and rise per grid point; `None` off the board.
    places: Vec<Option<(Point2<f64>, f64)>>,
}

impl<'a> Field<'a> {
    fn new(input: &'a LedgerInput<'a>, face: &Face) -> Option<Self> {
        let rise = input.rise?;
        let step_px = rise.width.max(rise.height).div_ceil(MOST_SIDE);
        let columns = rise.width.div_ceil(step_px);
        let places = (0..rise.height.div_ceil(step_px) * columns)
            .map(|i| {
                let (x, y) = (i % columns * step_px, i / columns * step_px);
                let at_mm = input.scene.alignment.to_board(Point2::new(x as f64, y as f64));
                face.outline_contains(at_mm).then(|| (at_mm, f64::from(rise.at(x, y))))
            })
            .collect();
        Some(Self { input, columns, step_px, places })
    }

    /// The path of least cost, both ends included. A straight line where there is no way over the board.
    fn way(&self, from_mm: Point2<f64>, to_mm: Point2<f64>, goal_rise: f64) -> Vec<Point2<f64>> {
        let (Some(start), Some(goal)) = (self.index(from_mm), self.index(to_mm)) else { return vec![from_mm, to_mm] };
        let warmth = |i: usize| {
            self.places[i].map(|(_, rise)| {
                let share = (rise / goal_rise.max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
                1.0 / (COLD + share).powi(2)
            })
        };
        let rows = self.places.len() / self.columns;
        let mut cost = vec![f64::INFINITY; self.places.len()];
        let mut before = vec![usize::MAX; self.places.len()];
        let mut open = BinaryHeap::from([(Reverse(Ordered(0.0)), start)]);
        cost[start] = 0.0;
        while let Some((Reverse(Ordered(so_far)), here)) = open.pop() {
            if here == goal {
                break;
            }
            if so_far > cost[here] {
                continue;
            }
            let (x, y) = (here % self.columns, here / self.columns);
            for v in y.saturating_sub(1)..=(y + 1).min(rows - 1) {
                for u in x.saturating_sub(1)..=(x + 1).min(self.columns - 1) {
                    let next = v * self.columns + u;
                    let (Some(a), Some(b)) = (warmth(here), warmth(next)) else { continue };
                    let length = if u != x && v != y { std::f64::consts::SQRT_2 } else { 1.0 };
                    let total = so_far + length * (a + b) / 2.0;
                    if total < cost[next] {
                        cost[next] = total;
                        before[next] = here;
                        open.push((Reverse(Ordered(total)), next));
                    }
                }
            }
        }
        let mut way = vec![to_mm];
        let mut here = goal;
        while before[here] != usize::MAX {
            here = before[here];
            way.extend(self.places[here].map(|p| p.0).filter(|_| here != start));
        }
        way.push(from_mm);
        way.reverse();
        way
    }

    fn index(&self, at_mm: Point2<f64>) -> Option<usize> {
        let px = self.input.scene.alignment.to_image(at_mm) / self.step_px as f64;
        let (x, y) = (px.x.round(), px.y.round());
        let rows = self.places.len() / self.columns;
        let inside = x >= 0.0 && y >= 0.0 && (x as usize) < self.columns && (y as usize) < rows;
        inside.then(|| y as usize * self.columns + x as usize).filter(|i| self.places[*i].is_some())
    }
}

/// A cost, which is never "not a number".
#[derive(PartialEq)]
struct Ordered(f64);

impl Eq for Ordered {}

impl PartialOrd for Ordered {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Ordered {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}
