//! The first step of the injection limits, for the card. Starting values of the shop, common practice with no
//! published source; they tighten by what the drawing says and never loosen here.

use joulemark_frames::Timeline;
use joulemark_locate::board::Board;

/// Ceiling of step 1: below the junctions of healthy silicon.
const STEP_ONE_VOLTS: f64 = 0.3;
/// Above this, healthy silicon draws and warms.
pub const SILICON_VOLTS: f64 = 0.5;
/// Highest rail that may be injected at all.
const MOST_RAIL_VOLTS: f64 = 60.0;
/// Stop temperature on the camera's display.
pub const STOP_DEG_C: f64 = 60.0;
/// Most energy in one step.
pub const STEP_JOULES: f64 = 20.0;

/// What may be injected into a rail at the first step, each limit with the rule that binds it.
#[derive(Clone, Debug, PartialEq)]
pub struct FirstStep {
    /// The rail.
    pub rail: String,
    /// Nominal volts, where known.
    pub nominal_volts: Option<f64>,
    /// Volts ceiling, a magnitude.
    pub volts: f64,
    /// Why.
    pub volts_because: String,
    /// Amps ceiling.
    pub amps: f64,
    /// Why.
    pub amps_because: String,
    /// Whether the rail is negative, so that red goes to ground.
    pub negative: bool,
}

/// The limits in force, or the reason why nothing may be injected.
pub fn first_step(board: &Board, rail: &str) -> Result<FirstStep, String> {
    let Some(found) = board.rail(rail) else {
        return Err(format!("Rail {rail} is not on the drawing: choose the shorted rail first."));
    };
    let nominal = found.nominal_volts;
    if let Some(volts) = nominal.filter(|v| v.abs() > MOST_RAIL_VOLTS) {
        return Err(format!(
            "Do not inject: {rail} is a {volts} V rail, above {MOST_RAIL_VOLTS} V, where touching it can kill."
        ));
    }
    let mut volts = STEP_ONE_VOLTS;
    let mut volts_because = "below healthy silicon".to_owned();
    let mut tighten = |limit: f64, because: String| {
        if limit < volts {
            (volts, volts_because) = (limit, because);
        }
    };
    if let Some(v) = nominal {
        tighten(v.abs(), "the rail's nominal volts".to_owned());
    }
    for part in board.faces.iter().flat_map(|f| &f.parts).filter(|p| p.rails.iter().any(|r| r == rail)) {
        if let Some(most) = part.max_volts {
            tighten(most.abs(), format!("the most {} bears", part.designator));
        }
    }
    let (amps, amps_because) = match nominal.map(f64::abs) {
        None => (0.5, "nominal volts unknown"),
        Some(v) if v > 5.5 => (1.0, "start for a main input"),
        Some(v) if v >= 1.8 => (0.5, "start for a 1.8 to 5 V rail"),
        Some(_) => (0.5, "start for a core rail"),
    };
    Ok(FirstStep {
        rail: rail.to_owned(),
        nominal_volts: nominal,
        volts,
        volts_because,
        amps,
        amps_because: amps_because.to_owned(),
        negative: nominal.is_some_and(|v| v < 0.0),
    })
}

/// The log at one frame, against the limits.
#[derive(Clone, Debug, PartialEq)]
pub struct Now {
    /// Volts at the supply.
    pub volts: Option<f64>,
    /// Amps from the supply.
    pub amps: Option<f64>,
    /// Whether current is injected.
    pub injecting: bool,
    /// What is over its limit, in words; empty when nothing is.
    pub over: Vec<String>,
}

