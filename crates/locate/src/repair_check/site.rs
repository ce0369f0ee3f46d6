//! Rises of both takes at the same places of the board.
//!
//! A place's rise is the mean of the rise map under a Gaussian of the spot's own size, in both pictures over the same millimetres. What
//! the recording scatters there is learnt from the same mean at other places of the board, drifts included.

use nalgebra::{Point2, Vector2};
use ndarray::Array2;

use super::{
    Difference, Side,
    place::{Measured, Place, RING, Scatter, between, bounds, mean_at},
};
use crate::{
    HotSpot,
    board::{Footprint, Part},
};

/// Most cells of the difference's longer edge.
const MOST_CELLS: f64 = 400.0;
/// A hot spot nearer than this to a place is the same one, millimetres.
const SAME_PLACE_MM: f64 = 1.5;
/// Next to another source a spot is measured at no less than this share of its size.
const LEAST_SIZE: f64 = 0.5;
/// And within this many standard deviations of both centres.
const SAME_PLACE_SIGMAS: f64 = 3.0;

/// A place's rise in both takes.
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
    /// What was made at the place itself before: its rise less that of the ring around it; `None` where the ring is outside the picture or has
    /// another hot spot within.
    pub own_before: Option<Measured>,
    /// The same after, brought to the power before.
    pub own_after: Option<Measured>,
}

impl SiteRise {
    /// After less before; the errors of the two takes are independent.
    pub fn change(&self) -> Measured {
        Measured { value: self.after - self.before, se: self.after_se.hypot(self.before_se) }
    }
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

/// A hot spot of either take, in both.
#[derive(Clone, Debug, PartialEq)]
pub struct SpotRise {
    /// Its index in the take before; `None` where that shows no hot spot there.
    pub index_before: Option<usize>,
    /// Its index in the take after.
    pub index_after: Option<usize>,
    /// Where, on the face.
    pub at_mm: Point2<f64>,
    /// The part first suspected for it: after where it is found there, otherwise before.
    pub part: Option<String>,
    /// What both takes show at its place; `None` where that is outside one of the pictures.
    pub rise: Option<SiteRise>,
}

/// Standard deviation of a spot's centre on the face, millimetres.
fn centre_sigma_mm(spot: &HotSpot) -> f64 {
    spot.covariance_mm2.trace().max(0.0).sqrt()
}

/// Distance of the nearest hot spot of either take that is at another place; infinite without one.
fn other_source_mm(before: &Side<'_>, after: &Side<'_>, spot: &HotSpot) -> f64 {
    let all = before.located.hot_spots.iter().chain(&after.located.hot_spots);
    let apart = all.filter(|s| !same_place(s, spot)).map(|s| (s.centre_mm - spot.centre_mm).norm());
    apart.fold(f64::INFINITY, f64::min)
}

/// Whether two takes' spots are at one place.
pub(super) fn same_place(a: &HotSpot, b: &HotSpot) -> bool {
    let doubt_mm = centre_sigma_mm(a).hypot(centre_sigma_mm(b));
    (a.centre_mm - b.centre_mm).norm() <= SAME_PLACE_MM.max(SAME_PLACE_SIGMAS * doubt_mm)
}

/// Both takes at a spot's place, `seen` being the side that it was found in; `None` when it is outside either picture.
pub(super) fn site(
    before: &Side<'_>,
    after: &Side<'_>,
    seen: &Side<'_>,
    spot: &HotSpot,
    scale: f64,
) -> Option<SiteRise> {
    let at_mm = spot.centre_mm;
    let px = |s: &Side<'_>| s.scene.alignment.mm_per_px(s.scene.alignment.to_image(at_mm));
    let least_mm = px(before).max(px(after));
    // Another source within the ring would be taken off as if its heat came from afar: a smaller ring, or none.
    let other_mm = other_source_mm(before, after, spot);
    let size_mm = spot.scale_px * px(seen);
    let sigma_mm = size_mm.min((other_mm / RING[1]).max(LEAST_SIZE * size_mm)).max(least_mm);
    let ring = other_mm > RING[0] * sigma_mm;
    // Where the other picture lies is known to its alignment's error only: the warmest place within two of them counts, so that a shifted
    // picture is not taken for a cold one.
    let doubt = |s: &Side<'_>| s.scene.alignment.covariance_mm2(s.scene.alignment.to_image(at_mm)).trace() / 2.0;
    let step_mm = 2.0 * (doubt(before) + doubt(after)).max(0.0).sqrt();
    let around = [(0.0, 0.0), (1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)];
    let of = |side: &Side<'_>| {
        let scatter = Scatter::of(side, sigma_mm, at_mm);
        let middle = Place::at(side, at_mm, sigma_mm, scatter)?;
        if std::ptr::eq(side, seen) {
            return Some(middle);
        }
        let near = around.map(|(x, y)| at_mm + Vector2::new(x, y) * step_mm);
        let found: Vec<Place> = near.iter().filter_map(|p| Place::at(side, *p, sigma_mm, scatter)).collect();
        let warmest =
            |of: fn(&Place) -> Option<Measured>| found.iter().filter_map(of).max_by(|x, y| x.value.total_cmp(&y.value));
        Some(Place { rise: warmest(|p| Some(p.rise))?, own: warmest(|p| p.own) })
    };
    let (b, a) = (of(before)?, of(after)?);
    Some(SiteRise {
        at_mm,
        sigma_mm,
        before: b.rise.value,
        before_se: b.rise.se,
        after: scale * a.rise.value,
        after_se: scale * a.rise.se,
        own_before: b.own.filter(|_| ring),
        own_after: a.own.map(|o| o.times(scale)).filter(|_| ring),
    })
}

