//! Colours shared by the window and the written pictures.

pub mod scales;
