//! What the user stated for the injection plan, and which step is in force. The limits themselves are worked out anew
//! from these; none are stored.

pub use joulemark_locate::readings::RailUse;
use serde::{Deserialize, Serialize};

/// A limit that was loosened, with the reason. Never past the rail's nominal volts and the weakest part.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Override {
    /// The rail that it is for.
    pub rail: String,
    /// The rule, by the name that the rule book gives it.
    pub rule: String,
    /// Its value instead, in the rule's unit.
    pub value: f64,
    /// Why, as it was typed.
    pub reason: String,
    /// When, in UTC.
    pub time: String,
    /// By whom.
    pub by: String,
}

/// What was stated for the plan. What is `None` is not known, and makes the plan stricter.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct PlanChoices {
    /// The step in force, counted from 0.
    pub step: usize,
    /// What each rail is for, where it was stated.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub uses: Vec<(String, RailUse)>,
    /// Lowest volts that a rail works at, where stated: for rails of unknown nominal volts and for variable ones.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lowest_volts: Vec<(String, f64)>,
    /// Rails of which neither nominal nor working volts can be known.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub unknowable_volts: Vec<String>,
    /// The least that the supply can be set to, in volts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supply_least_volts: Option<f64>,
    /// The most that the supply gives, in volts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supply_most_volts: Option<f64>,
    /// The most that the supply gives, in amps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub supply_most_amps: Option<f64>,
    /// The most that the leads and their connectors carry.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub leads_most_amps: Option<f64>,
    /// The most that the probe's tip carries.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub probe_most_amps: Option<f64>,
    /// Width of the narrowest trace on the way.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trace_width_mm: Option<f64>,
    /// Copper thickness of that trace.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub copper_um: Option<f64>,
    /// Whether that trace is known to lie on the surface; otherwise it counts as inside, where it carries less.
    pub trace_on_surface: bool,
    /// Limits that were loosened.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub overrides: Vec<Override>,
    /// Questions before filming that were answered with yes, by the name that the engine gives them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub ready: Vec<String>,
}

impl PlanChoices {
    /// What a rail is for, where it was stated.
    pub fn use_of(&self, rail: &str) -> Option<RailUse> {
        self.uses.iter().find(|(name, _)| name == rail).map(|(_, use_of)| *use_of)
    }

    /// The lowest volts that a rail works at, where stated.
    pub fn lowest_of(&self, rail: &str) -> Option<f64> {
        self.lowest_volts.iter().find(|(name, _)| name == rail).map(|(_, volts)| *volts)
    }
}

/// A number that the plan asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PlanNumber {
    /// See [`PlanChoices::lowest_volts`].
    LowestVolts,
    /// See [`PlanChoices::supply_least_volts`].
    SupplyLeastVolts,
    /// See [`PlanChoices::supply_most_volts`].
    SupplyMostVolts,
    /// See [`PlanChoices::supply_most_amps`].
    SupplyMostAmps,
    /// See [`PlanChoices::leads_most_amps`].
    LeadsMostAmps,
    /// See [`PlanChoices::probe_most_amps`].
    ProbeMostAmps,
    /// See [`PlanChoices::trace_width_mm`].
    TraceWidth,
    /// See [`PlanChoices::copper_um`].
    Copper,
}

impl PlanNumber {
    /// All, in the order of the form.
    pub const ALL: [Self; 8] = [
        Self::LowestVolts,
        Self::SupplyLeastVolts,
        Self::SupplyMostVolts,
        Self::SupplyMostAmps,
        Self::LeadsMostAmps,
        Self::ProbeMostAmps,
        Self::TraceWidth,
        Self::Copper,
    ];

    /// Its name, with the unit.
    pub fn words(self) -> &'static str {
        match self {
            Self::LowestVolts => "lowest working volts, V",
            Self::SupplyLeastVolts => "supply from, V",
            Self::SupplyMostVolts => "supply up to, V",
            Self::SupplyMostAmps => "supply up to, A",
            Self::LeadsMostAmps => "leads bear, A",
            Self::ProbeMostAmps => "probe bears, A",
            Self::TraceWidth => "narrowest trace, mm",
            Self::Copper => "its copper, um",
        }
    }

    /// What it is for.
    pub fn help(self) -> &'static str {
        match self {
            Self::LowestVolts => "For a rail whose nominal volts are unknown or vary: the lowest it works at.",
            Self::SupplyLeastVolts => "Many supplies cannot be set below some tenths of a volt.",
            Self::SupplyMostVolts | Self::SupplyMostAmps => "What the supply can give.",
            Self::LeadsMostAmps => "Leads with their connectors, as marked on them.",
            Self::ProbeMostAmps => "The tip that touches the board.",
            Self::TraceWidth => "The narrowest copper between probe and short, where it is known.",
            Self::Copper => "Thickness of that copper: 35 um is one ounce per square foot.",
        }
    }

    /// The value that was stated.
    pub fn of(self, choices: &PlanChoices, rail: &str) -> Option<f64> {
        match self {
            Self::LowestVolts => choices.lowest_of(rail),
            Self::SupplyLeastVolts => choices.supply_least_volts,
            Self::SupplyMostVolts => choices.supply_most_volts,
            Self::SupplyMostAmps => choices.supply_most_amps,
            Self::LeadsMostAmps => choices.leads_most_amps,
            Self::ProbeMostAmps => choices.probe_most_amps,
            Self::TraceWidth => choices.trace_width_mm,
            Self::Copper => choices.copper_um,
        }
    }

    /// States it, or takes it back.
    pub fn set(self, choices: &mut PlanChoices, rail: &str, value: Option<f64>) {
        match self {
            Self::LowestVolts => {
                choices.lowest_volts.retain(|(name, _)| name != rail);
                choices.lowest_volts.extend(value.map(|v| (rail.to_owned(), v)));
            }
            Self::SupplyLeastVolts => choices.supply_least_volts = value,
            Self::SupplyMostVolts => choices.supply_most_volts = value,
            Self::SupplyMostAmps => choices.supply_most_amps = value,
            Self::LeadsMostAmps => choices.leads_most_amps = value,
            Self::ProbeMostAmps => choices.probe_most_amps = value,
            Self::TraceWidth => choices.trace_width_mm = value,
            Self::Copper => choices.copper_um = value,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_is_kept_and_taken_back_for_its_rail() {
        let mut choices = PlanChoices::default();
        for (i, number) in PlanNumber::ALL.into_iter().enumerate() {
            let value = 1.0 + i as f64;
            number.set(&mut choices, "V12", Some(value));
            assert_eq!(number.of(&choices, "V12"), Some(value), "{number:?}");
        }
        assert_eq!(PlanNumber::LowestVolts.of(&choices, "V5"), None);
        for number in PlanNumber::ALL {
            number.set(&mut choices, "V12", None);
        }
        assert_eq!(choices, PlanChoices::default());
    }
}
