//! What to measure next on a rail: a table, not code. `assets/rules/next_measurement.ron`; a shop's file goes first.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::{Measured, Polarity, RailFacts, RailUse, RankedRail, Reading, Return, Shown, Verdict};

/// The file that comes with the program, to be parsed by the caller (implicit `Some`).
pub const NEXT_MEASUREMENT_RON: &str = include_str!("../../../../assets/rules/next_measurement.ron");

/// What was measured on a rail already, at its latest stage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Done {
    /// Ohms to ground, OL included.
    Ohms,
    /// Diode reading, red on ground.
    Diode,
    /// Diode reading, black on ground.
    DiodeOtherWay,
    /// Volts.
    Volts,
    /// A diode reading below zero, or volts that stood on the rail: it holds a charge.
    Charge,
    /// Resistance of the meter's leads, with an ohms reading.
    LeadOhms,
    /// Ohms on two faces or halves.
    EachHalf,
    /// Anything after one of its series parts was lifted.
    SeriesLifted,
    /// A good board.
    GoodBoard,
}

/// What is proposed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Next {
    /// Ohms to ground.
    Ohms,
    /// Diode reading, red on ground.
    Diode,
    /// The meter's own leads.
    MeterLeads,
    /// What the rail is for; nominal volts.
    StateUse,
    /// The same point on a good board.
    GoodBoard,
    /// Contact, fuses and joints.
    CheckProbe,
    /// Take stacked halves apart.
    SeparateHalves,
    /// Ohms on each half.
    EachHalf,
    /// Lift a series part and measure both sides.
    LiftSeriesPart,
    /// A millivolt survey.
    Survey,
    /// Enough measured: inject and film.
    Film,
}

/// Conditions of a line. All that are given must hold.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct When {
    /// The rail's verdict is one of these.
    pub verdicts: Vec<Verdict>,
    /// The rail's use is one of these.
    pub uses: Vec<RailUse>,
    /// Whether its use is known.
    pub use_known: Option<bool>,
    /// Whether it reads low against another rail.
    pub against_rail: Option<bool>,
    /// Whether the board is a stack of halves.
    pub stacked: Option<bool>,
    /// Whether the halves were taken apart.
    pub halves_parted: Option<bool>,
    /// Whether series parts are known.
    pub has_series_part: Option<bool>,
    /// Ohms to ground are below this.
    pub ohms_below: Option<f64>,
    /// Ohms to ground are at least this.
    pub ohms_above: Option<f64>,
    /// All of these were measured.
    pub measured: Vec<Done>,
    /// None of these was measured.
    pub not_measured: Vec<Done>,
}

/// One line of the table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// Its name; a shop's line takes the place of the one with the same name.
    pub name: String,
    /// When it applies.
    #[serde(default)]
    pub when: When,
    /// What it proposes.
    pub next: Next,
    /// In words; `{rail}`, `{part}` and `{other}` are filled in.
    pub say: String,
    /// Why.
    pub because: String,
}

/// The table.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DecisionTable {
    /// In order; the first that applies is taken.
    pub rules: Vec<Line>,
}

/// What the table is asked about.
#[derive(Clone, Debug)]
pub struct Situation<'a> {
    /// The rail.
    pub rail: &'a RailFacts,
    /// Its verdict and ohms.
    pub ranked: &'a RankedRail,
    /// What was measured already.
    pub done: BTreeSet<Done>,
    /// Whether it reads low against another rail.
    pub against_rail: bool,
    /// Whether the board is a stack of halves.
    pub stacked: bool,
    /// Whether the halves were taken apart.
    pub halves_parted: bool,
    /// Lines that the user put aside for this rail, by name: there is no good board, for instance.
    pub put_aside: Vec<String>,
}

/// What is proposed for a rail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proposal {
    /// The line that applied.
    pub line: String,
    /// What.
    pub next: Next,
    /// In words, filled in.
    pub say: String,
    /// Why.
    pub because: String,
}

impl<'a> Situation<'a> {
    /// Gathers what was measured. `lifted` are the parts lifted so far.
    pub fn new(
        rail: &'a RailFacts,
        ranked: &'a RankedRail,
        readings: &[Reading],
        lifted: &[String],
        (stacked, halves_parted): (bool, bool),
    ) -> Self {
        let here: Vec<&Reading> = ranked.judged.iter().filter_map(|i| readings.get(*i)).collect();
        let to_ground = |r: &&&Reading| r.rail == rail.name && r.against == Return::Ground;
        let mut done = BTreeSet::new();
        for reading in here.iter().filter(to_ground) {
            match reading.measured {
                Measured::Ohms(_) => {
                    done.insert(Done::Ohms);
                    done.extend(reading.meter_lead_ohms.is_some().then_some(Done::LeadOhms));
                }
                Measured::Diode(Polarity::RedOnGround, Shown::Number(v)) if v < -0.01 => {
                    done.insert(Done::Charge);
                }
                Measured::Diode(Polarity::RedOnGround, _) => {
                    done.insert(Done::Diode);
                }
                Measured::Diode(Polarity::BlackOnGround, _) => {
                    done.insert(Done::DiodeOtherWay);
                }
                Measured::Volts(_) => {
                    done.insert(Done::Volts);
                }
            }
        }
        let faces: BTreeSet<&str> = (here.iter().filter(to_ground))
            .filter(|r| matches!(r.measured, Measured::Ohms(_)) && !r.face.is_empty())
            .map(|r| r.face.as_str())
            .collect();
        done.extend((faces.len() > 1).then_some(Done::EachHalf));
        done.extend(rail.series_parts.iter().any(|p| lifted.contains(p)).then_some(Done::SeriesLifted));
        done.extend(readings.iter().any(|r| r.good_board && r.rail == rail.name).then_some(Done::GoodBoard));
        let against_rail = ranked.shorted_to.is_some()
            || (ranked.verdict == Verdict::Low && here.iter().any(|r| r.against != Return::Ground));
        Self { rail, ranked, done, against_rail, stacked, halves_parted, put_aside: Vec::new() }
    }
}

