//! Coefficient maps: made in one pass over the frames, mended, scaled to their noise, and smoothed.

mod filter;
mod noise;
mod panel;
mod profile;
mod project;
mod rise;
mod weighted;

pub use filter::Plane;
pub use noise::{PixelNoise, judge, mend, without_signal};
pub use profile::profile;
pub use project::{Projection, project};
pub use rise::{RiseEstimator, rise_maps};
pub use weighted::weighted_sum;
