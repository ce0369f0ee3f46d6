//! A take and a board in; hot spots, the parts under them and the reasons out.
//!
//! Data runs one way: take -> background and response model per pixel (`model`) -> maps -> peaks that are real
//! (`peaks`) -> board millimetres ([`align`]) -> suspects (`suspect`). [`locate`] runs the whole chain.
//!
//! Image coordinates are those of `joulemark-frames` (pixel centres at integers, y down); board millimetres are those of
//! [`board`] (x right, y down as the face is looked at). Transforms are named target-from-source: `board_from_image`.
//! This crate opens no files and no windows. Finding nothing is an answer, not an error.

#![deny(missing_docs)]

pub mod align;
pub mod board;
mod cause;
mod clean;
pub mod copper;
mod covariance;
mod error;
mod film;
pub mod fit;
mod footprint;
mod ledger;
pub mod limits;
mod located;
mod maps;
mod model;
pub mod next_action;
pub mod onset;
mod peaks;
mod pipeline;
pub mod plate;
mod power;
pub mod readiness;
pub mod readings;
#[cfg(test)]
mod reference_checks;
mod region;
pub mod repair;
pub mod repair_check;
pub mod report;
mod scene;
pub mod simulate;
mod spot;
pub mod stats;
pub mod survey;
mod suspect;
mod timing;
pub mod watch;
mod words;

pub use error::LocateError;
pub use footprint::{FootprintCurve, footprint_curve};
pub use ledger::leakage_advice;
pub use located::{
    Curve, Evidence, HeatLedger, HotSpot, LedgerEntry, Located, Maps, Noise, PairOfSuspects, Pulse, Reach, Repaired,
    Rise, SpotAnswer, SpotRole, Suspect, TimeConstant,
};
pub use pipeline::{locate, locate_knowing};
pub use scene::{Repairs, Scene, Settings};
pub use suspect::{Calibration, Considered, EarlierCases, EarlierPart, TABLE_CASES, probabilities, smoothed};
