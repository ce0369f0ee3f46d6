//! Rules as data, and the shop's changes to them. For every rule lower is tighter.

use serde::{Deserialize, Serialize};

/// One rule.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rule {
    /// Its name in files.
    pub id: String,
    /// Its value.
    pub value: f64,
    /// Unit of the value.
    pub unit: String,
    /// What it says.
    pub words: String,
    /// Where it comes from.
    pub source: String,
    /// How far a typed reason can loosen it; never where absent.
    #[serde(default)]
    pub loosen_to: Option<f64>,
}

/// A caution at the hands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// Its name in files.
    pub id: String,
    /// What it says.
    pub words: String,
    /// Whether it has to be acknowledged before current may flow.
    pub before_injection: bool,
}

/// A change to a rule, from the shop's file or from the case.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// Which rule.
    pub id: String,
    /// Its value instead, in the rule's unit.
    pub value: f64,
    /// Why, as typed; needed to loosen.
    #[serde(default)]
    pub reason: String,
    /// By whom.
    #[serde(default)]
    pub by: String,
}

/// What became of a [`Change`].
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Changed {
    /// Which rule.
    pub id: String,
    /// Its value before.
    pub from: f64,
    /// Its value now.
    pub to: f64,
    /// Whether it lets more through than before.
    pub loosened: bool,
    /// The typed reason.
    pub reason: String,
    /// By whom.
    pub by: String,
    /// Why it was not taken, or not in full.
    pub refused: Option<String>,
}

/// The whole rule book. An empty one (the default) lets nothing through.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    /// All rules.
    pub rules: Vec<Rule>,
    /// Rise per watt at a part, lowest and highest, in kelvin per watt.
    pub kelvin_per_watt: (f64, f64),
    /// Seconds to 63 % of a part's rise, fastest and slowest.
    pub settling_s: (f64, f64),
    /// Doubt of a measured kelvin per watt, as a share.
    pub measured_share: f64,
    /// Rise over its standard error that counts as seen.
    pub seen_at: f64,
    /// Ohms of a supply's leads where nothing was measured, lowest and highest.
    pub leads_ohms: (f64, f64),
    /// Copper thickness in micrometres where it is not stated.
    pub copper_um: f64,
    /// Seconds of contact and the bare metal temperature in °C that burns skin within them.
    pub skin: Vec<(f64, f64)>,
    /// Where those come from.
    pub skin_source: String,
    /// Cautions, in the order of the work.
    pub cautions: Vec<Caution>,
}

/// What is wrong with a rule book or a shop's file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{place}: {problem}; {remedy}")]
pub struct RulesError {
    /// Where in the text.
    pub place: String,
    /// What is wrong.
    pub problem: String,
    /// What to do.
    pub remedy: String,
}

/// The rules that a plan cannot do without.
const NEEDED: [&str; 28] = [
    "refuse_v",
    "step_1_v",
    "step_2_v",
    "step_3_v",
    "core_v",
    "unknown_v",
    "stated_v",
    "back_driven_v",
    "converters_unknown_v",
    "silicon_v",
    "main_1_a",
    "main_2_a",
    "main_3_a",
    "rail_1_a",
    "rail_2_a",
    "rail_3_a",
    "core_1_a",
    "core_2_a",
    "core_3_a",
    "unknown_1_a",
    "unknown_2_a",
    "leads_unknown_a",
    "probe_unknown_a",
    "trace_rise_k",
    "dwell_s",
    "step_j",
    "stop_c",
    "resistance_rise",
];

/// The rule book that the program comes with, as RON text: read by the caller, then [`Rules::checked`].
pub const LIMITS_RON: &str = include_str!("../../../../assets/rules/limits.ron");

impl Rules {
    /// The same book, when a plan can be made from it.
    ///
    /// # Errors
    /// When a rule is missing, stands twice, has no source or no value above zero.
    pub fn checked(self) -> Result<Self, RulesError> {
        for id in NEEDED {
            let found = self.rules.iter().filter(|r| r.id == id).count();
            if found != 1 {
                return Err(fault(id, format!("stands {found} times"), "write each rule once"));
            }
        }
        for rule in &self.rules {
            if !(rule.value.is_finite() && rule.value > 0.0) {
                return Err(fault(&rule.id, "is not a number above zero", "write its value in its unit"));
            }
            if rule.source.trim().is_empty() {
                return Err(fault(&rule.id, "has no source", "write where it comes from"));
            }
        }
        Ok(self)
    }

    /// The rule with that name; the book was checked for those that a plan needs.
    pub fn rule(&self, id: &str) -> Option<&Rule> {
        self.rules.iter().find(|r| r.id == id)
    }

    /// Its value; infinitely tight (zero) where the rule is missing.
    pub fn value(&self, id: &str) -> f64 {
        self.rule(id).map_or(0.0, |r| r.value)
    }

    /// Applies changes in order. Tightening is free; loosening needs a reason and ends at the rule's `loosen_to`.
    pub fn changed(&self, changes: &[Change]) -> (Self, Vec<Changed>) {
        let mut rules = self.clone();
        let mut told = Vec::new();
        for change in changes {
            let Some(rule) = rules.rules.iter_mut().find(|r| r.id == change.id) else {
                told.push(refused(change, f64::NAN, "there is no such rule".to_owned()));
                continue;
            };
            let from = rule.value;
            if !(change.value.is_finite() && change.value > 0.0) {
                told.push(refused(change, from, "its value is not a number above zero".to_owned()));
                continue;
            }
            let loosens = change.value > from;
            let most = rule.loosen_to.unwrap_or(from).max(from);
            if loosens && most <= from {
                told.push(refused(change, from, format!("{} is never loosened", rule.id)));
                continue;
            }
            if loosens && change.reason.trim().is_empty() {
                told.push(refused(change, from, "loosening a limit needs a typed reason".to_owned()));
                continue;
            }
            rule.value = change.value.min(most);
            told.push(Changed {
                id: change.id.clone(),
                from,
                to: rule.value,
                loosened: loosens,
                reason: change.reason.trim().to_owned(),
                by: change.by.clone(),
                refused: (change.value > most).then(|| format!("it ends at {most} {}", rule.unit)),
            });
        }
        (rules, told)
    }

    /// Whether a shop's changes all name rules of this book.
    ///
    /// # Errors
    /// The first one that does not.
    pub fn knows(&self, changes: &[Change]) -> Result<(), RulesError> {
        for change in changes {
            if self.rule(&change.id).is_none() {
                let known = self.rules.iter().map(|r| r.id.as_str()).collect::<Vec<_>>().join(", ");
                return Err(fault(&change.id, "is no rule", &format!("the rules are {known}")));
            }
        }
        Ok(())
    }

    /// Seconds of contact after which bare metal of `deg_c` may burn skin; `None` below every threshold.
    pub fn burns_within_s(&self, deg_c: f64) -> Option<f64> {
        self.skin.iter().filter(|(_, at)| deg_c >= *at).map(|(s, _)| *s).reduce(f64::min)
    }
}

fn refused(change: &Change, from: f64, why: String) -> Changed {
    let reason = change.reason.trim().to_owned();
    Changed {
        id: change.id.clone(),
        from,
        to: from,
        loosened: false,
        reason,
        by: change.by.clone(),
        refused: Some(why),
    }
}

fn fault(place: &str, problem: impl Into<String>, remedy: &str) -> RulesError {
    RulesError { place: place.to_owned(), problem: problem.into(), remedy: remedy.to_owned() }
}
