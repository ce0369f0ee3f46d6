//! What a log is held against.

use crate::limits::{Rules, Step};

/// The step in force as plain numbers; volts and amps are magnitudes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Volts ceiling.
    pub volts: f64,
    /// Amps ceiling.
    pub amps: f64,
    /// Most seconds with current on.
    pub dwell_s: f64,
    /// Most energy.
    pub joules: f64,
    /// Stop temperature, °C.
    pub stop_c: Option<f64>,
    /// Above this, healthy silicon draws and warms.
    pub silicon_volts: f64,
    /// Share by which the resistance may rise within a second.
    pub resistance_rise: f64,
}

impl Held {
    /// From a step of a plan and the rules that it was made with.
    pub fn new(step: &Step, rules: &Rules) -> Self {
        Self {
            volts: step.volts.value,
            amps: step.amps.value,
            dwell_s: step.dwell_s.value,
            joules: step.joules.value,
            stop_c: step.stop_c.as_ref().map(|c| c.value),
            silicon_volts: rules.value("silicon_v"),
            resistance_rise: rules.value("resistance_rise"),
        }
    }
}

/// The least watts at the board that the camera should see for certain at a step: the smallest rise that it sees, at the lowest rise per watt
/// of the rule book. `None` where the camera is not known.
pub fn visible_watts(step: &Step, rules: &Rules) -> Option<f64> {
    Some(step.smallest_seen_k? / rules.kelvin_per_watt.0)
}
