//! The cautions in words: short ones for the stage in force, those that a connection has to acknowledge, and all of them.
//! Common practice of repair benches, no published source.

use super::stage::Stage;
use crate::case::connection::Caution;

/// Said at every stage where hands are at the board.
pub const LOCAL_RULES: &str = "Local rules and licensed practice come first.";

/// What the hands have to see to at a stage, short.
pub fn at(stage: Stage) -> &'static [&'static str] {
    match stage {
        Stage::Readings => &[
            "Ohms and diode: power off, battery and coin cell out, capacitors discharged.",
            "Volts: only on boards isolated from mains, and never above 60 V.",
        ],
        Stage::Injection => &[
            "Pulse with the supply's output key, never by tapping a probe.",
            "Glasses on, wrist strap on, air moving. No finger test: it burns.",
        ],
        Stage::Capture => &[
            "Hands off while current flows; the board may be hot after it. No finger test.",
            "Stop at the limits on the card, at smoke, at a smell.",
        ],
        Stage::HotSpots | Stage::Suspects => &[
            "Before the iron: output off, leads off, board cold.",
            "Coating or cold spray: power off, removable tape first; spray burns and cracks ceramics. Wait until dry.",
        ],
        Stage::RepairCheck => &[
            "Measure the rail cold before any power comes back; battery last.",
            "The same limits hold for the take after the repair.",
        ],
        Stage::Handout => &["A class follows the same cautions, with somebody licensed in the room."],
    }
}

/// What is acknowledged, spelled out. `negative` is for rails below ground; `limits` is what the card says.
pub fn sentence(caution: Caution, rail: &str, negative: bool, limits: &str) -> String {
    match caution {
        Caution::Battery => "Battery and coin cell out. Nothing else connected: no charger, USB, display, second \
                             supply. Capacitors discharged and measured."
            .to_owned(),
        Caution::Polarity if negative => {
            format!("{rail} is negative: red to ground, black to {rail}. Polarity measured with the output off.")
        }
        Caution::Polarity => format!("Black to ground, red to {rail}. Polarity measured with the output off."),
        Caution::Limits => {
            format!("Supply set to {limits}: amps set by shorting its own leads; output off, attach, output on.")
        }
    }
}

/// At a millivolt survey.
pub const SURVEY: [&str; 2] = [
    "At most 1 A, at the volts of the step in force; polarity and battery as for any injection.",
    "The current flows while you probe: one hand, a fine tip, no slipping to a neighbour.",
];

/// Everything, in the order of the work.
pub const ALL: [&str; 8] = [
    "Battery and coin cell out. Nothing else connected: no charger, no USB, no display, no second supply.",
    "Capacitors discharged and measured. Never on anything that is not isolated from mains, nor above 60 V.",
    "Set the amps by shorting the supply's own leads; then output off, attach, output on.",
    "Black to ground, red to the rail (swapped for a negative rail). Measure polarity with the output off.",
    "Pulse with the supply's output key, never by tapping a probe.",
    "Burns, fumes, eyes, static: glasses on, wrist strap on, air moving. No finger test.",
    "Coating or cold spray only with power off, matt removable tape first. Spray is flammable and cracks ceramics: wait until dry.",
    "Local rules and licensed practice come before anything this card says.",
];