/// Reads the log at a frame.
pub fn now(timeline: &Timeline, frame: usize, step: Option<&FirstStep>) -> Now {
    let at = |values: &[Option<f64>]| values.get(frame).copied().flatten();
    let (volts, amps) = (at(&timeline.volts), at(&timeline.amps));
    let mut over = Vec::new();
    // Supplies show their set point to about a per cent: 1 % of slack keeps a display digit from crying wolf.
    let above = |value: f64, limit: f64| value.abs() > limit * 1.01;
    if let Some(step) = step {
        if let Some(v) = volts.filter(|&v| above(v, step.volts)) {
            let silicon = if v.abs() > SILICON_VOLTS { "; healthy silicon draws and warms there" } else { "" };
            over.push(format!("{v:.2} V is above {} V{silicon}", step.volts));
        }
        if let Some(a) = amps.filter(|&a| above(a, step.amps)) {
            over.push(format!("{a:.2} A is above {} A", step.amps));
        }
    }
    Now { volts, amps, injecting: timeline.injecting.get(frame).copied().unwrap_or(false), over }
}

/// The cautions at the hands, in the order of the work.
pub const CAUTIONS: [&str; 8] = [
    "Battery and coin cell out. Nothing else connected: no charger, no USB, no display, no second supply.",
    "Capacitors discharged and measured. Never on anything that is not isolated from mains, nor above 60 V.",
    "Set the amps by shorting the supply's own leads; then output off, attach, output on.",
    "Black to ground, red to the rail (swapped for a negative rail). Measure polarity with the output off.",
    "Pulse with the supply's output key, never by tapping a probe.",
    "Burns, fumes, eyes, static: glasses on, wrist strap on, air moving. No finger test.",
    "Coating or cold spray only with power off, matt removable tape first. Spray is flammable and cracks ceramics: wait until dry.",
    "Local rules and licensed practice come before anything this card says.",
];

#[cfg(test)]
mod tests {
    use joulemark_locate::board::{Face, Part, Rail};

    use super::*;

    fn board(nominal_volts: Option<f64>, max_volts: Option<f64>) -> Board {
        Board {
            faces: vec![Face {
                parts: vec![Part { designator: "C1".into(), rails: vec!["V".into()], max_volts, ..Part::default() }],
                ..Face::default()
            }],
            rails: vec![Rail { name: "V".into(), nominal_volts }],
            ..Board::default()
        }
    }

    #[test]
    fn starting_amps_follow_the_rail() {
        for (nominal, amps) in [(None, 0.5), (Some(12.0), 1.0), (Some(5.0), 0.5), (Some(0.9), 0.5), (Some(-12.0), 1.0)]
        {
            let step = first_step(&board(nominal, None), "V").expect("allowed");
            assert_eq!((step.volts, step.amps), (0.3, amps), "{nominal:?}");
            assert_eq!(step.negative, nominal.is_some_and(|v| v < 0.0));
        }
    }

    #[test]
    fn the_weakest_part_and_a_low_nominal_tighten_the_volts() {
        let step = first_step(&board(Some(0.25), Some(0.2)), "V").expect("allowed");
        assert_eq!((step.volts, step.volts_because.as_str()), (0.2, "the most C1 bears"));
    }

    #[test]
    fn high_and_unknown_rails_are_refused() {
        assert!(first_step(&board(Some(61.0), None), "V").expect_err("high").contains("above 60 V"));
        assert!(first_step(&board(Some(-80.0), None), "V").is_err());
        assert!(first_step(&board(Some(5.0), None), "W").is_err());
        assert!(first_step(&board(Some(60.0), None), "V").is_ok());
    }

    #[test]
    fn readings_over_the_limit_are_said_and_a_display_digit_is_not() {
        let step = first_step(&board(Some(12.0), None), "V").expect("allowed");
        let mut timeline = Timeline::steady(2, 1.0);
        timeline.volts = vec![Some(0.302), Some(0.8)];
        timeline.amps = vec![Some(1.0), Some(1.2)];
        assert!(now(&timeline, 0, Some(&step)).over.is_empty());
        let over = now(&timeline, 1, Some(&step)).over;
        assert_eq!(over.len(), 2);
        assert!(over[0].contains("healthy silicon"));
        assert!(now(&timeline, 9, Some(&step)).volts.is_none());
    }
}
