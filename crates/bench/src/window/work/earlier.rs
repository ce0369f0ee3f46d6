//! What the shop's library knows of the board model of a case.

use std::path::Path;

use joulemark_locate::{EarlierCases, board::Board};

use crate::{
    case::{Case, CaseFolder},
    library::{self, earlier::Learnt},
};

/// What was learnt, without the case itself; nothing where there is no library, where earlier cases are not to count, or where
/// the library cannot be read: that keeps nobody from working, and the library's own page says it.
pub fn learnt(folder: Option<&Path>, case: &Case, board: &Board) -> Learnt {
    let itself = folder.map(|folder| CaseFolder { folder: folder.to_owned(), case: case.clone() });
    // A case that is in no folder yet still says its model.
    let drawing = if case.device.model.is_empty() { &board.name } else { &case.device.model };
    library::earlier::counting(itself.as_ref(), drawing).unwrap_or_default()
}

/// The same, of the case's own rail.
pub fn on_rail(folder: Option<&Path>, case: &Case, board: &Board) -> EarlierCases {
    learnt(folder, case, board).on_rail(&case.rail)
}
