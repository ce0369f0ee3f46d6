//! The plan as the window says it. Every figure comes from the engine, in words and with its rule.

/// A limit in large figures.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figure {
    /// "0.3 V".
    pub text: String,
    /// The rule that binds, short: what stands beside it.
    pub because: String,
    /// Where that rule comes from.
    pub source: String,
}

/// One step of the ladder.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StepView {
    /// Volts ceiling.
    pub volts: Figure,
    /// Amps ceiling.
    pub amps: Figure,
    /// Stop: temperature, or energy for a relative take.
    pub stop: Figure,
    /// Dwell.
    pub dwell: Figure,
    /// Expected amps, watts, and the rise that will be seen, each a short sentence.
    pub expected: Vec<String>,
    /// What is to be known before using this step.
    pub note: Option<String>,
}

/// The whole plan.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlanView {
    /// Why nothing may be injected; empty when something may.
    pub refusals: Vec<String>,
    /// The steps, lowest first.
    pub steps: Vec<StepView>,
    /// Which step tells enough, and what else the engine advises.
    pub advice: Vec<String>,
    /// Limits that the shop may loosen: name in the rule book, what it is, its unit.
    pub loosened: Vec<Loosenable>,
}

/// A limit that may be loosened with a typed reason.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Loosenable {
    /// Its name in the rule book.
    pub rule: String,
    /// In words.
    pub words: String,
    /// Its unit.
    pub unit: String,
    /// Its value now.
    pub value: f64,
}

impl PlanView {
    /// The step in force: the one chosen, or the last there is.
    pub fn in_force(&self, chosen: usize) -> Option<(usize, &StepView)> {
        let at = chosen.min(self.steps.len().checked_sub(1)?);
        Some((at, &self.steps[at]))
    }
}
