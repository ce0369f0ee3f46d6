//! What was acknowledged at the leads. Every connection of the supply asks again. Cautions are named as in the rule book.

use serde::{Deserialize, Serialize};

/// The caution about the supply's settings: acknowledged for these limits, and anew for others.
pub const LIMITS: &str = "limits_set";

/// One caution that somebody saw to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Acknowledged {
    /// Which, by its name in the rule book.
    pub caution: String,
    /// When, in UTC.
    pub time: String,
    /// Who.
    pub by: String,
    /// For [`LIMITS`]: those that were on the card, such as `0.3 V, 1 A`.
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
    /// The acknowledgement of a caution for a rail under the limits on the card, when there is one.
    pub fn seen(&self, caution: &str, rail: &str, limits: &str) -> Option<&Acknowledged> {
        let fits = |a: &&Acknowledged| a.caution == caution && (caution != LIMITS || a.limits == limits);
        self.acknowledged.iter().find(fits).filter(|_| self.rail == rail)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_rail_and_other_limits_ask_again() {
        let seen = |caution: &str, limits: &str| Acknowledged {
            caution: caution.into(),
            time: "2026-03-01T09:30:05Z".into(),
            by: "Ada".into(),
            limits: limits.into(),
        };
        let acknowledged = vec![seen("battery", ""), seen(LIMITS, "0.3 V, 1 A")];
        let connection = Connection { rail: "V12".into(), acknowledged };
        assert!(connection.seen("battery", "V12", "0.3 V, 1 A").is_some());
        assert!(connection.seen("battery", "V12", "0.8 V, 1 A").is_some(), "the battery is out at any limits");
        assert!(connection.seen(LIMITS, "V12", "0.3 V, 1 A").is_some());
        assert!(connection.seen(LIMITS, "V12", "0.8 V, 1 A").is_none());
        assert!(connection.seen("battery", "V5", "0.3 V, 1 A").is_none());
        assert!(connection.seen("polarity", "V12", "0.3 V, 1 A").is_none());
    }
}
