//! Changes to the board, each with the one that takes it back and with words for "Undo: ...".

use joulemark_locate::board::{Board, Face, Hole, Part, Photo, Rail, Through};

/// One change to a [`Board`]. `face` is a face's name.
#[derive(Clone, Debug, PartialEq)]
pub enum BoardEdit {
    /// What the shop calls the board.
    Name(String),
    /// Put parts at these places of the face's list.
    AddParts { face: String, parts: Vec<(usize, Part)> },
    /// Take parts out, by designator.
    RemoveParts(Vec<String>),
    /// Replace parts, found by designator; the new one may be named differently.
    ChangeParts(Vec<(String, Part)>),
    /// The outline's corners.
    Outline { face: String, outline: Vec<[f64; 2]> },
    /// The holes.
    Holes { face: String, holes: Vec<Hole> },
    /// The picture below the drawing and its squaring.
    Photo { face: String, photo: Option<Photo> },
    /// What lies behind the face.
    Through { face: String, through: Option<Through> },
    /// Put a face at an index.
    AddFace { index: usize, face: Box<Face> },
    /// Take a face out with all on it.
    RemoveFace(String),
    /// Give a face another name, wherever it is named.
    RenameFace { from: String, to: String },
    /// Give a rail another name, on every part too.
    RenameRail { from: String, to: String },
    /// The rails, all of them.
    Rails(Vec<Rail>),
    /// Another board in place of this one: an import, a drawing from the shelf.
    Whole { words: String, board: Box<Board> },
    /// Several changes that are one to the user.
    Several { words: String, edits: Vec<BoardEdit> },
}

fn parts_in_words(designators: &mut dyn Iterator<Item = &str>) -> String {
    let names: Vec<&str> = designators.collect();
    match names.as_slice() {
        [one] => format!("part {one}"),
        many => format!("{} parts", many.len()),
    }
}

impl BoardEdit {
    /// What the edit does.
    pub fn words(&self) -> String {
        match self {
            Self::Name(_) => "rename the board".to_owned(),
            Self::AddParts { parts, .. } => {
                format!("add {}", parts_in_words(&mut parts.iter().map(|(_, p)| p.designator.as_str())))
            }
            Self::RemoveParts(names) => format!("remove {}", parts_in_words(&mut names.iter().map(String::as_str))),
            Self::ChangeParts(parts) => {
                format!("change {}", parts_in_words(&mut parts.iter().map(|(name, _)| name.as_str())))
            }
            Self::Outline { face, .. } => format!("draw the outline of {face}"),
            Self::Holes { face, .. } => format!("change the holes of {face}"),
            Self::Photo { photo: Some(_), .. } => "place the photo".to_owned(),
            Self::Photo { photo: None, .. } => "remove the photo".to_owned(),
            Self::Through { face, .. } => format!("state what lies behind {face}"),
            Self::AddFace { face, .. } => format!("add face {}", face.name),
            Self::RemoveFace(name) => format!("remove face {name}"),
            Self::RenameFace { from, to } => format!("rename face {from} to {to}"),
            Self::RenameRail { from, to } => format!("rename rail {from} to {to}"),
            Self::Rails(_) => "change the rails".to_owned(),
            Self::Whole { words, .. } | Self::Several { words, .. } => words.clone(),
        }
    }

