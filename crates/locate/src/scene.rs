//! What the take looks at, and the choices that the computation leaves open.

use nalgebra::Point2;

use crate::{align::Alignment, board::Board, suspect::Calibration};

/// What the take looks at.
#[derive(Clone, Copy, Debug)]
pub struct Scene<'a> {
    /// The drawing.
    pub board: &'a Board,
    /// Name of the face in the picture.
    pub face: &'a str,
    /// Name of the rail that current is injected into.
    pub rail: &'a str,
    /// Pixels to millimetres.
    pub alignment: &'a Alignment,
    /// Resistance of the leads, both together.
    pub lead_ohms: Option<f64>,
    /// Where the probe that feeds the rail touches the face, where the user marked it.
    pub injection_mm: Option<Point2<f64>>,
}

/// Choices. The defaults are those at which every accuracy figure is quoted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Probability of one or more false hot spots in a recording of a healthy board with pulses; steps are held to a tenth of it.
    pub false_alarm: f64,
    /// Most hot spots to report.
    pub most_spots: usize,
    /// Treat pixels that are ever "not a number" as absent instead of refusing the take.
    pub mask_not_a_number: bool,
    /// Time from one pulse to the next where the user knows better than the log; the log's on and off marks then only
    /// say when the first pulse began and how long a pulse is.
    pub period_s: Option<f64>,
    /// How evidence becomes probability.
    pub calibration: Calibration,
    /// Which faults of the recording are repaired.
    pub repairs: Repairs,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            false_alarm: 0.005,
            most_spots: 8,
            mask_not_a_number: false,
            period_s: None,
            calibration: Calibration::default(),
            repairs: Repairs::default(),
        }
    }
}

/// Which faults of the recording are repaired or told from heat. All are on unless switched off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Repairs {
    /// Dead, stuck and far too noisy pixels are replaced by their neighbours.
    pub pixels: bool,
    /// Drift of single columns and rows is taken off.
    pub stripes: bool,
    /// Movement of camera or board is found and undone.
    pub motion: bool,
    /// Repeated frames are left out, and the offset jump of a shutter pause is fitted beside the rise.
    pub pauses: bool,
    /// Drift of the whole picture is taken off.
    pub level: bool,
    /// Slow drift of single pixels and regions is learnt from the recording and weighed against the rise.
    pub drift: bool,
    /// A log that lags the picture, or hurries ahead of it, is shifted.
    pub log_lag: bool,
    /// Changes of what shiny surfaces reflect are told by the emissivity texture.
    pub reflection: bool,
    /// Places whose curve is better explained by something other than the injection are left out, and so is a strongest spot that does not
    /// spread as heat made there would.
    pub other_causes: bool,
    /// Rises that the power at the board cannot make are left out.
    pub power_bound: bool,
}

impl Default for Repairs {
    fn default() -> Self {
        Self {
            pixels: true,
            stripes: true,
            motion: true,
            pauses: true,
            level: true,
            drift: true,
            log_lag: true,
            reflection: true,
            other_causes: true,
            power_bound: true,
        }
    }
}
