//! What is drawn over the map: board, parts, rings of 95 % and the suspects' names, placed so that they hide no spot.

use image::RgbImage;
use joulemark_locate::{
    HotSpot, Located,
    align::Alignment,
    board::{Footprint, Part},
};
use nalgebra::{Matrix2, Point2};

use super::{
    stroke::{self, At, Pen},
    text::Typeface,
};
use crate::case::load::Loaded;

/// Square root of the 0.95 quantile of chi-squared with two degrees of freedom, -2 ln 0.05.
const RADIUS_95: f64 = 2.447_746_830_680_816;
/// A ring smaller than this on the canvas is drawn this large; the ticks around it say "here" anyway.
const LEAST_RING: f64 = 4.0;
const LABEL_HEIGHT: f32 = 26.0;
const LABEL_MARGIN: f32 = 6.0;

const HALO: Pen = Pen { colour: [0, 0, 0], opacity: 0.55, width: 5.0 };
const OUTLINE: Pen = Pen { colour: [255; 3], opacity: 0.75, width: 2.0 };
const PART: Pen = Pen { colour: [255; 3], opacity: 0.28, width: 1.2 };
const PART_ON_RAIL: Pen = Pen { colour: [255; 3], opacity: 0.60, width: 2.0 };
const SUSPECT: Pen = Pen { colour: [255; 3], opacity: 1.0, width: 3.5 };
const RING: Pen = Pen { colour: [96, 224, 255], opacity: 1.0, width: 2.2 };

/// The map on the canvas: `factor` canvas pixels a picture pixel.
pub(super) struct Marks<'a> {
    pub(super) loaded: &'a Loaded,
    pub(super) located: &'a Located,
    pub(super) factor: u32,
    pub(super) typeface: &'a Typeface,
}

/// A suspect to be named.
struct Named {
    text: String,
    corners: Vec<At>,
    spot: usize,
}

