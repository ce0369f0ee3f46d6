//! Readings for the tests of this module, as they come in: leads of 0.1 ohm, against ground, before anything was done.

use super::{Measured, Polarity, Reading, Return, Shown};

pub(super) fn reading(rail: &str, measured: Measured) -> Reading {
    Reading {
        rail: rail.into(),
        against: Return::Ground,
        measured,
        face: String::new(),
        after: 0,
        good_board: false,
        meter_lead_ohms: Some(0.1),
    }
}

pub(super) fn ohms(rail: &str, value: f64) -> Reading {
    reading(rail, Measured::Ohms(Shown::Number(value)))
}

pub(super) fn diode(rail: &str, value: f64) -> Reading {
    reading(rail, Measured::Diode(Polarity::RedOnGround, Shown::Number(value)))
}
