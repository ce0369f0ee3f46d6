//! What is known before a plan is made. `None` is not known, and makes the plan stricter.

use joulemark_frames::{Timeline, Unit};
use serde::{Deserialize, Serialize};

use super::Change;
use crate::{Located, copper::Layer, readings::RailUse};

/// The part that bears the least on the rail or on a rail joined to it at DC.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Weakest {
    /// Its designator.
    pub part: String,
    /// The most it bears, a magnitude.
    pub volts: f64,
    /// How it is reached: empty when it sits on the rail itself.
    #[serde(default)]
    pub via: Vec<String>,
}

/// Converters that the rail could drive backwards.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Back {
    /// Not known.
    #[default]
    Unknown,
    /// None.
    None,
    /// These.
    Some(Vec<String>),
}

/// What was confirmed at the bench: `Some(false)` refuses, `None` stands between the plan and the current.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Confirmations {
    /// The device is isolated from mains.
    pub isolated_from_mains: Option<bool>,
    /// No lithium cell can be reached: pack and coin cell are out.
    pub cells_out: Option<bool>,
    /// Red and black lie right, measured with the output off.
    pub polarity_right: Option<bool>,
    /// Capacitors are discharged.
    pub discharged: Option<bool>,
}

/// What the camera can tell apart.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Camera {
    /// Noise of a pixel in one frame.
    pub netd_k: f64,
    /// Frames a second.
    pub rate_hz: f64,
    /// Frames before the current.
    pub frames_before: usize,
}

impl Camera {
    /// As a take shows it; `None` for relative takes, and where the times say no rate.
    pub fn of(located: &Located, timeline: &Timeline) -> Option<Self> {
        let time_s = &timeline.time_s;
        let rate_hz = time_s.len().checked_sub(1)? as f64 / (time_s.last()? - time_s.first()?);
        (located.unit == Unit::Kelvin && rate_hz.is_finite() && rate_hz > 0.0).then_some(Self {
            netd_k: located.noise.netd,
            rate_hz,
            frames_before: located.noise.frames_before,
        })
    }
}

/// Everything that a plan is made from.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Inputs {
    /// The rail's name.
    pub rail: String,
    /// What it is for; by its volts where not stated.
    pub kind: Option<RailUse>,
    /// Nominal volts; may be negative.
    pub nominal_volts: Option<f64>,
    /// Lowest volts that it works at, for a variable rail or one of unknown nominal; a magnitude.
    pub least_volts: Option<f64>,
    /// The weakest part on it.
    pub weakest: Option<Weakest>,
    /// Lowest nominal volts among rails joined to it at DC, with the rail's name.
    pub joined_least: Option<(String, f64)>,
    /// Whether a low-voltage core can be reached through parts that conduct.
    pub core_behind: Option<String>,
    /// Converters that could be driven backwards.
    pub back_driven: Back,
    /// Measured resistance to ground, meter leads taken off.
    pub ohms: Option<f64>,
    /// What it may be off by either way.
    pub ohms_doubt: f64,
    /// Diode reading in volts, red on ground.
    pub diode_volts: Option<f64>,
    /// Resistance of the supply's leads, both together.
    pub lead_ohms: Option<f64>,
    /// The least that the supply can be set to.
    pub supply_least_volts: Option<f64>,
    /// The most that the supply gives.
    pub supply_most_volts: Option<f64>,
    /// The most that the supply gives.
    pub supply_most_amps: Option<f64>,
    /// The most that leads and connectors carry.
    pub leads_most_amps: Option<f64>,
    /// The most that the probe's tip carries.
    pub probe_most_amps: Option<f64>,
    /// Width of the narrowest trace on the way.
    pub trace_width_mm: Option<f64>,
    /// Its copper thickness; the thinnest usual one where not stated.
    pub copper_um: Option<f64>,
    /// Where it lies; inside where not stated.
    pub trace_layer: Layer,
    /// The camera.
    pub camera: Option<Camera>,
    /// Whether the take has no temperatures.
    pub relative: bool,
    /// Rise per watt that an earlier step of this board showed.
    pub measured_kelvin_per_watt: Option<f64>,
    /// What was confirmed.
    pub confirmed: Confirmations,
    /// Changes for this case, each with its reason.
    pub changes: Vec<Change>,
}