impl When {
    fn holds(&self, s: &Situation<'_>) -> bool {
        let is = |wanted: Option<bool>, fact: bool| wanted.is_none_or(|w| w == fact);
        let use_of = s.rail.use_of();
        (self.verdicts.is_empty() || self.verdicts.contains(&s.ranked.verdict))
            && (self.uses.is_empty() || use_of.is_some_and(|u| self.uses.contains(&u)))
            && is(self.use_known, use_of.is_some())
            && is(self.against_rail, s.against_rail)
            && is(self.stacked, s.stacked)
            && is(self.halves_parted, s.halves_parted)
            && is(self.has_series_part, !s.rail.series_parts.is_empty())
            && self.ohms_below.is_none_or(|limit| s.ranked.ohms.is_some_and(|ohms| ohms < limit))
            && self.ohms_above.is_none_or(|limit| s.ranked.ohms.is_some_and(|ohms| ohms >= limit))
            && self.measured.iter().all(|d| s.done.contains(d))
            && !self.not_measured.iter().any(|d| s.done.contains(d))
    }
}

impl DecisionTable {
    /// With a shop's table laid over it: its lines come first, and push out those of the same name.
    ///
    /// # Errors
    /// One line that names what makes no sense in the result.
    pub fn layered(self, shop: &Self) -> Result<Self, String> {
        let mut rules = shop.rules.clone();
        let own = self.rules.into_iter().filter(|line| !shop.rules.iter().any(|s| s.name == line.name));
        rules.extend(own);
        let table = Self { rules };
        table.check()?;
        Ok(table)
    }

    /// Whether the table can be used.
    ///
    /// # Errors
    /// One line: the rule, what is wrong, what to write instead.
    pub fn check(&self) -> Result<(), String> {
        for (i, line) in self.rules.iter().enumerate() {
            let fault = |why: String| Err(format!("rule {} ('{}'): {why}", i + 1, line.name));
            if line.name.trim().is_empty() || line.say.trim().is_empty() || line.because.trim().is_empty() {
                return fault("name, say and because must all be written".into());
            }
            if self.rules[..i].iter().any(|other| other.name == line.name) {
                return fault("the name stands twice: write another".into());
            }
            if let Some(other) = self.rules[..i].iter().find(|other| other.when == When::default()) {
                return fault(format!("it is never reached: '{}' before it has no conditions", other.name));
            }
            let when = &line.when;
            if let Some(both) = when.measured.iter().find(|d| when.not_measured.contains(d)) {
                return fault(format!("{both:?} cannot be measured and not measured: take one out"));
            }
            if [when.ohms_below, when.ohms_above].into_iter().flatten().any(|v| !(v.is_finite() && v > 0.0)) {
                return fault("ohms_below and ohms_above must be above zero".into());
            }
            if when.ohms_above.zip(when.ohms_below).is_some_and(|(above, below)| above >= below) {
                return fault("ohms_above must be less than ohms_below".into());
            }
            if let Some(unknown) = placeholders(&line.say).find(|p| !["rail", "part", "other"].contains(p)) {
                return fault(format!("{{{unknown}}} is not known: write {{rail}}, {{part}} or {{other}}"));
            }
            if line.say.contains("{part}") && when.has_series_part != Some(true) {
                return fault("{part} needs has_series_part: true".into());
            }
        }
        Ok(())
    }

    /// The first line that applies; `None` when the meter has nothing more to say.
    pub fn next(&self, situation: &Situation<'_>) -> Option<Proposal> {
        let applies = |line: &&Line| !situation.put_aside.contains(&line.name) && line.when.holds(situation);
        let line = self.rules.iter().find(applies)?;
        let part = situation.rail.series_parts.first().map_or("the series part", String::as_str);
        let other = situation.ranked.shorted_to.as_deref().unwrap_or("the other rail");
        let say = line.say.replace("{rail}", &situation.rail.name).replace("{part}", part).replace("{other}", other);
        Some(Proposal { line: line.name.clone(), next: line.next, say, because: line.because.clone() })
    }
}

/// What stands in braces.
fn placeholders(text: &str) -> impl Iterator<Item = &str> {
    text.split('{').skip(1).filter_map(|rest| rest.split_once('}').map(|(name, _)| name))
}

#[cfg(test)]
mod tests;
