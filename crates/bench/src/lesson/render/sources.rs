//! Where a step's pictures come from: the window's session or the command line's files.

use joulemark_frames::Take;
use joulemark_locate::{Located, align::Alignment, board::Board};

use super::Missing;
use crate::{layer::ranges::Ranges, photo::Loaded};

/// A take that was read, and what was found in it.
#[derive(Clone, Copy, Debug)]
pub struct TakeSeen<'a> {
    /// The recording.
    pub take: &'a Take,
    /// The answer, once located.
    pub located: Option<&'a Located>,
    /// Pixels to millimetres, where the point pairs allow it.
    pub alignment: Option<&'a Alignment>,
    /// The face in the picture.
    pub face: &'a str,
    /// Value ranges of its layers; measured once, not per picture.
    pub ranges: &'a Ranges,
    /// Pixels at either end of the camera's range, row by row; may be empty.
    pub clipped: &'a [bool],
    /// Whether it is simulated.
    pub simulated: bool,
}

/// What steps are drawn from.
pub struct Sources<'a> {
    /// The board.
    pub board: &'a Board,
    /// The rail that is injected.
    pub rail: &'a str,
    /// A take by name; `None` where there is none, or it was not read.
    pub take: &'a dyn Fn(&str) -> Option<TakeSeen<'a>>,
    /// The photo file of a face, as it was read; `None` where the face has none.
    pub photo: &'a dyn Fn(&str) -> Option<&'a Loaded>,
}

impl std::fmt::Debug for Sources<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Sources").field("board", &self.board.name).field("rail", &self.rail).finish_non_exhaustive()
    }
}

impl<'a> Sources<'a> {
    /// A take that has to be there.
    pub fn of_take(&self, name: &str) -> Result<TakeSeen<'a>, Missing> {
        (self.take)(name).ok_or_else(|| Missing(format!("Take '{name}' is not in this case, or could not be read.")))
    }
}
