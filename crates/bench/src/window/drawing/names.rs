//! Names of faces and rails, and taking them out: what a change has to take along, and why one is refused.

use joulemark_locate::board::Board;

use super::BoardEdit;
use crate::window::document::{Document, Edit};

/// Why a name cannot be given.
fn refused(new: &str, there: bool) -> Option<String> {
    if new.is_empty() {
        return Some("a name cannot be empty".to_owned());
    }
    there.then(|| format!("{new} is there already: give another name"))
}

/// Another name for a face, in the takes that show it too.
pub fn rename_face(document: &Document, from: &str, to: &str) -> Result<Edit, String> {
    let to = to.trim();
    if let Some(why) = refused(to, document.board.face(to).is_some()) {
        return Err(why);
    }
    let edit = BoardEdit::RenameFace { from: from.to_owned(), to: to.to_owned() };
    let words = edit.words();
    let takes = document.case.takes.iter().filter(|t| t.face == from);
    let follow = takes.map(|t| Edit::Face { take: t.name.clone(), face: to.to_owned() });
    Ok(Edit::Several { words, edits: std::iter::once(Edit::Board(edit)).chain(follow).collect() })
}

/// Another name for a rail, in the case too.
pub fn rename_rail(document: &Document, from: &str, to: &str) -> Result<Edit, String> {
    let to = to.trim();
    if let Some(why) = refused(to, document.board.rail(to).is_some()) {
        return Err(why);
    }
    let edit = BoardEdit::RenameRail { from: from.to_owned(), to: to.to_owned() };
    let words = edit.words();
    let follow = (document.case.rail == from).then(|| Edit::Rail(to.to_owned()));
    Ok(Edit::Several { words, edits: std::iter::once(Edit::Board(edit)).chain(follow).collect() })
}

/// Takes a face out, and what other faces say about it; refused while a take shows it.
pub fn remove_face(document: &Document, name: &str) -> Result<BoardEdit, String> {
    if document.board.faces.len() < 2 {
        return Err("the only face stays".to_owned());
    }
    if let Some(take) = document.case.takes.iter().find(|t| t.face == name) {
        return Err(format!("take {} shows it: remove that take first", take.name));
    }
    let behind = |f: &&joulemark_locate::board::Face| f.through.as_ref().is_some_and(|t| t.face == name);
    let loose = document.board.faces.iter().filter(behind);
    let mut edits: Vec<BoardEdit> = loose.map(|f| BoardEdit::Through { face: f.name.clone(), through: None }).collect();
    edits.push(BoardEdit::RemoveFace(name.to_owned()));
    Ok(BoardEdit::Several { words: format!("remove face {name}"), edits })
}

/// Takes a rail out; refused while a part or the case needs it.
pub fn remove_rail(document: &Document, name: &str) -> Result<BoardEdit, String> {
    let board: &Board = &document.board;
    let on: Vec<&str> = board
        .faces
        .iter()
        .flat_map(|f| &f.parts)
        .filter(|p| p.rails.iter().any(|r| r == name))
        .map(|p| p.designator.as_str())
        .collect();
    match on.as_slice() {
        [] if document.case.rail == name && !document.case.takes.is_empty() => {
            Err("the takes inject into it: choose another rail in the Suspects stage first".to_owned())
        }
        [] => Ok(BoardEdit::Rails(board.rails.iter().filter(|r| r.name != name).cloned().collect())),
        [one] => Err(format!("{one} is on it: take that part off first")),
        [first, rest @ ..] => Err(format!("{first} and {} more are on it: take them off first", rest.len())),
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use joulemark_locate::board::{Face, Mirror, Part, Rail, Through};

    use super::*;
    use crate::case::{Case, TakeEntry};

    fn document() -> Document {
        let rail = |name: &str| Rail { name: name.into(), nominal_volts: None };
        let part = Part { designator: "C1".into(), rails: vec!["V12".into()], ..Part::default() };
        let through = Through { face: "bottom".into(), mirror: Mirror::X, dx_mm: 0.0, dy_mm: 0.0 };
        let top = Face { name: "top".into(), parts: vec![part], through: Some(through), ..Face::default() };
        let board = Board {
            name: "b".into(),
            faces: vec![top, Face { name: "bottom".into(), ..Face::default() }],
            rails: vec![rail("V12"), rail("V5")],
        };
        let take = TakeEntry { name: "a".into(), face: "top".into(), ..TakeEntry::default() };
        let case = Case { rail: "V12".into(), takes: vec![take], ..Case::default() };
        Document { case, board: Arc::new(board), ..Document::default() }
    }

    #[test]
    fn a_new_name_goes_wherever_the_old_one_was_and_comes_back() {
        let start = document();
        let edits = [
            rename_face(&start, "top", " upper half ").unwrap(),
            rename_face(&start, "bottom", "lower half").unwrap(),
            rename_rail(&start, "V12", "VIN").unwrap(),
        ];
        for edit in edits {
            let mut now = start.clone();
            let back = now.apply(edit.clone()).unwrap();
            now.apply(back);
            assert_eq!(now, start, "{edit:?}");
        }
        let mut now = start.clone();
        now.apply(rename_face(&start, "top", "upper half").unwrap());
        now.apply(rename_rail(&start, "V12", "VIN").unwrap());
        assert_eq!((now.case.takes[0].face.as_str(), now.case.rail.as_str()), ("upper half", "VIN"));
        assert_eq!(now.board.faces[0].parts[0].rails, ["VIN"]);
        now.apply(rename_face(&now, "bottom", "lower half").unwrap());
        assert_eq!(now.board.faces[0].through.as_ref().map(|t| t.face.as_str()), Some("lower half"));
    }

    #[test]
    fn what_is_in_use_says_by_what() {
        let mut document = document();
        assert!(rename_face(&document, "top", "bottom").unwrap_err().contains("there already"));
        assert!(rename_rail(&document, "V5", "  ").unwrap_err().contains("empty"));
        assert!(remove_face(&document, "top").unwrap_err().contains("take a shows it"));
        assert!(remove_rail(&document, "V12").unwrap_err().contains("C1 is on it"));
        let edit = Edit::Board(remove_face(&document, "bottom").unwrap());
        document.apply(edit);
        assert_eq!(document.board.faces[0].through, None);
        assert!(remove_face(&document, "top").unwrap_err().contains("only face"));
        let edit = Edit::Board(remove_rail(&document, "V5").unwrap());
        document.apply(edit);
        assert_eq!(document.board.rails.len(), 1);
    }
}
