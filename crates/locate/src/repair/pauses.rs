//! Shutter pauses.
