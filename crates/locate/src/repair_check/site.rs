//! Rises of both takes at the same places of the board.
//!
//! A place's rise is the mean of the rise map under a Gaussian of the spot's own size, in both pictures over the same millimetres. What
//! the recording scatters there is learnt from the same mean at other places of the board, drifts included.

use nalgebra::Point2;
use ndarray::Array2;

use super::{Difference, Side};
use crate::{HotSpot, board::Footprint};

/// Places that the scatter is learnt from are this many sizes away from hot spots.
const AWAY: f64 = 4.0;
/// So many of them make a scatter.
const LEAST_PLACES: usize = 12;
/// Most cells of the difference's longer edge.
const MOST_CELLS: f64 = 400.0;
/// Normal consistency of the median absolute deviation.
const MAD_TO_SIGMA: f64 = 1.4826;

/// The site's rise in both takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SiteRise {
    /// Where, on the face.
    pub at_mm: Point2<f64>,
    /// Size of the mean's Gaussian, millimetres.
    pub sigma_mm: f64,
    /// Before, in the takes' unit.
    pub before: f64,
    /// Its standard error.
    pub before_se: f64,
    /// After, brought to the power before where that was possible.
    pub after: f64,
    /// Its standard error, brought along.
    pub after_se: f64,
}

/// Mean rise over a part in both takes.
#[derive(Clone, Debug, PartialEq)]
pub struct PartRise {
    /// Designator.
    pub part: String,
    /// Before.
    pub before: f64,
    /// Its standard error from the pixels' noise.
    pub before_se: f64,
    /// After, brought to the power before.
    pub after: f64,
    /// Its standard error, brought along.
    pub after_se: f64,
}

/// Value of a map between its pixels; `None` outside.
fn between(map: &Array2<f32>, at: Point2<f64>) -> Option<f64> {
    let (height, width) = map.dim();
    let (x0, y0) = (at.x.floor(), at.y.floor());
    if !(x0 >= 0.0 && y0 >= 0.0 && x0 + 1.0 < width as f64 && y0 + 1.0 < height as f64) {
        return None;
    }
    let (fx, fy) = (at.x - x0, at.y - y0);
    let (x, y) = (x0 as usize, y0 as usize);
    let v = |dy: usize, dx: usize| f64::from(map[[y + dy, x + dx]]);
    let value = (1.0 - fy) * ((1.0 - fx) * v(0, 0) + fx * v(0, 1)) + fy * ((1.0 - fx) * v(1, 0) + fx * v(1, 1));
    value.is_finite().then_some(value)
}

/// Mean rise under a Gaussian at a place of the face, with its standard error from the pixels' own. `None` where more than a tenth of it is
/// outside the picture.
fn mean_at(side: &Side<'_>, at_mm: Point2<f64>, sigma_mm: f64) -> Option<(f64, f64)> {
    let alignment = side.scene.alignment;
    let maps = &side.located.maps;
    let centre = alignment.to_image(at_mm);
    let mm_per_px = alignment.mm_per_px(centre);
    let reach = (2.5 * sigma_mm / mm_per_px).ceil().max(1.0) as i64;
    let (height, width) = maps.rise.dim();
    let (mut sum, mut variance, mut weights, mut lost) = (0.0, 0.0, 0.0, 0.0);
    for dy in -reach..=reach {
        for dx in -reach..=reach {
            let (x, y) = (centre.x.round() as i64 + dx, centre.y.round() as i64 + dy);
            let there = alignment.to_board(Point2::new(x as f64, y as f64));
            let w = (-0.5 * (there - at_mm).norm_squared() / (sigma_mm * sigma_mm)).exp();
            let inside = x >= 0 && y >= 0 && (x as usize) < width && (y as usize) < height;
            let read = |map: &Array2<f32>| f64::from(map[[y as usize, x as usize]]);
            match inside.then(|| (read(&maps.rise), read(&maps.rise_se))) {
                Some((rise, se)) if rise.is_finite() && se.is_finite() => {
                    sum += w * rise;
                    variance += w * w * se * se;
                    weights += w;
                }
                _ => lost += w,
            }
        }
    }
    (weights > 0.0 && lost < 0.1 * (weights + lost)).then(|| (sum / weights, variance.sqrt() / weights))
}

/// What the same mean scatters by elsewhere on the board, where nothing warms.
fn scatter(side: &Side<'_>, sigma_mm: f64, site_mm: Point2<f64>) -> Option<f64> {
    let face = side.scene.board.face(side.scene.face)?;
    let (low, high) = bounds(&face.outline)?;
    let step = 2.0 * sigma_mm;
    let spots: Vec<Point2<f64>> = side.located.hot_spots.iter().map(|s| s.centre_mm).chain([site_mm]).collect();
    let far = |p: Point2<f64>, sizes: f64| spots.iter().all(|s| (p - s).norm() > sizes * sigma_mm);
    let places: Vec<Point2<f64>> = (0..=((high.y - low.y) / step) as usize)
        .flat_map(|j| (0..=((high.x - low.x) / step) as usize).map(move |i| (i, j)))
        .map(|(i, j)| low + nalgebra::Vector2::new(i as f64, j as f64) * step)
        .filter(|p| face.outline_contains(*p) && far(*p, AWAY))
        .collect();
    // The farther half from the strongest spot: heat that spread is no noise.
    let mut values: Vec<(f64, f64)> = places
        .iter()
        .filter_map(|p| {
            let distance = spots.iter().map(|s| (p - s).norm()).fold(f64::INFINITY, f64::min);
            Some((distance, mean_at(side, *p, sigma_mm)?.0))
        })
        .collect();
    if values.len() < LEAST_PLACES {
        return None;
    }
    values.sort_by(|a, b| b.0.total_cmp(&a.0));
    values.truncate((values.len() / 2).max(LEAST_PLACES));
    let mut rises: Vec<f64> = values.iter().map(|v| v.1).collect();
    let median = median(&mut rises);
    let mut off: Vec<f64> = rises.iter().map(|v| (v - median).abs()).collect();
    Some(MAD_TO_SIGMA * self::median(&mut off))
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(0.0)
}

