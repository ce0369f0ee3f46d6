//! The drawing brought into picture coordinates once, so that a frame only scales it.

use joulemark_locate::{
    align::Alignment,
    board::{Board, Face, Footprint, Part},
};

fn image_point(alignment: &Alignment, x_mm: f64, y_mm: f64) -> [f64; 2] {
    let p = alignment.to_image(nalgebra::Point2::new(x_mm, y_mm));
    [p.x, p.y]
}

/// A part in the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnPart {
    /// Designator.
    pub designator: String,
    /// Rails that it sits on.
    pub rails: Vec<String>,
    /// Corners, in pixels.
    pub corners_px: [[f64; 2]; 4],
    /// Middle, in pixels.
    pub centre_px: [f64; 2],
    /// Whether it sits on the face behind, so that only its heat is seen.
    pub behind: bool,
    footprint: Footprint,
    area_mm2: f64,
}

/// A face in the picture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawn {
    /// Corners of the outline, in pixels.
    pub outline_px: Vec<[f64; 2]>,
    /// Parts, large ones first, so that small ones are drawn and found on top.
    pub parts: Vec<DrawnPart>,
    /// Parts on the face behind, as they lie when looked at from here.
    pub behind: Vec<DrawnPart>,
}

fn drawn(part: &Part, behind: bool, alignment: &Alignment) -> DrawnPart {
    let footprint = Footprint::from(part);
    DrawnPart {
        designator: part.designator.clone(),
        rails: part.rails.clone(),
        corners_px: footprint.corners_mm().map(|c| image_point(alignment, c.x, c.y)),
        centre_px: image_point(alignment, part.x_mm, part.y_mm),
        behind,
        area_mm2: footprint.area_mm2(),
        footprint,
    }
}

impl Drawn {
    /// Projects a face. Straight lines stay straight under every alignment, so corners are enough.
    pub fn project(board: &Board, face: &Face, alignment: &Alignment) -> Self {
        let mut parts: Vec<DrawnPart> = face.parts.iter().map(|part| drawn(part, false, alignment)).collect();
        parts.sort_by(|a, b| b.area_mm2.total_cmp(&a.area_mm2));
        let behind = face
            .through
            .iter()
            .filter_map(|through| Some((through, board.face(&through.face)?)))
            .flat_map(|(through, other)| other.parts.iter().map(|part| through.seen(part)))
            .map(|part| drawn(&part, true, alignment))
            .collect();
        let outline_px = face.outline.iter().map(|c| image_point(alignment, c[0], c[1])).collect();
        Self { outline_px, parts, behind }
    }

    /// The part at a point on the face: the smallest one that covers it.
    pub fn part_at(&self, x_mm: f64, y_mm: f64) -> Option<&DrawnPart> {
        self.parts.iter().rev().find(|p| p.footprint.contains(nalgebra::Point2::new(x_mm, y_mm)))
    }

    /// A part by designator.
    pub fn part(&self, designator: &str) -> Option<&DrawnPart> {
        self.parts.iter().chain(&self.behind).find(|p| p.designator == designator)
    }
}
