//! Repair of a recording before it is computed with: movement of camera or board, shutter pauses, dropped frames, clipped
//! and faulty pixels. Everything here needs the frames themselves; what can be mended on coefficient maps is mended there.

mod clipped;
mod dropped;
#[cfg(test)]
mod film;
mod frames;
mod kernel;
pub mod motion;
pub mod pauses;
pub mod pixels;
mod resample;
mod simd;
mod steady;

pub use clipped::{Clipped, clipped, clipped_pixels};
pub use dropped::{Dropped, dropped};
pub use frames::Frames;
pub use motion::{Motion, MotionOutcome, Pose};
pub use pauses::Pauses;
pub use steady::Steady;