/// Every hot spot of either take, those before first; one that both show at the same place is named once.
pub(super) fn spots(before: &Side<'_>, after: &Side<'_>, scale: f64) -> Vec<SpotRise> {
    let part = |side: &Side<'_>, i: usize| side.located.answers[i].suspects.first().map(|s| s.part.clone());
    let (old, new) = (&before.located.hot_spots, &after.located.hot_spots);
    let mut taken = vec![false; new.len()];
    let mut rows: Vec<SpotRise> = Vec::new();
    for (i, spot) in old.iter().enumerate() {
        let nearest = (0..new.len()).filter(|&j| !taken[j] && same_place(spot, &new[j])).min_by(|&x, &y| {
            let d = |j: usize| (new[j].centre_mm - spot.centre_mm).norm();
            d(x).total_cmp(&d(y))
        });
        if let Some(j) = nearest {
            taken[j] = true;
        }
        rows.push(SpotRise {
            index_before: Some(i),
            index_after: nearest,
            at_mm: spot.centre_mm,
            part: nearest.and_then(|j| part(after, j)).or_else(|| part(before, i)),
            rise: site(before, after, before, spot, scale),
        });
    }
    rows.extend((0..new.len()).filter(|&j| !taken[j]).map(|j| SpotRise {
        index_before: None,
        index_after: Some(j),
        at_mm: new[j].centre_mm,
        part: part(after, j),
        rise: site(before, after, after, &new[j], scale),
    }));
    rows
}

/// Size of the Gaussian that stands for a part's footprint in two pictures, millimetres.
pub(super) fn part_sigma_mm(part: &Part, sides: [&Side<'_>; 2]) -> f64 {
    let at = Point2::new(part.x_mm, part.y_mm);
    let sigma_mm = (Footprint::from(part).area_mm2() / std::f64::consts::PI).sqrt() / 1.5;
    let px = sides.map(|s| s.scene.alignment.mm_per_px(s.scene.alignment.to_image(at)));
    sigma_mm.max(0.5 * px[0]).max(0.5 * px[1])
}

/// Mean over every part's footprint in both takes, the largest change first.
pub(super) fn parts(before: &Side<'_>, after: &Side<'_>, scale: f64) -> Vec<PartRise> {
    let Some(face) = before.scene.board.face(before.scene.face) else { return Vec::new() };
    let mut rows: Vec<PartRise> = face
        .parts
        .iter()
        .filter_map(|part| {
            let at = Point2::new(part.x_mm, part.y_mm);
            let sigma_mm = part_sigma_mm(part, [before, after]);
            let (b, a) = (mean_at(before, at, sigma_mm)?, mean_at(after, at, sigma_mm)?);
            Some(PartRise {
                part: part.designator.clone(),
                before: b.value,
                before_se: b.se,
                after: scale * a.value,
                after_se: scale * a.se,
            })
        })
        .collect();
    let change = |p: &PartRise| (p.before - p.after).abs();
    rows.sort_by(|x, y| change(y).total_cmp(&change(x)));
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
    let (mut se, mut map_before, mut map_after) = (rise.clone(), rise.clone(), rise.clone());
    for j in 0..rows {
        for i in 0..columns {
            let at = low + Vector2::new(i as f64, j as f64) * step_mm;
            if !face.outline_contains(at) {
                continue;
            }
            let read = |s: &Side<'_>| {
                let p = s.scene.alignment.to_image(at);
                Some((between(&s.located.maps.rise, p)?, between(&s.located.maps.rise_se, p)?))
            };
            let (b, a) = (read(before), read(after));
            map_before[[j, i]] = b.map_or(f32::NAN, |b| b.0 as f32);
            map_after[[j, i]] = a.map_or(f32::NAN, |a| (scale * a.0) as f32);
            if let (Some((b, b_se)), Some((a, a_se))) = (b, a) {
                rise[[j, i]] = (b - scale * a) as f32;
                se[[j, i]] = b_se.hypot(scale * a_se) as f32;
            }
        }
    }
    Some(Difference { origin_mm: [low.x, low.y], step_mm, before: map_before, after: map_after, rise, se })
}
