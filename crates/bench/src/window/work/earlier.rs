//! What the shop's library knows of the board model of a case.

use std::path::Path;

use joulemark_locate::{EarlierCases, board::Board};

use crate::{
    case::{Case, CaseFolder},
    library::{self, Place, earlier::Learnt},
};

/// What was learnt, without the case itself; nothing where there is no library, where earlier cases are not to count, or where
/// the library cannot be read: that keeps nobody from working, and the library's own page says it.
pub fn learnt(folder: Option<&Path>, case: &Case, board: &Board) -> Learnt {
    if !library::place::remembered().earlier_cases_count {
        return Learnt::default();
    }
    let Ok(Some(place)) = Place::find(None, None) else {
        return Learnt::default();
    };
    let itself = CaseFolder { folder: folder.map(Path::to_owned).unwrap_or_default(), case: case.clone() };
    let model = library::earlier::model_of(&itself, &board.name);
    library::earlier::in_library(place, folder.map(|_| &itself), &model).unwrap_or_default()
}

/// The same, of the case's own rail.
pub fn on_rail(folder: Option<&Path>, case: &Case, board: &Board) -> EarlierCases {
    learnt(folder, case, board).on_rail(&case.rail)
}
