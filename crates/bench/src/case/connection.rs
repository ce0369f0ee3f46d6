//! What was acknowledged at the leads. Every connection of the supply asks again.

use serde::{Deserialize, Serialize};

/// What has to be acknowledged before current may be marked as flowing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    /// Battery and coin cell out, nothing else connected, capacitors discharged.
    Battery,
    /// Polarity measured with the output off.
    Polarity,
    /// The supply is set to the limits on the card.
    Limits,
}

impl Caution {
    /// All, in the order of the hands.
    pub const ALL: [Self; 3] = [Self::Battery, Self::Polarity, Self::Limits];

    /// Its name in a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::Battery => "battery",
            Self::Polarity => "polarity",
            Self::Limits => "limits",
        }
    }
}

/// One caution that somebody saw to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Acknowledged {
    /// Which.
    pub caution: Caution,
    /// When, in UTC.
    pub time: String,
    /// Who.
    pub by: String,
    /// For the limits: those that were on the card, such as `0.3 V, 1 A`. Others have to be acknowledged anew.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub limits: String,
}

/// One time that the leads were attached.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Connection {
    /// The rail that is fed.
    pub rail: String,
    /// What was seen to.
    #[serde(default)]
    pub acknowledged: Vec<Acknowledged>,
}

impl Connection {
    /// What is still to be acknowledged for a rail under the limits on the card.
    pub fn open_cautions(&self, rail: &str, limits: &str) -> Vec<Caution> {
        let seen = |caution: Caution| {
            self.rail == rail
                && self
                    .acknowledged
                    .iter()
                    .any(|a| a.caution == caution && (caution != Caution::Limits || a.limits == limits))
        };
        Caution::ALL.into_iter().filter(|&c| !seen(c)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_rail_and_other_limits_ask_again() {
        let seen = |caution, limits: &str| Acknowledged {
            caution,
            time: "2026-03-01T09:30:05Z".into(),
            by: "Ada".into(),
            limits: limits.into(),
        };
        let mut connection = Connection { rail: "V12".into(), acknowledged: vec![] };
        assert_eq!(connection.open_cautions("V12", "0.3 V, 1 A"), Caution::ALL);
        connection.acknowledged =
            vec![seen(Caution::Battery, ""), seen(Caution::Polarity, ""), seen(Caution::Limits, "0.3 V, 1 A")];
        assert!(connection.open_cautions("V12", "0.3 V, 1 A").is_empty());
        assert_eq!(connection.open_cautions("V12", "0.8 V, 1 A"), [Caution::Limits]);
        assert_eq!(connection.open_cautions("V5", "0.3 V, 1 A"), Caution::ALL);
    }
}
