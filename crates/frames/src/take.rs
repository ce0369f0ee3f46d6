//! One recording, ready for computation.

use crate::{Note, Stack, Timeline};

/// What a difference of 1.0 between two values means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// One kelvin.
    Kelvin,
    /// Nothing in kelvin: plain pictures and video. Everything downstream must say "relative".
    Relative,
}

/// One recording: frames, their times and electrical readings, and what was noticed while reading it.
#[derive(Clone, Debug)]
pub struct Take {
    /// The name the user gave it, or the file's name.
    pub name: String,
    /// The frames.
    pub stack: Stack,
    /// What the values mean.
    pub unit: Unit,
    /// One entry per frame.
    pub timeline: Timeline,
    /// Warnings from reading.
    pub notes: Vec<Note>,
}