    /// Applies the edit and returns the one that takes it back; `None`, and nothing changed, when it does not fit the
    /// board.
    pub fn apply(self, board: &mut Board) -> Option<Self> {
        Some(match self {
            Self::Name(name) => Self::Name(std::mem::replace(&mut board.name, name)),
            Self::AddParts { face, parts } => {
                let taken = |p: &Part| board.part(&p.designator).is_some();
                if parts.iter().any(|(_, p)| taken(p)) {
                    return None;
                }
                let names = parts.iter().map(|(_, p)| p.designator.clone()).collect();
                let list = &mut face_mut(board, &face)?.parts;
                for (index, part) in parts {
                    list.insert(index.min(list.len()), part);
                }
                Self::RemoveParts(names)
            }
            Self::RemoveParts(names) => Self::remove(board, &names)?,
            Self::ChangeParts(changes) => {
                let free = |old: &str, new: &str| old == new || board.part(new).is_none();
                if !changes.iter().all(|(old, new)| board.part(old).is_some() && free(old, &new.designator)) {
                    return None;
                }
                let mut back = Vec::with_capacity(changes.len());
                for (old, new) in changes {
                    let place = board.faces.iter_mut().flat_map(|f| &mut f.parts).find(|p| p.designator == old)?;
                    let name = new.designator.clone();
                    back.push((name, std::mem::replace(place, new)));
                }
                Self::ChangeParts(back)
            }
            Self::Outline { face, outline } => {
                let outline = std::mem::replace(&mut face_mut(board, &face)?.outline, outline);
                Self::Outline { face, outline }
            }
            Self::Holes { face, holes } => {
                let holes = std::mem::replace(&mut face_mut(board, &face)?.holes, holes);
                Self::Holes { face, holes }
            }
            Self::Photo { face, photo } => {
                let photo = std::mem::replace(&mut face_mut(board, &face)?.photo, photo);
                Self::Photo { face, photo }
            }
            Self::Through { face, through } => {
                let through = std::mem::replace(&mut face_mut(board, &face)?.through, through);
                Self::Through { face, through }
            }
            Self::AddFace { index, face } => {
                if board.face(&face.name).is_some() {
                    return None;
                }
                let name = face.name.clone();
                board.faces.insert(index.min(board.faces.len()), *face);
                Self::RemoveFace(name)
            }
            Self::RemoveFace(name) => {
                let index = board.faces.iter().position(|f| f.name == name)?;
                Self::AddFace { index, face: Box::new(board.faces.remove(index)) }
            }
            Self::RenameFace { from, to } => {
                if to.trim().is_empty() || board.face(&to).is_some() {
                    return None;
                }
                face_mut(board, &from)?.name.clone_from(&to);
                for through in board.faces.iter_mut().filter_map(|f| f.through.as_mut()).filter(|t| t.face == from) {
                    through.face.clone_from(&to);
                }
                Self::RenameFace { from: to, to: from }
            }
            Self::RenameRail { from, to } => {
                if to.trim().is_empty() || board.rail(&to).is_some() {
                    return None;
                }
                board.rails.iter_mut().find(|r| r.name == from)?.name.clone_from(&to);
                let named = board.faces.iter_mut().flat_map(|f| &mut f.parts).flat_map(|p| &mut p.rails);
                named.filter(|r| **r == from).for_each(|r| r.clone_from(&to));
                Self::RenameRail { from: to, to: from }
            }
            Self::Rails(rails) => Self::Rails(std::mem::replace(&mut board.rails, rails)),
            Self::Whole { words, board: new } => Self::Whole { words, board: Box::new(std::mem::replace(board, *new)) },
            Self::Several { words, edits } => {
                let before = board.clone();
                let mut back = Vec::with_capacity(edits.len());
                for edit in edits {
                    let Some(inverse) = edit.apply(board) else {
                        *board = before;
                        return None;
                    };
                    back.push(inverse);
                }
                back.reverse();
                Self::Several { words, edits: back }
            }
        })
    }

    /// Takes parts out of one or of several faces, remembering where each was.
    fn remove(board: &mut Board, names: &[String]) -> Option<Self> {
        let mut back = Vec::new();
        for face in &mut board.faces {
            let mut parts = Vec::new();
            let mut kept = Vec::with_capacity(face.parts.len());
            for (index, part) in std::mem::take(&mut face.parts).into_iter().enumerate() {
                if names.contains(&part.designator) { parts.push((index, part)) } else { kept.push(part) }
            }
            face.parts = kept;
            if !parts.is_empty() {
                back.push(Self::AddParts { face: face.name.clone(), parts });
            }
        }
        match back.len() {
            0 => None,
            1 => back.pop(),
            _ => Some(Self::Several { words: format!("remove {} parts", names.len()), edits: back }),
        }
    }
}

fn face_mut<'a>(board: &'a mut Board, name: &str) -> Option<&'a mut Face> {
    board.faces.iter_mut().find(|f| f.name == name)
}

