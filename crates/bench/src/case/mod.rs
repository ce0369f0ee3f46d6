//! A case: everything about one device, a folder with `case.ron` in it. Paths in it are relative to that folder.

pub mod atomic;
pub mod bad_input;
pub mod board_file;
pub mod books;
pub mod case_log;
pub mod clock;
pub mod conclusion;
pub mod connection;
pub mod device;
pub mod exercise;
mod folder;
pub mod gains;
pub mod intervention;
pub mod load;
pub mod log_file;
pub mod meter_log;
pub mod notation;
pub mod pairs;
pub mod plan;
mod plan_inputs;
pub mod practice;
mod rail_readings;
pub mod reading;
mod repair_bench;
pub mod settings;
pub mod shows;
pub mod survey;
pub mod told;
pub mod turn;
pub mod typed;
pub mod whole;

pub use bad_input::{BadInput, read_text};
pub use folder::CaseFolder;
pub use notation::to_ron;

use std::path::{Path, PathBuf};

use self::{
    conclusion::{SignOff, VerdictEntry},
    connection::Connection,
    device::Device,
    exercise::Exercise,
    intervention::Intervention,
    plan::PlanChoices,
    reading::ReadingEntry,
    shows::Shows,
    survey::Survey,
    turn::Origin,
};
use crate::lesson::Lesson;
use joulemark_frames::CountsLaw;
use joulemark_locate::align::{PointPair, Refinement};
use serde::{Deserialize, Serialize};

/// Name of the case file within its folder.
pub const CASE_FILE: &str = "case.ron";

/// Version that this program writes.
pub const VERSION: u32 = 1;

/// The content of `case.ron`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Case {
    /// Format version, for reading older files.
    pub version: u32,
    /// What the shop calls it: device and serial number.
    pub name: String,
    /// Which device it is, and what is wrong with it.
    #[serde(default, skip_serializing_if = "Device::is_empty")]
    pub device: Device,
    /// Board drawing: `board.ron` or `board.json`.
    pub board: PathBuf,
    /// The shorted rail.
    pub rail: String,
    /// Resistance of the leads, both together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_ohms: Option<f64>,
    /// Resistance of the meter's leads, taken off ohms readings from now on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter_lead_ohms: Option<f64>,
    /// Meter readings, in the order in which they were taken.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<ReadingEntry>,
    /// What was done to the board.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub interventions: Vec<Intervention>,
    /// Connections of the supply, and what was acknowledged at each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub connections: Vec<Connection>,
    /// What was stated for the injection plan, and which step is in force.
    #[serde(default)]
    pub plan: PlanChoices,
    /// Millivolt surveys.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub surveys: Vec<Survey>,
    /// Recordings, in the order in which they were made.
    #[serde(default)]
    pub takes: Vec<TakeEntry>,
    /// Verdicts of repair checks, in the order in which they were recorded.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub verdicts: Vec<VerdictEntry>,
    /// The lead's signature.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sign_off: Option<SignOff>,
    /// Lessons made of it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lessons: Vec<Lesson>,
    /// Where it is given out as an exercise: the task, the sealed answer, how far the student has come.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exercise: Option<Exercise>,
    /// Free text.
    #[serde(default)]
    pub notes: String,
    /// For a practice case: the simulated truth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub practice: Option<PracticeTruth>,
    /// What its file held when it was last read or written here; no part of the case.
    #[serde(skip)]
    pub origin: Origin,
}

impl Case {
    /// Says of every file where it lies, so that the case can be saved elsewhere: paths were relative to this folder.
    pub fn lie_in(&mut self, folder: &Path) {
        let lies = |path: &mut PathBuf| *path = folder.join(&*path);
        lies(&mut self.board);
        for take in &mut self.takes {
            lies(&mut take.frames);
            take.log.iter_mut().for_each(lies);
        }
        self.origin = Origin::default();
    }
}

/// One recording of a case.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TakeEntry {
    /// The name shown; unique within the case.
    pub name: String,
    /// A file or a folder of frames.
    pub frames: PathBuf,
    /// The capture log.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log: Option<PathBuf>,
    /// First injected frame, where there is no log or its marks are wrong.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inject_from: Option<usize>,
    /// Frames per second, where neither log nor file has times.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_hz: Option<f64>,
    /// The law from counts to kelvin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub counts: Option<CountsLaw>,
    /// The face in the picture.
    pub face: String,
    /// Point pairs between picture and face.
    #[serde(default)]
    pub pairs: Vec<PointPair>,
    /// The mapping that was refined from these pairs on the board's own edges.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refined: Option<Refinement>,
    /// Where the probe that feeds the rail touches the face: x, y in millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub probe_mm: Option<(f64, f64)>,
    /// After which intervention it was made; 0 as the device came in.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub after: u32,
    /// What happens on it.
    #[serde(default, skip_serializing_if = "Shows::is_usual")]
    pub shows: Shows,
    /// Time from one pulse of the injection to the next in seconds, where it is known better than by the log's marks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub period_s: Option<f64>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for it")]
fn is_zero(after: &u32) -> bool {
    *after == 0
}

/// What the simulator put into a practice case.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PracticeTruth {
    /// The scenario's name.
    pub scenario: String,
    /// The seed.
    pub seed: u64,
    /// The shorted part, or none.
    pub part: Option<String>,
}
