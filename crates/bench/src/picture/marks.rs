//! What is drawn over the map: board, parts, rings of 95 % and the suspects' names, placed so that they hide no spot.

use joulemark_locate::{
    HotSpot, Located, Suspect,
    align::Alignment,
    board::{Board, Face, Footprint, Part},
};
use nalgebra::{Matrix2, Point2};

use super::{
    sheet::Sheet,
    stroke::{At, Pen},
};
use crate::{case::load::Loaded, numbers::percent};

/// Square root of the 0.95 quantile of chi-squared with two degrees of freedom, -2 ln 0.05.
const RADIUS_95: f64 = 2.447_746_830_680_816;
/// A ring smaller than this on the canvas is drawn this large; the ticks around it say "here" anyway.
const LEAST_RING: f64 = 4.0;
pub(crate) const LABEL_HEIGHT: f32 = 26.0;
pub(super) const LABEL_MARGIN: f32 = 6.0;

pub(super) const HALO: Pen = Pen { colour: [0, 0, 0], opacity: 0.55, width: 5.0 };
pub(super) const OUTLINE: Pen = Pen { colour: [255; 3], opacity: 0.75, width: 2.0 };
pub(super) const PART: Pen = Pen { colour: [255; 3], opacity: 0.28, width: 1.2 };
pub(super) const PART_ON_RAIL: Pen = Pen { colour: [255; 3], opacity: 0.60, width: 2.0 };
const SUSPECT: Pen = Pen { colour: [255; 3], opacity: 1.0, width: 3.5 };
const LEADER: Pen = Pen { colour: [255; 3], opacity: 0.9, width: 1.5 };
pub(super) const PLATE: [u8; 3] = [12, 12, 16];
pub(super) const RING: Pen = Pen { colour: [96, 224, 255], opacity: 1.0, width: 2.2 };

/// What is drawn over a map, and where the map lies on the canvas.
pub(crate) struct Marks<'a> {
    pub(crate) board: &'a Board,
    pub(crate) face: &'a str,
    pub(crate) rail: &'a str,
    pub(crate) alignment: &'a Alignment,
    pub(crate) located: Option<&'a Located>,
    /// Canvas pixels a picture pixel.
    pub(crate) factor: f64,
    /// The picture point (pixels, centres at integers) whose pixel lies in the canvas's upper left corner.
    pub(crate) corner_px: [f64; 2],
    /// Whether board and parts are drawn.
    pub(crate) outlines: bool,
    /// Whether hot spots and suspects are drawn.
    pub(crate) answer: bool,
}

impl<'a> Marks<'a> {
    /// Everything, over the whole picture.
    pub(crate) fn of(loaded: &'a Loaded, located: &'a Located, factor: f64) -> Self {
        Self {
            board: &loaded.board,
            face: &located.face,
            rail: &loaded.rail,
            alignment: &loaded.alignment,
            located: Some(located),
            factor,
            corner_px: [0.0; 2],
            outlines: true,
            answer: true,
        }
    }
}

/// A suspect of the first hot spot.
struct Named {
    text: String,
    corners: Vec<At>,
}

/// A name and what it belongs to.
struct Label {
    text: String,
    about: [f32; 4],
}

