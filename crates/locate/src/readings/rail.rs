//! What is known of a rail before it is measured.

use serde::{Deserialize, Serialize};

/// What a rail is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RailUse {
    /// Main input: battery, charger, adapter.
    MainInput,
    /// Between 1.8 and 5 V.
    System,
    /// Memory.
    Memory,
    /// Core or graphics: low ohms can be healthy.
    Core,
    /// A signal.
    Signal,
}

impl RailUse {
    /// All, in the order of a chooser.
    pub const ALL: [Self; 5] = [Self::MainInput, Self::System, Self::Memory, Self::Core, Self::Signal];

    /// What nominal volts say. Low volts count as a core: that is the answer under which nothing is called shorted, and
    /// nothing injected, too early.
    pub fn of_volts(nominal_volts: f64) -> Self {
        match nominal_volts.abs() {
            v if v > MAIN_ABOVE_VOLTS => Self::MainInput,
            v if v >= SYSTEM_FROM_VOLTS => Self::System,
            _ => Self::Core,
        }
    }

    /// Its name, for a chooser.
    pub fn words(self) -> &'static str {
        match self {
            Self::MainInput => "main input",
            Self::System => "1.8 to 5 V",
            Self::Memory => "memory",
            Self::Core => "core or graphics",
            Self::Signal => "signal",
        }
    }

    /// Its name within a sentence: "core rail".
    pub fn as_rail(self) -> &'static str {
        match self {
            Self::MainInput => "main input",
            Self::System => "1.8 to 5 V rail",
            Self::Memory => "memory rail",
            Self::Core => "core rail",
            Self::Signal => "signal",
        }
    }
}

/// Above this a rail is a main input, at or above [`SYSTEM_FROM_VOLTS`] a system rail. Common practice, no published
/// source.
const MAIN_ABOVE_VOLTS: f64 = 5.5;
/// Below this a rail may be a core, and is treated as one until somebody says otherwise.
const SYSTEM_FROM_VOLTS: f64 = 1.7;

/// A rail as the drawing and the technician state it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RailFacts {
    /// Its name.
    pub name: String,
    /// Nominal volts; negative rails are negative. `None` when unknown.
    #[serde(default)]
    pub nominal_volts: Option<f64>,
    /// What it is for, where it was stated.
    #[serde(default)]
    pub stated_use: Option<RailUse>,
    /// Rails joined to it at DC through a part (an inductor, a fuse): a low reading between them is how it should be.
    #[serde(default)]
    pub joined: Vec<String>,
    /// Series parts through which it is fed, by designator: what can be lifted to part it.
    #[serde(default)]
    pub series_parts: Vec<String>,
}

impl RailFacts {
    /// What it is for: as stated, or as its volts say. `None` when neither is known.
    pub fn use_of(&self) -> Option<RailUse> {
        let told = self.nominal_volts.filter(|v| v.is_finite() && *v != 0.0);
        self.stated_use.or(told.map(RailUse::of_volts))
    }

    /// Whether low ohms on it can be healthy: a core, or a rail that may be one.
    pub fn may_be_core(&self) -> bool {
        self.use_of().is_none_or(|use_of| use_of == RailUse::Core)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn volts_say_what_a_rail_is_for_unless_somebody_did() {
        let rail = |nominal_volts, stated_use| RailFacts { nominal_volts, stated_use, ..RailFacts::default() };
        for (volts, stated, use_of, core) in [
            (Some(12.0), None, Some(RailUse::MainInput), false),
            (Some(-12.0), None, Some(RailUse::MainInput), false),
            (Some(3.3), None, Some(RailUse::System), false),
            (Some(1.8), None, Some(RailUse::System), false),
            (Some(1.1), None, Some(RailUse::Core), true),
            (Some(1.1), Some(RailUse::Memory), Some(RailUse::Memory), false),
            (Some(3.3), Some(RailUse::Core), Some(RailUse::Core), true),
            (None, None, None, true),
            (Some(f64::NAN), None, None, true),
        ] {
            let rail = rail(volts, stated);
            assert_eq!((rail.use_of(), rail.may_be_core()), (use_of, core), "{rail:?}");
        }
    }
}
