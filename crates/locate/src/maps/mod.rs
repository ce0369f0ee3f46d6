//! Coefficient maps: made in one pass over the frames, mended, scaled to their noise, and smoothed.

mod filter;
mod noise;
mod panel;
mod profile;
mod project;
mod readout;
mod rise;
mod weighted;

pub use filter::{Plane, Smoother};
pub use noise::{Holes, PixelNoise, judge, without_signal};
pub use profile::profile;
pub use project::{Projection, project};
pub use readout::Readout;
pub use rise::{RiseEstimator, rise_maps};
pub use weighted::weighted_sum;
