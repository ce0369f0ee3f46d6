//! Why a take cannot be located at all. Finding nothing is not one of these.

use crate::{align::AlignError, board::BoardError};

/// Why the computation could not be done. The caller adds file names.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LocateError {
    /// The drawing is faulty.
    #[error(transparent)]
    Board(#[from] BoardError),
    /// The point pairs are faulty.
    #[error(transparent)]
    Align(#[from] AlignError),
    /// The rail is not on the board.
    #[error("rail '{rail}' is not on the board; its rails are {known}")]
    NoSuchRail {
        /// The rail asked for.
        rail: String,
        /// The board's rails, comma separated.
        known: String,
    },
    /// The face is not on the board.
    #[error("face '{face}' is not on the board; its faces are {known}")]
    NoSuchFace {
        /// The face asked for.
        face: String,
        /// The board's faces, comma separated.
        known: String,
    },
    /// Too few frames before or during injection.
    #[error(
        "{before} frames before injection and {during} during it; film at least {need_before} before and {need_during} during"
    )]
    TooFewFrames {
        /// Frames without injection before the first injected one.
        before: usize,
        /// Frames with injection.
        during: usize,
        /// The least that is needed before.
        need_before: usize,
        /// The least that is needed during.
        need_during: usize,
    },
    /// A value is not a number.
    #[error(
        "frame {frame}, column {x_px}, row {y_px}: not a number; export the frames again, or let such pixels be masked"
    )]
    NotANumber {
        /// Frame, counted from 0.
        frame: usize,
        /// Column.
        x_px: usize,
        /// Row.
        y_px: usize,
    },
    /// The picture is too small to hold a hot spot and its surroundings.
    #[error("frames of {width_px} x {height_px} pixels are too small; at least 16 x 16 are needed")]
    TooSmall {
        /// Columns.
        width_px: usize,
        /// Rows.
        height_px: usize,
    },
    /// Every pixel is constant: nothing was measured.
    #[error("the frames never change: not even noise; check the export")]
    Constant,
    /// The user cancelled.
    #[error("cancelled")]
    Cancelled,
}