fn bounds(outline: &[[f64; 2]]) -> Option<(Point2<f64>, Point2<f64>)> {
    let fold = |axis: usize, pick: fn(f64, f64) -> f64| outline.iter().map(|p| p[axis]).reduce(pick);
    Some((Point2::new(fold(0, f64::min)?, fold(1, f64::min)?), Point2::new(fold(0, f64::max)?, fold(1, f64::max)?)))
}

/// Both takes at the spot's place; `None` when it is outside either picture.
pub(super) fn site(before: &Side<'_>, after: &Side<'_>, spot: &HotSpot, scale: f64) -> Option<SiteRise> {
    let px = |s: &Side<'_>| s.scene.alignment.mm_per_px(s.scene.alignment.to_image(spot.centre_mm));
    let sigma_mm = (spot.scale_px * px(before)).max(px(before)).max(px(after));
    let of = |side: &Side<'_>, at_mm: Point2<f64>| {
        let (rise, se) = mean_at(side, at_mm, sigma_mm)?;
        Some((rise, scatter(side, sigma_mm, spot.centre_mm).map_or(se, |s| s.max(se))))
    };
    let (b, b_se) = of(before, spot.centre_mm)?;
    // Where the after-picture lies is known to its alignment's error only: the warmest place within two of them counts, so that a shifted
    // picture is not taken for a cold one.
    let doubt =
        |s: &Side<'_>| s.scene.alignment.covariance_mm2(s.scene.alignment.to_image(spot.centre_mm)).trace() / 2.0;
    let step_mm = 2.0 * (doubt(before) + doubt(after)).max(0.0).sqrt();
    let around = [(0.0, 0.0), (1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)];
    let places = around.map(|(x, y)| spot.centre_mm + nalgebra::Vector2::new(x, y) * step_mm);
    let (a, a_se) = places
        .iter()
        .filter_map(|p| of(after, *p))
        .max_by(|x, y| x.0.total_cmp(&y.0))
        .filter(|_| of(after, places[0]).is_some())?;
    Some(SiteRise {
        at_mm: spot.centre_mm,
        sigma_mm,
        before: b,
        before_se: b_se,
        after: scale * a,
        after_se: scale * a_se,
    })
}

/// Mean over every part's footprint in both takes, the largest change first.
pub(super) fn parts(before: &Side<'_>, after: &Side<'_>, scale: f64) -> Vec<PartRise> {
    let Some(face) = before.scene.board.face(before.scene.face) else { return Vec::new() };
    let mut rows: Vec<PartRise> = face
        .parts
        .iter()
        .filter_map(|part| {
            let footprint = Footprint::from(part);
            let sigma_mm = (footprint.area_mm2() / std::f64::consts::PI).sqrt() / 1.5;
            let at = Point2::new(part.x_mm, part.y_mm);
            let px = |s: &Side<'_>| s.scene.alignment.mm_per_px(s.scene.alignment.to_image(at));
            let sigma_mm = sigma_mm.max(0.5 * px(before)).max(0.5 * px(after));
            let (b, b_se) = mean_at(before, at, sigma_mm)?;
            let (a, a_se) = mean_at(after, at, sigma_mm)?;
            Some(PartRise {
                part: part.designator.clone(),
                before: b,
                before_se: b_se,
                after: scale * a,
                after_se: scale * a_se,
            })
        })
        .collect();
    rows.sort_by(|x, y| (y.before - y.after).abs().total_cmp(&(x.before - x.after).abs()));
    rows
}

/// The map of the difference over the face.
pub(super) fn difference(before: &Side<'_>, after: &Side<'_>, scale: f64) -> Option<Difference> {
    let face = before.scene.board.face(before.scene.face)?;
    let (low, high) = bounds(&face.outline)?;
    let middle = nalgebra::center(&low, &high);
    let px = |s: &Side<'_>| s.scene.alignment.mm_per_px(s.scene.alignment.to_image(middle));
    let edge = (high - low).max();
    let step_mm = px(before).max(px(after)).max(edge / MOST_CELLS);
    if !(step_mm.is_finite() && step_mm > 0.0) {
        return None;
    }
    let cells = |length: f64| (length / step_mm).floor() as usize + 1;
    let (columns, rows) = (cells(high.x - low.x), cells(high.y - low.y));
    let mut rise = Array2::from_elem((rows, columns), f32::NAN);
    let mut se = rise.clone();
    for j in 0..rows {
        for i in 0..columns {
            let at = low + nalgebra::Vector2::new(i as f64, j as f64) * step_mm;
            if !face.outline_contains(at) {
                continue;
            }
            let read = |s: &Side<'_>| {
                let p = s.scene.alignment.to_image(at);
                Some((between(&s.located.maps.rise, p)?, between(&s.located.maps.rise_se, p)?))
            };
            if let (Some((b, b_se)), Some((a, a_se))) = (read(before), read(after)) {
                rise[[j, i]] = (b - scale * a) as f32;
                se[[j, i]] = b_se.hypot(scale * a_se) as f32;
            }
        }
    }
    Some(Difference { origin_mm: [low.x, low.y], step_mm, rise, se })
}
