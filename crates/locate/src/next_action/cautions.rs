//! What the hands must know for each thing to do. Common practice, no published source, unless said. Local rules and
//! licensed practice come first.

/// Before an injection.
pub const INJECT: &[&str] = &[
    "Battery and coin cell out, nothing else connected: no charger, USB, display or second supply; capacitors discharged.",
    "Set the amps with the supply's own leads shorted, then output off, attach, output on.",
    "Black to ground, red to the rail (the other way for a negative rail): check with the output off.",
    "Pulse with the output key, never by tapping a probe. Stop at the plan's temperature.",
    "Cool in the picture is not safe to touch: shiny metal shows far colder than it is. No finger test.",
    "Local rules and licensed practice come first.",
];

/// Before a part is coated.
pub const COAT: &[&str] = &[
    "Power off and disconnected.",
    "Use removable matt tape first; spray is flammable, and cold spray cracks ceramics: wait until it is dry.",
];

/// Before a part is lifted.
pub const LIFT: &[&str] = &[
    "Power off and disconnected, board cooled down, capacitors discharged.",
    "Fumes and hot tools: air, eyes, and static protection.",
    "Another short may be in parallel: measure again before fitting a new part.",
];

/// Before stacked halves are taken apart, or a board is cleaned.
pub const OPEN_UP: &[&str] = &["Power off, battery and coin cell out, capacitors discharged.", "Static protection."];

/// For drying alcohol or melting frost.
pub const ALCOHOL_OR_FROST: &[&str] = &[
    "Power off while it is put on; no flame, no hot tool, no spark near it: alcohol vapour burns.",
    "Open a window or draw the air off. A few drops, never a pool.",
    "Frost leaves water: dry the board before any further power. Cold cracks ceramics.",
    "Inject no more than the plan's step.",
];
