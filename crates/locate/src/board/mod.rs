//! The board drawing: faces with outline and parts, rails, and what joins rails at DC.
//!
//! Millimetres on a face: `x_mm` to the right and `y_mm` down **as that face is looked at**; `rotation_deg` turns x
//! towards y (clockwise to the eye). These structures have the very fields of `board.ron` / `board.json`.

mod check;
mod footprint;
mod rails;

pub use check::BoardError;
pub use footprint::Footprint;
pub use rails::JoinedRail;

use serde::{Deserialize, Serialize};

/// A board: one or more faces and the rails on them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Board {
    /// What the shop calls it.
    pub name: String,
    /// Top, bottom, or the halves of a stack.
    pub faces: Vec<Face>,
    /// Supply rails. Ground is not listed.
    #[serde(default)]
    pub rails: Vec<Rail>,
}

/// One face of a board.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Face {
    /// `top`, `bottom`, or the name of a half of a stack.
    pub name: String,
    /// Corners of the outline in millimetres, closed by itself, either direction.
    #[serde(default)]
    pub outline: Vec<[f64; 2]>,
    /// Parts mounted on this face.
    #[serde(default)]
    pub parts: Vec<Part>,
    /// What lies behind this face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub through: Option<Through>,
    /// Round openings: mounting holes, windows.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holes: Vec<Hole>,
    /// The picture that the face was drawn over.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub photo: Option<Photo>,
}

/// A round opening in a face.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hole {
    /// Centre.
    pub x_mm: f64,
    /// Centre.
    pub y_mm: f64,
    /// Diameter; above zero.
    pub diameter_mm: f64,
}

/// A picture under a drawing, and where it lies: four of its points are the corners of a rectangle on the face.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// The picture file, from the drawing's folder.
    pub file: String,
    /// Picture points in pixels (centres at integers) that lie at (0, 0), (width, 0), (width, height), (0, height).
    pub corners_px: [[f64; 2]; 4],
    /// Length of the rectangle's upper and lower side in millimetres.
    pub width_mm: f64,
    /// Length of its left and right side.
    pub height_mm: f64,
}

/// What lies behind a face, and how its millimetres map over.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Through {
    /// Name of the face behind.
    pub face: String,
    /// The axis that is mirrored when looking from the other side.
    #[serde(default)]
    pub mirror: Mirror,
    /// Added to the mirrored x.
    #[serde(default)]
    pub dx_mm: f64,
    /// Added to the mirrored y.
    #[serde(default)]
    pub dy_mm: f64,
}

/// Which coordinate changes its sign.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mirror {
    /// x changes its sign.
    #[default]
    X,
    /// y changes its sign.
    Y,
    /// Neither does.
    None,
}

/// A part and the rectangle that it covers.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Reference designator, unique on the board.
    pub designator: String,
    /// What kind of part.
    #[serde(default)]
    pub kind: PartKind,
    /// Centre.
    pub x_mm: f64,
    /// Centre.
    pub y_mm: f64,
    /// Size along the part's own x axis; above zero.
    pub width_mm: f64,
    /// Size along the part's own y axis; above zero.
    pub height_mm: f64,
    /// Clockwise to the eye.
    #[serde(default)]
    pub rotation_deg: f64,
    /// Names of the rails that it sits on, without ground.
    #[serde(default)]
    pub rails: Vec<String>,
    /// Absolute maximum volts on its rails.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub max_volts: Option<f64>,
    /// Emissivity of its top, 0 to 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub emissivity: Option<f64>,
    /// Whether it joins its rails at DC (coil, ferrite, fuse, closed switch).
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub series: bool,
}

/// Kinds of part.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "the names are the trade's own words")]
pub enum PartKind {
    Capacitor,
    Resistor,
    Inductor,
    Ferrite,
    Fuse,
    Ic,
    Module,
    Transistor,
    Diode,
    Connector,
    Crystal,
    TestPoint,
    Shield,
    #[default]
    Other,
}

impl PartKind {
    /// The kind in words, for sentences.
    pub fn words(self) -> &'static str {
        match self {
            Self::Capacitor => "capacitor",
            Self::Resistor => "resistor",
            Self::Inductor => "inductor",
            Self::Ferrite => "ferrite",
            Self::Fuse => "fuse",
            Self::Ic => "integrated circuit",
            Self::Module => "module",
            Self::Transistor => "transistor",
            Self::Diode => "diode",
            Self::Connector => "connector",
            Self::Crystal => "crystal",
            Self::TestPoint => "test point",
            Self::Shield => "shield",
            Self::Other => "part",
        }
    }
}

/// A supply rail.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rail {
    /// Name as in the schematic.
    pub name: String,
    /// Nominal volts against ground; may be negative, or unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub nominal_volts: Option<f64>,
}

impl Board {
    /// The face with that name.
    pub fn face(&self, name: &str) -> Option<&Face> {
        self.faces.iter().find(|f| f.name == name)
    }

    /// The rail with that name.
    pub fn rail(&self, name: &str) -> Option<&Rail> {
        self.rails.iter().find(|r| r.name == name)
    }

    /// A part by designator, with its face.
    pub fn part(&self, designator: &str) -> Option<(&Face, &Part)> {
        self.faces.iter().find_map(|f| Some((f, f.parts.iter().find(|p| p.designator == designator)?)))
    }
}

impl Through {
    /// A part of the face behind, as it lies when looked at from this face.
    pub fn seen(&self, part: &Part) -> Part {
        let (x_sign, y_sign) = match self.mirror {
            Mirror::X => (-1.0, 1.0),
            Mirror::Y => (1.0, -1.0),
            Mirror::None => (1.0, 1.0),
        };
        let mut seen = part.clone();
        seen.x_mm = x_sign * part.x_mm + self.dx_mm;
        seen.y_mm = y_sign * part.y_mm + self.dy_mm;
        // A mirrored rectangle turns the other way.
        seen.rotation_deg = x_sign * y_sign * part.rotation_deg;
        seen
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_seen_from_behind_is_mirrored_and_turns_the_other_way() {
        let through = Through { face: "bottom".into(), mirror: Mirror::X, dx_mm: 50.0, dy_mm: 1.0 };
        let part = Part { x_mm: 10.0, y_mm: 5.0, width_mm: 3.0, height_mm: 1.0, rotation_deg: 30.0, ..Part::default() };
        let seen = through.seen(&part);
        assert_eq!((seen.x_mm, seen.y_mm, seen.rotation_deg), (40.0, 6.0, -30.0));
    }
}
