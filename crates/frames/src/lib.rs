//! Frame files in, a [`Take`] out: frames with their times and the capture log.
//!
//! Conventions, stated once for the whole workspace:
//! * Pixel centres lie at integers. Pixel (0, 0) is the top left one, `x_px` grows to the right (columns) and
//!   `y_px` grows downwards (rows). Arrays are indexed `[frame, row, column]`, that is `[t, y, x]`.
//! * Values are **kelvin-sized** ([`Unit::Kelvin`]: a difference of 1.0 is one kelvin, whatever the zero point) or
//!   [`Unit::Relative`] (no temperature scale at all). Which one it is travels with the take.
//! * Times are seconds (`time_s`) on the capture log's own clock, one per frame, strictly increasing.
//!
//! This crate knows nothing about boards, parts or hot spots, and it never trusts a file header: every size is checked
//! against the file's length and a memory limit before anything is allocated.

#![deny(missing_docs)]

mod counts;
mod error;
mod inspect;
mod log;
mod note;
mod progress;
pub mod read;
pub mod relative;
mod stack;
mod take;
mod timeline;
pub mod write;

pub use counts::{CountsLaw, ParseCountsLawError};
pub use error::FramesError;
pub use inspect::{FrameSummary, Summary};
pub use log::{CaptureLog, FrameRef, LogRow, SupplyMode};
pub use note::Note;
pub use progress::{NoProgress, Progress};
pub use stack::{FrameGain, Samples, Stack, StackShape};
pub use take::{Take, Unit};
pub use timeline::{InjectFrom, Timeline};
