//! What spoils a recording: things that move although nothing is injected, and faults of sensor, camera and log.
//!
//! All are off by default. The truth of a simulated recording leaves them out.

use super::SourceAt;

/// What moves although nothing is injected, and what goes wrong while filming.
#[derive(Clone, Debug, Default)]
pub struct Disturbances {
    /// Changes of what the board reflects.
    pub reflections: Vec<Reflection>,
    /// Reflections that wander over the board: the operator.
    pub moving_reflections: Vec<MovingReflection>,
    /// Patches that are warm (or cold) at the start and even out on their own.
    pub warm_patches: Vec<WarmPatch>,
    /// Probe tips that are not at the board's temperature.
    pub probes: Vec<ProbeContact>,
    /// Pixels that do not measure.
    pub bad_pixels: Vec<BadPixel>,
    /// Where the board has moved to in the picture, one entry per frame; empty when camera and board stand still. The
    /// fixed pattern stays with the sensor.
    pub shake: Vec<Pose>,
    /// The sensor's shutter closing for a new offset calibration; earliest first, none reaching into the next.
    pub pauses: Vec<ShutterPause>,
    /// By how many frames the log comes late (negative: early) against what the supply really did.
    pub log_lag_frames: i32,
}

/// A smooth change of the reflected temperature: somebody moves. It shows where emissivity is low.
#[derive(Clone, Copy, Debug)]
pub struct Reflection {
    /// Middle of the Gaussian, millimetres.
    pub centre_mm: [f64; 2],
    /// Its standard deviation, millimetres.
    pub sigma_mm: f64,
    /// Change of the reflected temperature at the middle, kelvin.
    pub change_k: f64,
    /// When it begins, seconds.
    pub from_s: f64,
    /// How long it takes, seconds.
    pub over_s: f64,
}

/// A reflection that travels along a line at steady speed; its strength comes and goes as a squared sine.
#[derive(Clone, Copy, Debug)]
pub struct MovingReflection {
    /// Middle of the Gaussian at `from_s`, millimetres.
    pub start_mm: [f64; 2],
    /// Middle of the Gaussian at `to_s`, millimetres.
    pub end_mm: [f64; 2],
    /// Standard deviation of the Gaussian, millimetres.
    pub sigma_mm: f64,
    /// Largest change of the reflected temperature, half way, kelvin.
    pub change_k: f64,
    /// When it begins, seconds.
    pub from_s: f64,
    /// When it is gone, seconds.
    pub to_s: f64,
}

impl MovingReflection {
    /// Centre and change of the reflected temperature at a time; nothing outside its time.
    pub fn at(&self, time_s: f64) -> Option<([f64; 2], f64)> {
        let share = (time_s - self.from_s) / (self.to_s - self.from_s);
        (share > 0.0 && share < 1.0).then(|| {
            let place = |axis: usize| self.start_mm[axis] + share * (self.end_mm[axis] - self.start_mm[axis]);
            ([place(0), place(1)], self.change_k * (std::f64::consts::PI * share).sin().powi(2))
        })
    }
}

/// A patch of the plate with another temperature at the first frame.
#[derive(Clone, Copy, Debug)]
pub struct WarmPatch {
    /// Middle of the Gaussian, millimetres.
    pub centre_mm: [f64; 2],
    /// Its standard deviation, millimetres.
    pub sigma_mm: f64,
    /// Rise at the middle, kelvin.
    pub rise_k: f64,
}

/// A probe tip that touches the board and stays. It has one temperature, exchanges heat with what it touches and with
/// nothing else, and is not seen in the picture.
#[derive(Clone, Copy, Debug)]
pub struct ProbeContact {
    /// What it touches.
    pub at: SourceAt,
    /// Its rise over ambient before it touches, kelvin.
    pub rise_k: f64,
    /// Its heat capacity, J/K.
    pub capacity_j_per_k: f64,
    /// Conductance of the contact, W/K.
    pub contact_w_per_k: f64,
    /// When it touches, seconds.
    pub touch_s: f64,
}

/// A pixel that does not measure.
#[derive(Clone, Copy, Debug)]
pub struct BadPixel {
    /// Column.
    pub x_px: usize,
    /// Row.
    pub y_px: usize,
    /// How it fails.
    pub fault: PixelFault,
}

/// How a pixel fails.
#[derive(Clone, Copy, Debug)]
pub enum PixelFault {
    /// It always shows the same: dead (low) or stuck (high), kelvin over ambient.
    Constant {
        /// What it shows.
        shown_k: f64,
    },
    /// It measures, and jumps between two offsets at random times (random telegraph).
    Flicker {
        /// From one offset to the other, kelvin.
        jump_k: f64,
        /// Mean time between jumps, seconds.
        every_s: f64,
    },
}

/// How the board lies in the picture against the setup's own mapping: turned about the picture's middle, then shifted.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pose {
    /// To the right.
    pub dx_px: f64,
    /// Downwards.
    pub dy_px: f64,
    /// Turn from x towards y.
    pub turn_deg: f64,
}

/// A pause of the sensor: the last frame is repeated, then the picture goes on with another offset.
#[derive(Clone, Copy, Debug)]
pub struct ShutterPause {
    /// First repeated frame; at least 1.
    pub from_frame: usize,
    /// Number of frames that repeat the one before.
    pub repeats: usize,
    /// Jump of the level afterwards, kelvin.
    pub jump_k: f64,
    /// Change of the fixed pattern afterwards, standard deviation in kelvin.
    pub pattern_k: f64,
}
