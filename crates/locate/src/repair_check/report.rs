//! The JSON document `joulemark.compare/1`.

use joulemark_frames::Unit;
use serde::{Deserialize, Serialize};

use super::{AgainstGood, RepairCheck, Scaling};

/// Name and version of the schema.
pub const SCHEMA: &str = "joulemark.compare/1";
/// What stands for the verdict where nothing was repaired.
const AGAINST_GOOD: &str = "against a good board";

/// One document. `_k` fields are relative values when `relative` is true.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct Report {
    pub schema: String,
    pub before: String,
    pub after: String,
    pub relative: bool,
    /// `cleared`, `still there`, `moved`, `gone without a repair` or `cannot tell`; `against a good board` where `after` is another device that is
    /// known to be good, which proves no repair.
    pub verdict: String,
    pub because: Vec<String>,
    pub amps_before: Option<f64>,
    pub amps_after: Option<f64>,
    /// Current after over current before at equal volts.
    pub current_ratio: Option<f64>,
    /// What the after-take's rises were multiplied by; `null` where they were not scaled.
    pub scaled_by: Option<f64>,
    pub site: Option<SiteEntry>,
    pub moved_to: Option<String>,
    /// Every hot spot of either take, those before first.
    #[serde(default)]
    pub spots: Vec<SpotEntry>,
    pub parts: Vec<PartEntry>,
    /// Parts against a good board, those that warm more first; empty otherwise.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub against_good: Vec<ExcessEntry>,
    pub notes: Vec<String>,
}

/// The place where the heat started before.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct SiteEntry {
    pub x_mm: f64,
    pub y_mm: f64,
    pub before_k: f64,
    pub before_se_k: f64,
    pub after_k: f64,
    pub after_se_k: f64,
    /// The rise that counts as none.
    pub bound_k: Option<f64>,
    pub after_low_k: Option<f64>,
    pub after_high_k: Option<f64>,
    /// Rise less that of the ring around the place.
    #[serde(default)]
    pub own_before_k: Option<f64>,
    #[serde(default)]
    pub own_before_se_k: Option<f64>,
    #[serde(default)]
    pub own_after_k: Option<f64>,
    #[serde(default)]
    pub own_after_se_k: Option<f64>,
}

/// A hot spot of either take.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct SpotEntry {
    /// Index among the hot spots of the take before, as in `locate --json`; `null` where that shows none there.
    pub hot_spot_before: Option<usize>,
    pub hot_spot_after: Option<usize>,
    /// First suspected; after where it is found there, otherwise before.
    pub part: Option<String>,
    pub x_mm: f64,
    pub y_mm: f64,
    /// `null` where the place is outside one of the pictures.
    pub rise: Option<RiseEntry>,
}

/// A rise in both takes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct RiseEntry {
    pub before_k: f64,
    pub before_se_k: f64,
    pub after_k: f64,
    pub after_se_k: f64,
    /// After less before.
    pub change_k: f64,
    pub change_se_k: f64,
}

/// A part of this board and of a good one.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct ExcessEntry {
    pub part: String,
    pub here_k: f64,
    pub here_se_k: f64,
    pub good_k: f64,
    pub good_se_k: f64,
    pub excess_k: f64,
    pub excess_se_k: f64,
    /// It warms more than on the good board, beyond what healthy boards differ by, and by heat of its own.
    pub more: bool,
}

/// Mean rise over a part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[expect(missing_docs, reason = "the schema's own names")]
pub struct PartEntry {
    pub part: String,
    pub before_k: f64,
    pub before_se_k: f64,
    pub after_k: f64,
    pub after_se_k: f64,
}

impl Report {
    /// The document of a check between two takes.
    pub fn new(check: &RepairCheck, before: &str, after: &str) -> Self {
        let verdict = &check.verdict;
        Self {
            schema: SCHEMA.into(),
            before: before.into(),
            after: after.into(),
            relative: check.unit == Unit::Relative,
            verdict: verdict.kind.words().into(),
            because: verdict.because.clone(),
            amps_before: check.electrical.amps.0,
            amps_after: check.electrical.amps.1,
            current_ratio: check.electrical.ratio,
            scaled_by: match check.electrical.scaling {
                Scaling::ToPower(factor) => Some(factor),
                Scaling::NoCurrent | Scaling::Unknown => None,
            },
            site: check.site.map(|s| SiteEntry {
                x_mm: s.at_mm.x,
                y_mm: s.at_mm.y,
                before_k: s.before,
                before_se_k: s.before_se,
                after_k: s.after,
                after_se_k: s.after_se,
                bound_k: verdict.bound,
                after_low_k: verdict.after_between.map(|b| b.0),
                after_high_k: verdict.after_between.map(|b| b.1),
                own_before_k: s.own_before.map(|o| o.value),
                own_before_se_k: s.own_before.map(|o| o.se),
                own_after_k: s.own_after.map(|o| o.value),
                own_after_se_k: s.own_after.map(|o| o.se),
            }),
            moved_to: check.moved.as_ref().and_then(|(_, part)| part.clone()),
            spots: check
                .spots
                .iter()
                .map(|s| SpotEntry {
                    hot_spot_before: s.index_before,
                    hot_spot_after: s.index_after,
                    part: s.part.clone(),
                    x_mm: s.at_mm.x,
                    y_mm: s.at_mm.y,
                    rise: s.rise.map(|r| RiseEntry {
                        before_k: r.before,
                        before_se_k: r.before_se,
                        after_k: r.after,
                        after_se_k: r.after_se,
                        change_k: r.change().value,
                        change_se_k: r.change().se,
                    }),
                })
                .collect(),
            parts: check
                .parts
                .iter()
                .map(|p| PartEntry {
                    part: p.part.clone(),
                    before_k: p.before,
                    before_se_k: p.before_se,
                    after_k: p.after,
                    after_se_k: p.after_se,
                })
                .collect(),
            against_good: Vec::new(),
            notes: check.notes.clone(),
        }
    }

    /// The document of a take against one of a good board.
    pub fn against_good(found: &AgainstGood, here: &str, good: &str) -> Self {
        Self {
            schema: SCHEMA.into(),
            before: here.into(),
            after: good.into(),
            relative: found.unit == Unit::Relative,
            verdict: AGAINST_GOOD.into(),
            because: found.told.clone(),
            amps_before: found.amps.0,
            amps_after: found.amps.1,
            current_ratio: None,
            scaled_by: None,
            site: None,
            moved_to: None,
            spots: Vec::new(),
            parts: Vec::new(),
            against_good: found
                .parts
                .iter()
                .map(|p| ExcessEntry {
                    part: p.part.clone(),
                    here_k: p.here.value,
                    here_se_k: p.here.se,
                    good_k: p.good.value,
                    good_se_k: p.good.se,
                    excess_k: p.excess.value,
                    excess_se_k: p.excess.se,
                    more: p.more,
                })
                .collect(),
            notes: found.notes.clone(),
        }
    }
}
