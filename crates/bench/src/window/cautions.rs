//! The short cautions of each stage. Those that a connection has to acknowledge, and all others in full, are data of the
//! rule book. Common practice of repair benches, no published source.

use super::stage::Stage;

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
            "Pulse with the output key, never by tapping a probe.",
            "Glasses and wrist strap on, air moving. No finger test.",
        ],
        Stage::Capture => {
            &["Hands off while current flows and after: it is hot.", "Stop at the card's limits, at smoke, at a smell."]
        }
        Stage::HotSpots | Stage::Suspects => &[
            "Before the iron: output off, leads off, board cold.",
            "Coating or spray: power off, removable tape first, wait until dry.",
        ],
        Stage::RepairCheck => &[
            "Measure the rail cold before any power comes back; battery last.",
            "The same limits hold for the take after the repair.",
        ],
        Stage::Handout => &["A class follows the same cautions, with somebody licensed in the room."],
    }
}
