//! What a drawing must satisfy before anything is computed with it.

use std::collections::HashSet;

use super::Board;

/// Why a board drawing cannot be used. The caller adds the file's name.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {problem}; {remedy}")]
pub struct BoardError {
    /// Face and part at fault.
    pub place: String,
    /// What is wrong.
    pub problem: String,
    /// What to do.
    pub remedy: String,
}

impl Board {
    /// Checks the drawing: at least one face, outlines of three corners or more, sizes above zero, finite numbers,
    /// unique names, and rails that exist.
    ///
    /// # Errors
    /// The first fault found, with its place.
    pub fn check(&self) -> Result<(), BoardError> {
        let fault = |place: String, problem: String, remedy: &str| {
            Err(BoardError { place, problem, remedy: remedy.to_owned() })
        };
        if self.faces.is_empty() {
            return fault("board".into(), "no faces".into(), "draw at least one face");
        }
        let mut rails = HashSet::new();
        for rail in &self.rails {
            if rail.name.trim().is_empty() {
                return fault("rails".into(), "a rail has no name".into(), "name every rail");
            }
            if !rails.insert(rail.name.as_str()) {
                return fault(format!("rail {}", rail.name), "named twice".into(), "keep one of them");
            }
            if rail.nominal_volts.is_some_and(|v| !v.is_finite()) {
                return fault(
                    format!("rail {}", rail.name),
                    "nominal_volts is not a number".into(),
                    "give volts, or leave it out",
                );
            }
        }
        let mut faces = HashSet::new();
        let mut designators = HashSet::new();
        for face in &self.faces {
            let at = format!("face {}", face.name);
            if !faces.insert(face.name.as_str()) {
                return fault(at, "named twice".into(), "give every face its own name");
            }
            if face.outline.len() < 3 {
                return fault(at, format!("the outline has {} corners", face.outline.len()), "draw at least three");
            }
            if face.outline.iter().flatten().any(|v| !v.is_finite()) || face.outline_area_mm2() <= 0.0 {
                return fault(at, "the outline encloses no area".into(), "draw it again");
            }
            if let Some(through) = &face.through
                && !self.faces.iter().any(|f| f.name == through.face && f.name != face.name)
            {
                return fault(
                    at,
                    format!("lies over face '{}', which is not drawn", through.face),
                    "name another face of this board",
                );
            }
            if face.holes.iter().any(|h| {
                ![h.x_mm, h.y_mm].iter().all(|v| v.is_finite()) || h.diameter_mm.is_nan() || h.diameter_mm <= 0.0
            }) {
                return fault(at, "a hole has no usable place or size".into(), "give finite millimetres above zero");
            }
            for part in &face.parts {
                let at = format!("face {}, part {}", face.name, part.designator);
                if part.designator.trim().is_empty() {
                    return fault(at, "no designator".into(), "name every part");
                }
                if !designators.insert(part.designator.as_str()) {
                    return fault(at, "designator used twice".into(), "give every part its own");
                }
                let numbers = [part.x_mm, part.y_mm, part.width_mm, part.height_mm, part.rotation_deg];
                if numbers.iter().any(|v| !v.is_finite()) || part.width_mm <= 0.0 || part.height_mm <= 0.0 {
                    return fault(
                        at,
                        "position or size is not usable".into(),
                        "give finite millimetres and sizes above zero",
                    );
                }
                if part.emissivity.is_some_and(|e| !(e > 0.0 && e <= 1.0)) {
                    return fault(at, "emissivity is not within 0 to 1".into(), "give a fraction, or leave it out");
                }
                if let Some(rail) = part.rails.iter().find(|r| !rails.contains(r.as_str())) {
                    return fault(
                        at,
                        format!("sits on rail '{rail}', which is not listed"),
                        "add the rail to rails, or correct its name",
                    );
                }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Face, Part, Rail};
    use super::*;

    fn board() -> Board {
        Board {
            name: "b".into(),
            faces: vec![Face {
                name: "top".into(),
                outline: vec![[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]],
                parts: vec![Part {
                    designator: "C1".into(),
                    width_mm: 1.0,
                    height_mm: 1.0,
                    rails: vec!["V5".into()],
                    ..Part::default()
                }],
                ..Face::default()
            }],
            rails: vec![Rail { name: "V5".into(), nominal_volts: None }],
        }
    }

    #[test]
    fn a_plain_board_passes() {
        assert_eq!(board().check(), Ok(()));
    }

    #[test]
    fn faults_name_their_place() {
        type Spoil = fn(&mut Board);
        let cases: [(Spoil, &str); 6] = [
            (|b| b.faces.clear(), "no faces"),
            (|b| b.faces[0].outline.truncate(2), "face top: the outline has 2 corners"),
            (|b| b.faces[0].parts[0].rails[0] = "V6".into(), "face top, part C1: sits on rail 'V6'"),
            (|b| b.faces[0].parts[0].width_mm = 0.0, "part C1: position or size"),
            (|b| b.rails.push(Rail { name: "V5".into(), nominal_volts: None }), "rail V5: named twice"),
            (
                |b| {
                    let p = b.faces[0].parts[0].clone();
                    b.faces[0].parts.push(p);
                },
                "designator used twice",
            ),
        ];
        for (spoil, wanted) in cases {
            let mut b = board();
            spoil(&mut b);
            let message = b.check().expect_err(wanted).to_string();
            assert!(message.contains(wanted), "{message}");
        }
    }
}
