//! From a design's frame (y up, seen from the top) onto faces (y down, each as it is looked at).

use joulemark_locate::board::{Face, Mirror, Part, Through};

use super::{Design, DesignPart, Side};

/// Where the faces' zero lies in the design's frame: the top face's left upper corner, and the right edge, at which
/// the bottom face begins when the board is turned over about its upright axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// x of the top face's zero.
    pub left_mm: f64,
    /// x of the bottom face's zero.
    pub right_mm: f64,
    /// y of either face's zero.
    pub top_mm: f64,
}

/// Around parts when nothing tells the outline.
pub const MARGIN_MM: f64 = 2.0;

/// A part whose size no file tells is drawn so large, to be corrected by hand.
pub const UNKNOWN_SIZE_MM: f64 = 1.0;

impl Frame {
    /// The frame of the design's own outline, or of its parts with a margin.
    pub fn of(design: &Design) -> Option<Self> {
        let margin = if design.outline.is_some() { 0.0 } else { MARGIN_MM };
        let [left, _, right, top] = design.bounds_mm()?;
        Some(Self { left_mm: left - margin, right_mm: right + margin, top_mm: top + margin })
    }

    /// A design point on a face.
    pub fn face_from_design(&self, side: Side, [x, y]: [f64; 2]) -> [f64; 2] {
        let along = match side {
            Side::Top => x - self.left_mm,
            Side::Bottom => self.right_mm - x,
        };
        [along, self.top_mm - y]
    }

    /// The inverse of [`Self::face_from_design`].
    pub fn design_from_face(&self, side: Side, [x, y]: [f64; 2]) -> [f64; 2] {
        let along = match side {
            Side::Top => x + self.left_mm,
            Side::Bottom => self.right_mm - x,
        };
        [along, self.top_mm - y]
    }

    /// A part on its face.
    pub fn part(&self, part: &DesignPart) -> Part {
        let [x_mm, y_mm] = self.face_from_design(part.side, [part.x_mm, part.y_mm]);
        let [width_mm, height_mm] = part.size_mm.unwrap_or([UNKNOWN_SIZE_MM; 2]);
        // Anticlockwise with y up is clockwise to the eye with the sign turned; seen from behind it turns back.
        let turned = match part.side {
            Side::Top => -part.rotation_deg,
            Side::Bottom => part.rotation_deg,
        };
        Part {
            designator: part.designator.clone(),
            kind: part.kind,
            x_mm: rounded(x_mm),
            y_mm: rounded(y_mm),
            width_mm: rounded(width_mm),
            height_mm: rounded(height_mm),
            rotation_deg: rounded(turned.rem_euclid(360.0)).rem_euclid(360.0),
            rails: part.nets.clone(),
            ..Part::default()
        }
    }

    /// Corners on a face.
    pub fn shape(&self, side: Side, shape: &[[f64; 2]]) -> Vec<[f64; 2]> {
        shape.iter().map(|p| self.face_from_design(side, *p).map(rounded)).collect()
    }

    /// What lies behind a face of the board: the other one, turned about its upright axis.
    pub fn through(&self, behind: &Face) -> Through {
        Through {
            face: behind.name.clone(),
            mirror: Mirror::X,
            dx_mm: rounded(self.right_mm - self.left_mm),
            dy_mm: 0.0,
        }
    }
}

/// To a ten-thousandth: a drawing that a person can read, far below any tolerance. Never zero for a size above it.
fn rounded(v: f64) -> f64 {
    let near = (v * 1e4).round() / 1e4;
    if near == 0.0 && v > 0.0 { 1e-4 } else { near + 0.0 }
}