impl Marks<'_> {
    pub(super) fn draw(&self, map: &mut RgbImage) {
        let Some(face) = self.loaded.board.face(&self.located.face) else { return };
        let joined = self.loaded.board.joined_rails(&self.loaded.rail);
        let outline: Vec<At> = face.outline.iter().filter_map(|c| self.at_mm(Point2::new(c[0], c[1]))).collect();
        stroke::polyline(map, &outline, true, OUTLINE);
        for part in &face.parts {
            let on_rail = joined.iter().any(|j| part.rails.contains(&j.rail));
            stroke::polyline(map, &self.corners(part), true, if on_rail { PART_ON_RAIL } else { PART });
        }
        let named = self.named();
        for name in &named {
            stroke::polyline(map, &name.corners, true, Pen { width: SUSPECT.width + 3.0, ..HALO });
            stroke::polyline(map, &name.corners, true, SUSPECT);
        }
        let rings: Vec<Vec<At>> = self.located.hot_spots.iter().map(|s| self.ring(s)).collect();
        for (spot, ring) in self.located.hot_spots.iter().zip(&rings) {
            for line in std::iter::once((ring.clone(), true)).chain(self.ticks(spot, ring)) {
                stroke::polyline(map, &line.0, line.1, HALO);
                stroke::polyline(map, &line.0, line.1, RING);
            }
        }
        self.draw_labels(map, &named, &rings);
    }

    /// Canvas position of a picture point.
    fn at_px(&self, px: Point2<f64>) -> At {
        let f = f64::from(self.factor);
        // The centre of picture pixel 0 is the middle of its block of canvas pixels.
        [((px.x + 0.5) * f - 0.5) as f32, ((px.y + 0.5) * f - 0.5) as f32]
    }

    /// Canvas position of a face point; `None` behind the horizon of a steep view.
    fn at_mm(&self, mm: Point2<f64>) -> Option<At> {
        let alignment: &Alignment = &self.loaded.alignment;
        let at = self.at_px(alignment.to_image(mm));
        at.iter().all(|v| v.is_finite()).then_some(at)
    }

    fn corners(&self, part: &Part) -> Vec<At> {
        Footprint::from(part).corners_mm().into_iter().filter_map(|c| self.at_mm(c)).collect()
    }

    /// The first suspect of each hot spot, named once.
    fn named(&self) -> Vec<Named> {
        let mut named: Vec<(String, Named)> = Vec::new();
        for (spot, answer) in self.located.answers.iter().enumerate() {
            let Some(first) = answer.suspects.first() else { continue };
            let strongest = answer.nothing_probability.max(answer.off_drawing_probability);
            if first.probability < strongest || named.iter().any(|(part, _)| *part == first.part) {
                continue;
            }
            let Some((face, part)) = self.loaded.board.part(&first.part) else { continue };
            let share = format!("{:.0} %", (100.0 * first.probability).clamp(1.0, 99.0));
            let (seen, text) = if face.name == self.located.face {
                (part.clone(), format!("{}  {share}", part.designator))
            } else {
                let through = self.loaded.board.face(&self.located.face).and_then(|f| f.through.as_ref());
                let Some(through) = through.filter(|t| t.face == face.name) else { continue };
                (through.seen(part), format!("{}  {share}, behind on {}", part.designator, face.name))
            };
            named.push((first.part.clone(), Named { text, corners: self.corners(&seen), spot }));
        }
        named.into_iter().map(|(_, n)| n).collect()
    }

    /// The 95 % ellipse of a spot's centre.
    fn ring(&self, spot: &HotSpot) -> Vec<At> {
        const SIDES: usize = 72;
        let eigen = spot.covariance_px2.symmetric_eigen();
        let f = f64::from(self.factor);
        let radius = eigen.eigenvalues.map(|v| (RADIUS_95 * v.max(0.0).sqrt()).max(LEAST_RING / f));
        let axes: Matrix2<f64> = eigen.eigenvectors * Matrix2::from_diagonal(&radius);
        (0..SIDES)
            .map(|i| {
                let angle = i as f64 / SIDES as f64 * std::f64::consts::TAU;
                self.at_px(spot.centre_px + axes * nalgebra::Vector2::new(angle.cos(), angle.sin()))
            })
            .collect()
    }

    /// Four ticks that point at the ring from outside, so that a small ring is found.
    fn ticks(&self, spot: &HotSpot, ring: &[At]) -> impl Iterator<Item = (Vec<At>, bool)> {
        const GAP: f32 = 5.0;
        const LENGTH: f32 = 14.0;
        let [x, y] = self.at_px(spot.centre_px);
        let [x0, y0, x1, y1] = extent(ring);
        [
            vec![[x0 - GAP, y], [x0 - GAP - LENGTH, y]],
            vec![[x1 + GAP, y], [x1 + GAP + LENGTH, y]],
            vec![[x, y0 - GAP], [x, y0 - GAP - LENGTH]],
            vec![[x, y1 + GAP], [x, y1 + GAP + LENGTH]],
        ]
        .into_iter()
        .map(|line| (line, false))
    }

    fn draw_labels(&self, map: &mut RgbImage, named: &[Named], rings: &[Vec<At>]) {
        const TICKS: f32 = 22.0;
        let mut taken: Vec<[f32; 4]> = rings.iter().map(|r| grown(extent(r), TICKS)).collect();
        taken.extend(named.iter().map(|n| extent(&n.corners)));
        let size = [map.width() as f32, map.height() as f32];
        let mut labels: Vec<(String, [f32; 4])> = named
            .iter()
            .map(|n| (format!("{}  {}", n.spot + 1, n.text), union(extent(&n.corners), extent(&rings[n.spot]))))
            .collect();
        // A spot whose suspect is not named still gets its number.
        let unnamed = (0..rings.len()).filter(|i| named.iter().all(|n| n.spot != *i));
        labels.extend(unnamed.map(|i| ((i + 1).to_string(), extent(&rings[i]))));
        for (text, about) in labels {
            let (width, height) = self.typeface.size(&text, LABEL_HEIGHT);
            let plate = [width + 2.0 * LABEL_MARGIN, height + LABEL_MARGIN];
            let place = place_label(about, plate, size, &taken);
            stroke::fill(map, place, [12, 12, 16], 0.82);
            let [x0, y0, ..] = place;
            let at = [x0 + LABEL_MARGIN, y0 + LABEL_MARGIN / 2.0];
            self.typeface.draw(map, &text, at, LABEL_HEIGHT, [255; 3]);
            taken.push(place);
        }
    }
}

