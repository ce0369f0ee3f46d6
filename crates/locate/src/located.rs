//! The answer in full, as the window shows it. [`crate::report`] is its short form for JSON.

use joulemark_frames::Unit;
use nalgebra::{Matrix2, Point2};
use ndarray::Array2;

use crate::suspect::Considered;

/// Everything that locating found.
#[derive(Clone, Debug)]
pub struct Located {
    /// The take's name.
    pub take: String,
    /// What `rise_*` values mean; relative takes have no kelvin anywhere.
    pub unit: Unit,
    /// Face in the picture.
    pub face: String,
    /// Maps of the picture's size.
    pub maps: Maps,
    /// Noise and frame counts.
    pub noise: Noise,
    /// Hot spots, strongest (most certain) first.
    pub hot_spots: Vec<HotSpot>,
    /// For each hot spot, in the same order, who is suspected.
    pub answers: Vec<SpotAnswer>,
    /// Whether the picture is fine enough to part the parts near the spots.
    pub reach: Reach,
    /// Watts at the board while injecting, leads taken off; `None` when unknown.
    pub electrical_watts: Option<f64>,
    /// Watts per part; `None` where nothing was found or the take carries no temperature.
    pub ledger: Option<HeatLedger>,
    /// What was repaired, each with what it did.
    pub repairs: Vec<Repaired>,
    /// Probability that nothing on this picture is the short.
    pub nothing_probability: f64,
    /// What the user should know, each one sentence with its remedy.
    pub warnings: Vec<String>,
}

impl Located {
    /// The hot spot to act on: the strongest that is neither the feeding track nor the probe's contact, or else the strongest.
    pub fn leading(&self) -> Option<(usize, &SpotAnswer)> {
        let own = |(_, a): &(usize, &SpotAnswer)| matches!(a.role, SpotRole::Own | SpotRole::End);
        self.answers.iter().enumerate().find(own).or_else(|| self.answers.first().map(|a| (0, a)))
    }

    /// Rise per watt at the leading hot spot, kelvin per watt; `None` for relative takes, pulses and unknown power.
    pub fn kelvin_per_watt(&self) -> Option<f64> {
        let (index, _) = self.leading().filter(|_| self.unit == Unit::Kelvin)?;
        let spot = self.hot_spots.get(index).filter(|s| s.pulse.is_none())?;
        let watts = self.electrical_watts.filter(|w| *w > 0.0)?;
        Some(spot.rise.end / watts).filter(|k| *k > 0.0)
    }
}

/// Maps of the picture's size, indexed `[row, column]`.
#[derive(Clone, Debug)]
pub struct Maps {
    /// Mean of the frames before injection: the picture's texture.
    pub before: Array2<f32>,
    /// Fitted rise at the end of injection.
    pub rise: Array2<f32>,
    /// Its standard error.
    pub rise_se: Array2<f32>,
    /// Largest standardised rise over time constants, for a point at the pixel's own scale.
    pub z: Array2<f32>,
    /// The best time constant in seconds; NaN where the rise is below its noise.
    pub tau_s: Array2<f32>,
}

/// Noise and frame counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Noise of one pixel from frame to frame (noise-equivalent temperature difference), in the take's unit.
    pub netd: f64,
    /// Frames before injection.
    pub frames_before: usize,
    /// Frames with injection.
    pub frames_during: usize,
}

/// A place whose rise is real.
#[derive(Clone, Debug)]
pub struct HotSpot {
    /// Centre in the picture.
    pub centre_px: Point2<f64>,
    /// Covariance of the centre, pixels squared.
    pub covariance_px2: Matrix2<f64>,
    /// Centre on the face.
    pub centre_mm: Point2<f64>,
    /// Covariance of the centre on the face, alignment included.
    pub covariance_mm2: Matrix2<f64>,
    /// Standard deviation of the Gaussian that fits the spot best.
    pub scale_px: f64,
    /// The peak's standardised rise at that scale.
    pub z: f64,
    /// Probability that a healthy board shows a peak this strong anywhere (false discovery rate over peaks).
    pub q_value: f64,
    /// The rise over time.
    pub rise: Rise,
    /// The curve at the centre, for the time strip.
    pub curve: Curve,
    /// What follows the pulses, where the injection was pulsed.
    pub pulse: Option<Pulse>,
}

/// How a spot follows pulses of the injection.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulse {
    /// From one pulse to the next, in seconds; refined from the recording.
    pub period_s: f64,
    /// Amplitude of the spot's temperature at the pulse rate, in the take's unit (half of peak to peak for a sine).
    pub amplitude: f64,
    /// Its standard error.
    pub amplitude_se: f64,
    /// By how much the temperature lags the power at the pulse rate, degrees.
    pub lag_deg: f64,
    /// Its standard error.
    pub lag_se_deg: f64,
    /// Harmonics of the pulse rate that were fitted, the pulse rate itself included.
    pub harmonics: usize,
}

/// What one repair did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Repaired {
    /// Which, as in [`crate::Repairs`]: `pixels`, `stripes`, `motion` ...
    pub what: &'static str,
    /// What it did, one sentence for the user.
    pub did: String,
}