impl Marks<'_> {
    pub(crate) fn draw(&self, map: &mut impl Sheet) {
        let Some(face) = self.board.face(self.face) else { return };
        if self.outlines {
            self.draw_board(face, map);
        }
        let Some(located) = self.located.filter(|_| self.answer) else { return };
        let named = self.named(located);
        for name in &named {
            map.line(&name.corners, true, Pen { width: SUSPECT.width + 3.0, ..HALO });
            map.line(&name.corners, true, SUSPECT);
        }
        let rings: Vec<Vec<At>> = located.hot_spots.iter().map(|s| self.ring(s)).collect();
        for (spot, ring) in located.hot_spots.iter().zip(&rings) {
            for (line, closed) in std::iter::once((ring.clone(), true)).chain(self.ticks(spot, ring)) {
                map.line(&line, closed, HALO);
                map.line(&line, closed, RING);
            }
        }
        let parts: Vec<[f32; 4]> = face.parts.iter().map(|p| extent(&self.corners(p))).collect();
        self.draw_labels(map, &named, &rings, &parts);
    }

    fn draw_board(&self, face: &Face, map: &mut impl Sheet) {
        let joined = self.board.joined_rails(self.rail);
        let outline: Vec<At> = face.outline.iter().filter_map(|c| self.at_mm(Point2::new(c[0], c[1]))).collect();
        map.line(&outline, true, OUTLINE);
        for part in &face.parts {
            let on_rail = joined.iter().any(|j| part.rails.contains(&j.rail));
            map.line(&self.corners(part), true, if on_rail { PART_ON_RAIL } else { PART });
        }
    }

    /// Canvas position of a picture point.
    fn at_px(&self, px: Point2<f64>) -> At {
        let (f, [left, top]) = (self.factor, self.corner_px);
        // The centre of a picture pixel is the middle of its block of canvas pixels.
        [((px.x - left + 0.5) * f - 0.5) as f32, ((px.y - top + 0.5) * f - 0.5) as f32]
    }

    /// Canvas position of a face point; `None` behind the horizon of a steep view.
    fn at_mm(&self, mm: Point2<f64>) -> Option<At> {
        let at = self.at_px(self.alignment.to_image(mm));
        at.iter().all(|v| v.is_finite()).then_some(at)
    }

    fn corners(&self, part: &Part) -> Vec<At> {
        Footprint::from(part).corners_mm().into_iter().filter_map(|c| self.at_mm(c)).collect()
    }

    /// The first hot spot's first suspect and those it cannot be told from; nobody when the spot is more likely
    /// something else.
    fn named(&self, located: &Located) -> Vec<Named> {
        let Some((_, answer)) = located.leading() else { return Vec::new() };
        let Some(first) = answer.suspects.first() else { return Vec::new() };
        if first.probability < answer.nothing_probability.max(answer.off_drawing_probability) {
            return Vec::new();
        }
        let together = |part: &str| part == first.part || first.group.iter().any(|g| g == part);
        answer.suspects.iter().filter(|s| together(&s.part)).filter_map(|s| self.suspect(s)).collect()
    }

    fn suspect(&self, suspect: &Suspect) -> Option<Named> {
        let (face, part) = self.board.part(&suspect.part)?;
        let share = percent(suspect.probability);
        if face.name == self.face {
            return Some(Named { text: format!("{}  {share}", part.designator), corners: self.corners(part) });
        }
        let through = self.board.face(self.face)?.through.as_ref().filter(|t| t.face == face.name)?;
        let text = format!("{}  {share}, behind on {}", part.designator, face.name);
        Some(Named { text, corners: self.corners(&through.seen(part)) })
    }

    /// The 95 % ellipse of a spot's centre.
    fn ring(&self, spot: &HotSpot) -> Vec<At> {
        const SIDES: usize = 72;
        let eigen = spot.covariance_px2.symmetric_eigen();
        let f = self.factor;
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

    fn draw_labels(&self, map: &mut impl Sheet, named: &[Named], rings: &[Vec<At>], parts: &[[f32; 4]]) {
        const TICKS: f32 = 20.0;
        let mut labels: Vec<Label> = Vec::new();
        for (i, name) in named.iter().enumerate() {
            // The only spot needs no number when its suspect is named.
            let text = if i == 0 && rings.len() > 1 { format!("1  {}", name.text) } else { name.text.clone() };
            labels.push(Label { text, about: extent(&name.corners) });
        }
        let unnamed = rings.iter().enumerate().skip(usize::from(!named.is_empty()));
        labels.extend(unnamed.map(|(i, r)| Label { text: (i + 1).to_string(), about: extent(r) }));
        let mut taken: Vec<[f32; 4]> = rings.iter().map(|r| grown(extent(r), TICKS)).collect();
        taken.extend(named.iter().map(|n| grown(extent(&n.corners), 3.0)));
        let size = map.size();
        for Label { text, about } in labels {
            let (width, height) = map.words_size(&text, LABEL_HEIGHT);
            let plate = [width + 2.0 * LABEL_MARGIN, height + LABEL_MARGIN];
            let place = place_label(about, plate, size, &taken, parts);
            let ends = leader(about, place);
            map.line(&ends, false, HALO);
            map.line(&ends, false, LEADER);
            map.plate(place, PLATE, 0.85);
            let [x0, y0, ..] = place;
            let at = [x0 + LABEL_MARGIN, y0 + LABEL_MARGIN / 2.0];
            map.words(&text, at, LABEL_HEIGHT, [255; 3]);
            taken.push(place);
        }
    }
}