/// Where a label of that size goes: beside what it names, within the picture, over nothing that is taken; when all
/// places are taken, where it hides least.
fn place_label(about: [f32; 4], plate: [f32; 2], size: [f32; 2], taken: &[[f32; 4]]) -> [f32; 4] {
    let [x0, y0, x1, y1] = about;
    let (cx, cy) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
    let [w, h] = plate;
    let mut best = ([0.0, 0.0, w, h], f32::INFINITY);
    for gap in [10.0, 26.0, 60.0, 110.0] {
        let corners = [
            [x1 + gap, cy - h / 2.0],
            [x0 - gap - w, cy - h / 2.0],
            [cx - w / 2.0, y0 - gap - h],
            [cx - w / 2.0, y1 + gap],
            [x1 + gap, y0 - gap - h],
            [x1 + gap, y1 + gap],
            [x0 - gap - w, y0 - gap - h],
            [x0 - gap - w, y1 + gap],
        ];
        for [x, y] in corners {
            let place = [x, y, x + w, y + h];
            let outside = area(place) - overlap(place, [0.0, 0.0, size[0] - 1.0, size[1] - 1.0]);
            let hidden: f32 = taken.iter().map(|t| overlap(place, *t)).sum();
            // Being cut off by the edge is worse than covering something; nearness breaks ties.
            let cost = 4.0 * outside + hidden;
            if cost < best.1 {
                best = (place, cost);
            }
            if cost <= 0.0 {
                return place;
            }
        }
    }
    best.0
}

fn extent(points: &[At]) -> [f32; 4] {
    points.iter().fold([f32::INFINITY, f32::INFINITY, f32::NEG_INFINITY, f32::NEG_INFINITY], |e, p| {
        [e[0].min(p[0]), e[1].min(p[1]), e[2].max(p[0]), e[3].max(p[1])]
    })
}

fn union(a: [f32; 4], b: [f32; 4]) -> [f32; 4] {
    [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])]
}

fn grown([x0, y0, x1, y1]: [f32; 4], by: f32) -> [f32; 4] {
    [x0 - by, y0 - by, x1 + by, y1 + by]
}

fn area([x0, y0, x1, y1]: [f32; 4]) -> f32 {
    (x1 - x0).max(0.0) * (y1 - y0).max(0.0)
}

fn overlap(a: [f32; 4], b: [f32; 4]) -> f32 {
    area([a[0].max(b[0]), a[1].max(b[1]), a[2].min(b[2]), a[3].min(b[3])])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_stay_inside_and_off_what_is_taken() {
        let size = [400.0, 300.0];
        let spot = [380.0, 140.0, 396.0, 160.0];
        let place = place_label(spot, [90.0, 30.0], size, &[spot]);
        assert!(place[0] >= 0.0 && place[2] <= size[0], "{place:?}");
        assert_eq!(overlap(place, spot), 0.0);
        let second = place_label(spot, [90.0, 30.0], size, &[spot, place]);
        assert_eq!(overlap(second, place), 0.0);
    }

    /// Published value: chi-squared with two degrees of freedom has its 0.95 quantile at 5.991 (NIST/SEMATECH e-Handbook
    /// of Statistical Methods, table 1.3.6.7.4).
    #[test]
    fn the_ring_is_the_95_percent_ellipse() {
        assert!((RADIUS_95 * RADIUS_95 - 5.991).abs() < 5e-4);
    }
}
