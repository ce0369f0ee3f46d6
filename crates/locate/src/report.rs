//! The short form of an answer: the JSON schema `joulemark.locate/1`, field for field.

use joulemark_frames::Unit;
use serde::{Deserialize, Serialize};

use crate::{Located, SpotRole, TimeConstant};

/// Name and version of the schema.
pub const SCHEMA: &str = "joulemark.locate/1";

/// One `joulemark.locate/1` document.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Report {
    /// [`SCHEMA`].
    pub schema: String,
    /// The take's name.
    pub take: String,
    /// Whether the `_k` fields are relative values without kelvin.
    pub relative: bool,
    /// Noise and frame counts.
    pub noise: NoiseEntry,
    /// Strongest first.
    pub hot_spots: Vec<HotSpotEntry>,
    /// Watts per part.
    pub heat_ledger: Vec<LedgerEntry>,
    /// Watts at the board.
    pub electrical_watts: Option<f64>,
    /// Share of the electrical watts that the ledger explains.
    pub explained_share: Option<f64>,
    /// All suspects of all hot spots; `hot_spot` is an index into `hot_spots`.
    pub suspects: Vec<SuspectEntry>,
    /// Two parts that may make one hot spot together. Their probability is in `suspects` already, half of it at each part.
    #[serde(default)]
    pub pairs: Vec<PairEntry>,
    /// Of hot spot 0.
    pub off_drawing_probability: f64,
    /// That nothing here is the short.
    pub nothing_probability: f64,
    /// One sentence each.
    pub warnings: Vec<String>,
}

/// See [`crate::Noise`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct NoiseEntry {
    pub netd_k: f64,
    pub frames_before: usize,
    pub frames_during: usize,
}

/// See [`crate::HotSpot`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct HotSpotEntry {
    pub x_px: f64,
    pub y_px: f64,
    pub sigma_x_px: f64,
    pub sigma_y_px: f64,
    pub face: String,
    pub x_mm: f64,
    pub y_mm: f64,
    pub rise_k: f64,
    pub rise_se_k: f64,
    /// `null` when the record cannot tell the time constant.
    pub tau_s: Option<f64>,
    pub onset_s: f64,
    pub q_value: f64,
}

/// Watts of one part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct LedgerEntry {
    pub part: String,
    pub watts: f64,
    pub share: Option<f64>,
}

/// See [`crate::Suspect`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct SuspectEntry {
    pub part: String,
    pub face: String,
    pub hot_spot: usize,
    pub probability: f64,
    pub group: Vec<String>,
    pub because: Vec<String>,
}

/// See [`crate::PairOfSuspects`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct PairEntry {
    pub parts: [String; 2],
    pub hot_spot: usize,
    pub probability: f64,
}

impl From<&Located> for Report {
    fn from(located: &Located) -> Self {
        let hot_spots = located
            .hot_spots
            .iter()
            .map(|spot| HotSpotEntry {
                x_px: spot.centre_px.x,
                y_px: spot.centre_px.y,
                sigma_x_px: spot.covariance_px2[(0, 0)].sqrt(),
                sigma_y_px: spot.covariance_px2[(1, 1)].sqrt(),
                face: located.face.clone(),
                x_mm: spot.centre_mm.x,
                y_mm: spot.centre_mm.y,
                rise_k: spot.rise.end,
                rise_se_k: spot.rise.end_se,
                tau_s: match spot.rise.time_constant {
                    TimeConstant::Known { tau_s, .. } => Some(tau_s),
                    TimeConstant::Between { .. }
                    | TimeConstant::AtLeast { .. }
                    | TimeConstant::AtMost { .. }
                    | TimeConstant::Unknown => None,
                },
                onset_s: spot.rise.onset_s,
                q_value: spot.q_value,
            })
            .collect();
        // The feeding track and the probe's contact come last, whatever their rise.
        let mut in_order: Vec<_> = located.answers.iter().enumerate().collect();
        in_order.sort_by_key(|(_, a)| matches!(a.role, SpotRole::OnPath { .. } | SpotRole::AtProbe));
        let pairs = in_order
            .iter()
            .flat_map(|(hot_spot, answer)| answer.pairs.iter().map(move |p| (*hot_spot, p)))
            .map(|(hot_spot, p)| PairEntry { parts: p.parts.clone(), hot_spot, probability: p.probability })
            .collect();
        let suspects = in_order
            .into_iter()
            .flat_map(|(hot_spot, answer)| answer.suspects.iter().map(move |s| (hot_spot, s)))
            .map(|(hot_spot, s)| SuspectEntry {
                part: s.part.clone(),
                face: s.face.clone(),
                hot_spot,
                probability: s.probability,
                group: s.group.clone(),
                because: s.because.clone(),
            })
            .collect();
        Self {
            schema: SCHEMA.to_owned(),
            take: located.take.clone(),
            relative: located.unit == Unit::Relative,
            noise: NoiseEntry {
                netd_k: located.noise.netd,
                frames_before: located.noise.frames_before,
                frames_during: located.noise.frames_during,
            },
            hot_spots,
            heat_ledger: located
                .ledger
                .iter()
                .flat_map(|ledger| &ledger.entries)
                .map(|e| LedgerEntry { part: e.part.clone(), watts: e.watts, share: e.share })
                .collect(),
            electrical_watts: located.electrical_watts,
            explained_share: located.ledger.as_ref().and_then(|l| l.explained_share),
            suspects,
            pairs,
            off_drawing_probability: located.answers.first().map_or(0.0, |a| a.off_drawing_probability),
            nothing_probability: located.nothing_probability,
            warnings: located.warnings.clone(),
        }
    }
}