/// Where the heat is made: watts per part from forward templates.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HeatLedger {
    /// Parts that take power, most first.
    pub entries: Vec<LedgerEntry>,
    /// Watts in the copper between the probe's mark and a hot spot.
    pub path_watts: f64,
    /// Watts on no part of the drawing.
    pub elsewhere_watts: f64,
    /// Share of the watts at the board that the ledger explains, where these are known.
    pub explained_share: Option<f64>,
    /// Its standard error.
    pub explained_share_se: Option<f64>,
    /// Sheet conductance of the board that fitted best, W/K.
    pub sheet_w_per_k: f64,
    /// What follows for the user, one sentence each: heat on another face, more heat than power, ...
    pub hints: Vec<String>,
}

/// Watts of one part.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LedgerEntry {
    /// Designator.
    pub part: String,
    /// Face that it is on.
    pub face: String,
    /// Watts while the injection is on.
    pub watts: f64,
    /// Standard error: noise and the unknown constants of the board together.
    pub watts_se: f64,
    /// Share of the watts at the board, where these are known.
    pub share: Option<f64>,
}

/// The rise fit of a hot spot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rise {
    /// Rise at the end of injection, in the take's unit.
    pub end: f64,
    /// Its standard error.
    pub end_se: f64,
    /// Start slope `a / tau`, in the take's unit per second: proportional to the power over heat capacity.
    pub start_slope_per_s: f64,
    /// Its standard error.
    pub start_slope_se_per_s: f64,
    /// Time constant and plateau, where the record can tell them apart.
    pub time_constant: TimeConstant,
    /// When the spot starts to warm, on the log's clock.
    pub onset_s: f64,
    /// Its standard error.
    pub onset_se_s: f64,
    /// Whether the fit converged; otherwise the values are those of the response bank.
    pub converged: bool,
}

/// What the record says of the time constant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TimeConstant {
    /// Plateau and time constant stand apart.
    Known {
        /// Seconds.
        tau_s: f64,
        /// Its standard error.
        tau_se_s: f64,
        /// Plateau, in the take's unit.
        plateau: f64,
        /// Its standard error.
        plateau_se: f64,
    },
    /// Plateau and time constant are not told apart, but tau is bounded on both sides (95 % each).
    Between {
        /// Seconds.
        low_s: f64,
        /// Seconds.
        high_s: f64,
    },
    /// The record is too short to see the plateau: tau is at least this.
    AtLeast {
        /// Seconds.
        tau_s: f64,
    },
    /// The spot follows faster than the frames show: tau is at most this.
    AtMost {
        /// Seconds.
        tau_s: f64,
    },
    /// Any time constant will do.
    Unknown,
}

/// Curve at a spot: one value per frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Curve {
    /// Seconds.
    pub time_s: Vec<f64>,
    /// Measured around the centre and scaled to it, the first value taken off.
    pub measured: Vec<f64>,
    /// Fitted: background terms and rise.
    pub fitted: Vec<f64>,
}

/// Who is suspected for one hot spot. The suspects' probabilities, off-drawing and nothing sum to 1.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpotAnswer {
    /// Most probable first.
    pub suspects: Vec<Suspect>,
    /// Probability of something not on the drawing.
    pub off_drawing_probability: f64,
    /// Probability that the spot is not the short at all.
    pub nothing_probability: f64,
    /// What the spot is to the current.
    pub role: SpotRole,
    /// Two parts that may make the spot together, most probable first. Their probability is in the two suspects' already, by halves.
    pub pairs: Vec<PairOfSuspects>,
    /// Every hypothesis as numbers, something off the drawing last.
    pub considered: Vec<Considered>,
}

/// Two parts that make one spot together.
#[derive(Clone, Debug, PartialEq)]
pub struct PairOfSuspects {
    /// Designators.
    pub parts: [String; 2],
    /// Probability that both are at fault.
    pub probability: f64,
}

/// What a hot spot is to the current that feeds it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SpotRole {
    /// Where a heated path ends: the short.
    End,
    /// The feeding track on the way to another hot spot.
    OnPath {
        /// Index of that hot spot.
        towards: usize,
    },
    /// The contact of the probe that feeds the rail.
    AtProbe,
    /// Nothing is known of a path to it.
    #[default]
    Own,
}

/// A part with its probability.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Suspect {
    /// Designator.
    pub part: String,
    /// Face that it is on.
    pub face: String,
    /// Probability for this hot spot.
    pub probability: f64,
    /// The parts that this picture cannot tell it from, in the order in which to lift them; empty when it stands alone.
    pub group: Vec<String>,
    /// Why, in words.
    pub because: Vec<String>,
    /// The numbers behind the words.
    pub evidence: Evidence,
}

/// The numbers behind a suspect.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Evidence {
    /// Distance of the hot spot's centre from the footprint; zero inside.
    pub distance_mm: f64,
    /// Natural logarithm of the Bayes factor against "off the drawing", position only.
    pub log_bayes_position: f64,
    /// Prior weight before the picture was looked at.
    pub prior: f64,
    /// Whether it sits on the injected rail or one joined to it at DC.
    pub on_rail: bool,
}

/// How fine the picture is against the parts near the spots.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reach {
    /// Millimetres per pixel at the first hot spot, or at the picture's centre.
    pub mm_per_px: f64,
    /// Smallest distance between two parts that this picture can tell apart there.
    pub resolves_mm: f64,
    /// When too coarse: what to do, in words.
    pub advice: Option<String>,
}