/// Where a label of that size goes: as near as can be to what it names, within the picture, over nothing that is taken
/// and over few parts.
pub(super) fn place_label(
    about: [f32; 4],
    plate: [f32; 2],
    size: [f32; 2],
    taken: &[[f32; 4]],
    parts: &[[f32; 4]],
) -> [f32; 4] {
    const DIRECTIONS: usize = 16;
    const GAPS: [f32; 8] = [12.0, 24.0, 36.0, 52.0, 72.0, 100.0, 140.0, 190.0];
    let [x0, y0, x1, y1] = about;
    let (cx, cy) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
    let [w, h] = plate;
    let mut best = ([0.0, 0.0, w, h], f32::INFINITY);
    for gap in GAPS {
        for direction in 0..DIRECTIONS {
            let angle = direction as f32 / DIRECTIONS as f32 * std::f32::consts::TAU;
            // The plate's centre on a rounded box around what it names.
            let x = cx + (angle.cos() * 1.5).clamp(-1.0, 1.0) * ((x1 - x0 + w) / 2.0 + gap);
            let y = cy + (angle.sin() * 1.5).clamp(-1.0, 1.0) * ((y1 - y0 + h) / 2.0 + gap);
            let place = [x - w / 2.0, y - h / 2.0, x + w / 2.0, y + h / 2.0];
            let outside = area(place) - overlap(place, [0.0, 0.0, size[0] - 1.0, size[1] - 1.0]);
            let hidden: f32 = taken.iter().map(|t| overlap(place, *t)).sum();
            let over_parts: f32 = parts.iter().map(|p| overlap(place, *p)).sum();
            // In units of the plate: hiding a mark or leaving the picture is never worth being near; hiding a whole
            // plate of parts is worth 120 pixels.
            let cost = gap / 120.0 + (over_parts + 50.0 * hidden + 50.0 * outside) / area(place).max(1.0);
            if cost < best.1 {
                best = (place, cost);
            }
        }
    }
    best.0
}

/// A line from the nearest side of a label to the nearest side of what it names.
fn leader([x0, y0, x1, y1]: [f32; 4], label: [f32; 4]) -> [At; 2] {
    let (cx, cy) = ((x0 + x1) / 2.0, (y0 + y1) / 2.0);
    let start = [cx.clamp(label[0], label[2]), cy.clamp(label[1], label[3])];
    [start, [start[0].clamp(x0, x1), start[1].clamp(y0, y1)]]
}

pub(super) fn extent(points: &[At]) -> [f32; 4] {
    points.iter().fold([f32::INFINITY, f32::INFINITY, f32::NEG_INFINITY, f32::NEG_INFINITY], |e, p| {
        [e[0].min(p[0]), e[1].min(p[1]), e[2].max(p[0]), e[3].max(p[1])]
    })
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
        let place = place_label(spot, [90.0, 30.0], size, &[spot], &[]);
        assert!(place[0] >= 0.0 && place[2] <= size[0], "{place:?}");
        assert_eq!(overlap(place, spot), 0.0);
        let second = place_label(spot, [90.0, 30.0], size, &[spot, place], &[]);
        assert_eq!(overlap(second, place), 0.0);
        // A part on the right makes the left the better side.
        let middle = [190.0, 140.0, 210.0, 160.0];
        let part = [210.0, 100.0, 400.0, 200.0];
        let left = place_label(middle, [90.0, 30.0], size, &[middle], &[part]);
        assert_eq!(overlap(left, part), 0.0);
    }

    #[test]
    fn leaders_run_from_label_to_mark() {
        assert_eq!(leader([0.0, 0.0, 10.0, 10.0], [30.0, 0.0, 60.0, 20.0]), [[30.0, 5.0], [10.0, 5.0]]);
    }

    /// Published value: chi-squared with two degrees of freedom has its 0.95 quantile at 5.991 (NIST/SEMATECH e-Handbook
    /// of Statistical Methods, table 1.3.6.7.4).
    #[test]
    fn the_ring_is_the_95_percent_ellipse() {
        assert!((RADIUS_95 * RADIUS_95 - 5.991).abs() < 5e-4);
    }
}
