//! Meter readings of rails: what they are, what is usual, how far each rail is from it and what to measure next.
//!
//! Nothing here knows who took a reading or when; a reading knows its place among the interventions and that is all.
//! What a display said stays as it is: leads are taken off by [`Reading::net_ohms`], with the doubt that leaves.

mod between;
pub mod decision;
mod judge;
mod lead;
mod learnt;
mod rail;
mod rank;
#[cfg(test)]
mod samples;
mod typical;
pub(crate) mod words;

pub use judge::{Judged, Verdict, judge};
pub use lead::{LeadDoubt, NetOhms};
pub use learnt::{LearntRange, learn, learnt_for};
pub use rail::{RailFacts, RailUse};
pub use rank::{RankedRail, rank};
pub use typical::{Band, LikeGoodBoard, ShopRanges, Span, TYPICAL_READINGS_RON, TypicalRanges};

use serde::{Deserialize, Serialize};

/// What a display said.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shown {
    /// Ohms or volts, as displayed.
    Number(f64),
    /// Beyond the meter's range: OL.
    Open,
}

impl Shown {
    /// The number, where it is one.
    pub fn number(self) -> Option<f64> {
        match self {
            Self::Number(value) => Some(value),
            Self::Open => None,
        }
    }
}

/// `None` is open, as in a file where the value is left out.
impl From<Option<f64>> for Shown {
    fn from(value: Option<f64>) -> Self {
        value.map_or(Self::Open, Self::Number)
    }
}

/// Where the meter's leads were in a diode test. It matters: parts conduct one way only.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Polarity {
    /// Red on ground, black on the rail: the usual way, and the one that ranges are given for.
    #[default]
    RedOnGround,
    /// Black on ground, red on the rail.
    BlackOnGround,
}

/// What was measured, and its value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Measured {
    /// Resistance, leads included.
    Ohms(Shown),
    /// Diode test, in volts.
    Diode(Polarity, Shown),
    /// Volts, red on the rail.
    Volts(Shown),
}

impl Measured {
    /// What the display said.
    pub fn shown(self) -> Shown {
        match self {
            Self::Ohms(shown) | Self::Diode(_, shown) | Self::Volts(shown) => shown,
        }
    }

    /// Whether another is of the same quantity (and polarity).
    pub fn same_quantity(self, other: Self) -> bool {
        match (self, other) {
            (Self::Ohms(_), Self::Ohms(_)) | (Self::Volts(_), Self::Volts(_)) => true,
            (Self::Diode(a, _), Self::Diode(b, _)) => a == b,
            _ => false,
        }
    }
}

/// Where the other lead was.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Return {
    /// Ground.
    #[default]
    Ground,
    /// Another rail.
    Rail(String),
}

/// One reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// The rail.
    pub rail: String,
    /// Where the other lead was.
    #[serde(default)]
    pub against: Return,
    /// What was measured.
    pub measured: Measured,
    /// The face or half that was touched; empty when it was not said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub face: String,
    /// After how many interventions; 0 as the device came in.
    #[serde(default)]
    pub after: u32,
    /// Whether a good board was measured, for comparison.
    #[serde(default)]
    pub good_board: bool,
    /// Resistance of the meter's leads, where it was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter_lead_ohms: Option<f64>,
}

impl Reading {
    /// Ohms of the board itself; `None` for other quantities and for OL.
    pub fn net_ohms(&self, doubt: &LeadDoubt) -> Option<NetOhms> {
        match self.measured {
            Measured::Ohms(Shown::Number(displayed)) => Some(doubt.net(displayed, self.meter_lead_ohms)),
            _ => None,
        }
    }

    /// Whether its value can be computed with: finite, and not negative where that has no meaning.
    pub fn sane(&self) -> bool {
        let lead = self.meter_lead_ohms.is_none_or(|ohms| ohms.is_finite() && ohms >= 0.0);
        lead && match self.measured {
            Measured::Ohms(Shown::Number(ohms)) => ohms.is_finite() && ohms >= 0.0,
            Measured::Diode(_, Shown::Number(volts)) | Measured::Volts(Shown::Number(volts)) => volts.is_finite(),
            _ => true,
        }
    }
}
