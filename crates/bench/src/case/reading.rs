//! A meter reading as it stands in the case: what was touched, what the display said, when and by whom.

use serde::{Deserialize, Serialize};

/// What the meter was set to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Resistance.
    #[default]
    Ohms,
    /// Diode test with the red lead on ground and the black one on the rail.
    DiodeRedOnGround,
    /// Diode test with the red lead on the rail.
    DiodeRedOnRail,
    /// Volts, red on the rail.
    Volts,
}

impl Quantity {
    /// All, in the order of the table.
    pub const ALL: [Self; 4] = [Self::Ohms, Self::DiodeRedOnGround, Self::DiodeRedOnRail, Self::Volts];

    /// Its name.
    pub fn words(self) -> &'static str {
        match self {
            Self::Ohms => "ohms",
            Self::DiodeRedOnGround => "diode, red on ground",
            Self::DiodeRedOnRail => "diode, red on rail",
            Self::Volts => "volts",
        }
    }

    /// The unit of its value.
    pub fn unit(self) -> &'static str {
        if self == Self::Ohms { "ohms" } else { "V" }
    }
}

/// One reading.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ReadingEntry {
    /// The rail.
    pub rail: String,
    /// The rail that the other lead was on; ground when empty.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub against: String,
    /// What was measured.
    pub quantity: Quantity,
    /// What the display said, in ohms or volts; `None` when it was open (OL). Lead resistance is not taken off yet.
    pub value: Option<f64>,
    /// The face or half that was touched; empty when it was not said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub face: String,
    /// After which intervention; 0 as the device came in.
    #[serde(default)]
    pub after: u32,
    /// Whether a good board was measured, for comparison.
    #[serde(default)]
    pub good_board: bool,
    /// Resistance of the meter's leads when it was taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meter_lead_ohms: Option<f64>,
    /// When, in UTC.
    pub time: String,
    /// By whom.
    pub by: String,
}

impl ReadingEntry {
    /// Whether another reading is of the same thing, and so takes its place.
    pub fn same_place(&self, other: &Self) -> bool {
        self.rail == other.rail
            && self.against == other.against
            && self.quantity == other.quantity
            && self.face == other.face
            && self.after == other.after
            && self.good_board == other.good_board
    }

    /// "V12, ohms: 0.2 ohms".
    pub fn words(&self) -> String {
        let against = if self.against.is_empty() { String::new() } else { format!(" against {}", self.against) };
        let face = if self.face.is_empty() { String::new() } else { format!(", {}", self.face) };
        let board = if self.good_board { ", good board" } else { "" };
        format!("{}{against}, {}{face}{board}: {}", self.rail, self.quantity.words(), shown(self.value, self.quantity))
    }
}

/// A value as a display shows it.
pub fn shown(value: Option<f64>, quantity: Quantity) -> String {
    let Some(value) = value else {
        return "OL".to_owned();
    };
    let figures = |v: f64| {
        // Four figures are what a hand-held meter has.
        let text = format!("{:.*}", (3 - v.abs().max(1e-9).log10().floor() as i32).clamp(0, 4) as usize, v);
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
    };
    match quantity {
        Quantity::Ohms if value.abs() >= 1e6 => format!("{} M ohms", figures(value / 1e6)),
        Quantity::Ohms if value.abs() >= 1e3 => format!("{} k ohms", figures(value / 1e3)),
        Quantity::Ohms => format!("{} ohms", figures(value)),
        _ if value != 0.0 && value.abs() < 0.0995 => format!("{} mV", figures(value * 1e3)),
        _ => format!("{} V", figures(value)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_shown_as_on_a_display() {
        for (value, quantity, text) in [
            (Some(0.2), Quantity::Ohms, "0.2 ohms"),
            (Some(4700.0), Quantity::Ohms, "4.7 k ohms"),
            (Some(1.25e6), Quantity::Ohms, "1.25 M ohms"),
            (Some(470.0), Quantity::Ohms, "470 ohms"),
            (Some(0.412), Quantity::DiodeRedOnGround, "0.412 V"),
            (Some(0.004), Quantity::DiodeRedOnGround, "4 mV"),
            (Some(12.03), Quantity::Volts, "12.03 V"),
            (Some(0.0), Quantity::Volts, "0 V"),
            (Some(-5.0), Quantity::Volts, "-5 V"),
            (None, Quantity::Ohms, "OL"),
        ] {
            assert_eq!(shown(value, quantity), text);
        }
    }
}
