//! Faults of the recording that are undone on coefficient maps.
//!
//! Everything here is linear and fixed in time, so it commutes with the projection on the model's vectors: a drift of the
//! level, a column that walks, a picture that sways or a reflection that comes and goes leaves the same pattern in every
//! coefficient map as in the frames, only weighted. Maps are some twenty, frames are some hundreds.

mod lanes;
mod level;
mod stripes;
mod sway;
mod texture;

pub(crate) use level::LevelCourse;
pub(crate) use stripes::take_off_stripes;
pub(crate) use sway::take_off_sway;
pub(crate) use texture::Texture;
