//! Who may take the watts: parts near the hot spots, parts that the current can reach, parts on the face behind, and
//! places off the drawing.

use nalgebra::Point2;

use super::{LedgerInput, geometry::Spread, path::Stretch};
use crate::board::{Face, Footprint, Part};

/// Parts this near to a hot spot, or this many pixels, are candidates whatever their rail, with all their templates.
const NEAR_MM: f64 = 3.0;
const NEAR_PX: f64 = 5.0;
/// Most candidates with all templates, and most further ones on the rail.
const MOST_NEAR: usize = 16;
const MOST_FAR: usize = 24;
const MOST_BEHIND: usize = 12;
/// Heat from behind is looked for this far around a hot spot.
const BEHIND_MM: f64 = 4.0;
/// Places off the drawing lie this far from all parts, and this far apart.
const OFF_PARTS_MM: f64 = 0.4;
const ELSEWHERE_PITCH_MM: f64 = 8.0;
const MOST_ELSEWHERE: usize = 40;

/// How a candidate's templates are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    /// On the face in the picture, near a hot spot.
    Near,
    /// On the face in the picture, on the rail, away from the hot spots.
    Far,
    /// On the face behind.
    Behind,
    /// On no part.
    Elsewhere,
    /// Along a feed path: index of the stretch.
    Stretch(usize),
}

/// A possible source.
#[derive(Clone, Debug)]
pub(super) struct Candidate<'a> {
    pub(super) part: Option<&'a Part>,
    pub(super) face: &'a str,
    pub(super) place: Place,
    pub(super) footprint: Option<Footprint>,
    pub(super) spread: Spread,
    pub(super) on_rail: bool,
}

impl Candidate<'_> {
    /// From a place to where it makes heat; zero inside.
    pub(super) fn distance_mm(&self, at_mm: Point2<f64>) -> f64 {
        match &self.footprint {
            Some(footprint) => footprint.distance_mm(at_mm),
            None => self.spread.distance_mm(at_mm),
        }
    }

    /// Copper between the probe's mark and a hot spot.
    pub(super) fn stretch(index: usize, stretch: &Stretch) -> Self {
        Self {
            part: None,
            face: "",
            place: Place::Stretch(index),
            footprint: None,
            spread: stretch.spread.clone(),
            on_rail: true,
        }
    }
}

/// All candidates. `pitch_mm` is that of the points which stand for a footprint.
pub(super) fn candidates<'a>(input: &LedgerInput<'a>, face: &'a Face, pitch_mm: f64) -> Vec<Candidate<'a>> {
    let nearest = |footprint: &Footprint| {
        input.hot_spots.iter().map(|h| footprint.distance_mm(h.centre_mm)).fold(f64::INFINITY, f64::min)
    };
    let on_rail = |part: &Part| input.joined.iter().any(|j| part.rails.contains(&j.rail));
    let mm_per_px = input.hot_spots.first().map_or(1.0, |h| input.scene.alignment.mm_per_px(h.centre_px));
    let near_mm = NEAR_MM.max(NEAR_PX * mm_per_px);
    let make = |part: &'a Part, seen: &Part, face: &'a Face, place: Place| {
        let footprint = Footprint::from(seen);
        Candidate {
            part: Some(part),
            face: &face.name,
            place,
            spread: Spread::of_footprint(&footprint, pitch_mm),
            footprint: Some(footprint),
            on_rail: on_rail(part),
        }
    };
    let mut front: Vec<(f64, &Part)> = face.parts.iter().map(|p| (nearest(&Footprint::from(p)), p)).collect();
    front.sort_by(|a, b| a.0.total_cmp(&b.0));
    let is_near = |rank: usize, distance_mm: f64| rank < MOST_NEAR && distance_mm <= near_mm;
    let mut found: Vec<Candidate<'a>> = Vec::new();
    let mut far = 0;
    for (rank, (distance_mm, part)) in front.iter().enumerate() {
        if is_near(rank, *distance_mm) {
            found.push(make(part, part, face, Place::Near));
        } else if on_rail(part) && far < MOST_FAR {
            far += 1;
            found.push(make(part, part, face, Place::Far));
        }
    }
    if let Some((through, far_face)) = face.through.as_ref().and_then(|t| Some((t, input.scene.board.face(&t.face)?))) {
        let mut behind: Vec<(f64, &Part, Part)> = far_face
            .parts
            .iter()
            .map(|part| {
                let seen = through.seen(part);
                (nearest(&Footprint::from(&seen)), part, seen)
            })
            .filter(|(distance_mm, _, _)| *distance_mm <= BEHIND_MM)
            .collect();
        behind.sort_by(|a, b| a.0.total_cmp(&b.0));
        behind.truncate(MOST_BEHIND);
        found.extend(behind.iter().map(|(_, part, seen)| make(part, seen, far_face, Place::Behind)));
    }
    found.extend(elsewhere(input, face).into_iter().map(|at_mm| Candidate {
        part: None,
        face: &face.name,
        place: Place::Elsewhere,
        footprint: None,
        spread: Spread::point(at_mm),
        on_rail: false,
    }));
    found
}

/// Each hot spot's own centre, and a coarse grid over the board.
fn elsewhere(input: &LedgerInput<'_>, face: &Face) -> Vec<Point2<f64>> {
    let on_a_part = |at: Point2<f64>| face.parts.iter().any(|p| Footprint::from(p).distance_mm(at) < OFF_PARTS_MM);
    let mut places: Vec<Point2<f64>> =
        input.hot_spots.iter().map(|h| h.centre_mm).filter(|at| !on_a_part(*at)).collect();
    let span = |axis: usize| {
        let values = || face.outline.iter().map(move |p| p[axis]);
        (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max))
    };
    let ((x0, x1), (y0, y1)) = (span(0), span(1));
    let area = ((x1 - x0) * (y1 - y0)).max(1.0);
    let pitch = ELSEWHERE_PITCH_MM.max((area / MOST_ELSEWHERE as f64).sqrt());
    let (nx, ny) = (((x1 - x0) / pitch).floor().max(1.0) as usize, ((y1 - y0) / pitch).floor().max(1.0) as usize);
    for i in 0..nx {
        for j in 0..ny {
            let at = Point2::new(
                x0 + (x1 - x0) * (i as f64 + 0.5) / nx as f64,
                y0 + (y1 - y0) * (j as f64 + 0.5) / ny as f64,
            );
            let clear = !on_a_part(at) && places.iter().all(|p| (p - at).norm() > pitch / 2.0);
            if clear && face.outline_contains(at) {
                places.push(at);
            }
        }
    }
    places
}