#[cfg(test)]
mod tests {
    use joulemark_locate::board::Mirror;

    use super::*;

    fn part(designator: &str, x_mm: f64) -> Part {
        Part {
            designator: designator.into(),
            x_mm,
            width_mm: 1.0,
            height_mm: 0.5,
            rails: vec!["V12".into()],
            ..Part::default()
        }
    }

    fn board() -> Board {
        let face = |name: &str, parts| Face { name: name.into(), parts, ..Face::default() };
        Board {
            name: "b".into(),
            faces: vec![
                face("top", vec![part("C1", 1.0), part("C2", 2.0), part("C3", 3.0)]),
                face("bottom", vec![part("C4", 4.0)]),
            ],
            rails: vec![Rail { name: "V12".into(), nominal_volts: Some(12.0) }],
        }
    }

    #[test]
    fn every_change_is_taken_back_whole() {
        let face = || "top".to_owned();
        let edits = [
            BoardEdit::Name("other".into()),
            BoardEdit::AddParts { face: face(), parts: vec![(1, part("R1", 9.0)), (9, part("R2", 9.0))] },
            BoardEdit::RemoveParts(vec!["C1".into(), "C3".into(), "C4".into()]),
            BoardEdit::ChangeParts(vec![("C2".into(), part("C9", 7.0)), ("C4".into(), part("C4", 8.0))]),
            BoardEdit::Outline { face: face(), outline: vec![[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]] },
            BoardEdit::Holes { face: face(), holes: vec![Hole { x_mm: 1.0, y_mm: 1.0, diameter_mm: 3.0 }] },
            BoardEdit::Photo { face: face(), photo: Some(Photo::default()) },
            BoardEdit::Through {
                face: face(),
                through: Some(Through { face: "bottom".into(), mirror: Mirror::X, dx_mm: 1.0, dy_mm: 0.0 }),
            },
            BoardEdit::AddFace { index: 0, face: Box::new(Face { name: "middle".into(), ..Face::default() }) },
            BoardEdit::RemoveFace("bottom".into()),
            BoardEdit::RenameFace { from: "bottom".into(), to: "lower half".into() },
            BoardEdit::RenameRail { from: "V12".into(), to: "VIN".into() },
            BoardEdit::Rails(vec![Rail { name: "V5".into(), nominal_volts: None }]),
            BoardEdit::Whole { words: "import".into(), board: Box::new(Board { name: "other".into(), ..board() }) },
            BoardEdit::Several {
                words: "both".into(),
                edits: vec![BoardEdit::RemoveParts(vec!["C1".into()]), BoardEdit::Name("n".into())],
            },
        ];
        for edit in edits {
            let mut now = board();
            let inverse = edit.clone().apply(&mut now).unwrap_or_else(|| panic!("{edit:?} was refused"));
            assert_ne!(now, board(), "{edit:?} changed nothing");
            let after = now.clone();
            let again = inverse.apply(&mut now);
            assert_eq!(now, board(), "{edit:?} was not taken back");
            assert!(again.and_then(|edit| edit.apply(&mut now)).is_some());
            assert_eq!(now, after, "{edit:?} was not done again");
        }
    }

    #[test]
    fn what_does_not_fit_changes_nothing() {
        let refused = [
            BoardEdit::AddParts { face: "top".into(), parts: vec![(0, part("C4", 0.0))] },
            BoardEdit::ChangeParts(vec![("C1".into(), part("C2", 0.0))]),
            BoardEdit::RemoveParts(vec!["C99".into()]),
            BoardEdit::RemoveFace("none".into()),
            BoardEdit::RenameFace { from: "top".into(), to: "bottom".into() },
            BoardEdit::RenameFace { from: "none".into(), to: "x".into() },
            BoardEdit::RenameRail { from: "V12".into(), to: " ".into() },
            BoardEdit::Several {
                words: String::new(),
                edits: vec![BoardEdit::Name("x".into()), BoardEdit::RemoveFace("none".into())],
            },
        ];
        for edit in refused {
            let mut now = board();
            assert_eq!(edit.clone().apply(&mut now), None, "{edit:?}");
            assert_eq!(now, board(), "{edit:?}");
        }
    }
}
