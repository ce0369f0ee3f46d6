//! Leaks: milliwatts, and a rise of a fraction of a kelvin.

use rand::RngExt;

use super::{
    BELOW_JUNCTIONS_V, BOARD_MM, Draw, SPOILING, Telling, filler, finish, joins, one_of, processor, rails, rated,
    regulator,
};
use crate::{
    board::Board,
    simulate::{
        Setup, hottest, rise_at_end,
        scenario::{
            Difficulty, PracticeCase,
            layout::{Edge, Layout, on},
            package::Package as P,
            stage::{Course, Stage, scenario_rng},
            supply::Supply,
        },
        simulate,
    },
};

/// Anemometer interface: a leaky capacitor on the analogue rail behind a ferrite, seen at a quarter of a kelvin.
pub fn faint(seed: u64, difficulty: Difficulty) -> PracticeCase {
    let mut layout = Layout::new(BOARD_MM[0], BOARD_MM[1], 1, scenario_rng(seed, 2));
    layout.key(P::PlugHeader, [8.0, 36.0], 0.3, false, on(&["V5"]));
    layout.key(P::PlugHeader, [51.0, 4.0], 0.3, false, on(&["V3A"]));
    regulator(&mut layout, [10.0, 9.0], &["V5"], &["V3"], &["V5", "V3"]);
    let converter = layout.key(P::Qfn5, [42.0, 16.0], 2.0, false, rated(&["V3", "V3A"], 4.0));
    let pitch = layout.rng().random_range(1.7..2.3);
    let mut candidates = layout.row(converter, Edge::Below, P::Capacitor1608, 4, pitch, rated(&["V3A"], 6.3));
    candidates.extend(layout.row(converter, Edge::Right, P::Capacitor1608, 3, pitch, rated(&["V3A"], 6.3)));
    layout.row(converter, Edge::Left, P::Capacitor1005, 3, 1.6, rated(&["V3"], 6.3));
    let ferrite = layout.key(P::Ferrite1608, [34.0, 10.0], 0.5, false, joins(&["V3", "V3A"]));
    processor(&mut layout, [26.0, 28.0], &["V3"], &["V1"]);
    layout.key(P::Soic8, [52.0, 27.0], 1.0, true, rated(&["V3A"], 4.0));
    filler(&mut layout, &["V3"]);
    layout.scatter(P::Capacitor1608, 2, rated(&["V3A"], 6.3));

    let culprit = one_of(&candidates, layout.rng());
    let target_k = layout.rng().random_range(0.23..0.27);
    let target_k = difficulty.rise_k(target_k);
    let ferrite_ohms = 0.15;
    let lead_ohms = 0.08;
    let board = Board {
        name: "Anemometer interface".into(),
        faces: vec![layout.face("top")],
        rails: rails(&[("V5", 5.0), ("V3", 3.3), ("V3A", 3.3), ("V1", 1.2)]),
    };
    let guess_ohms = 10.0;
    let supply = |leak_ohms: f64| Supply {
        set_volts: BELOW_JUNCTIONS_V,
        set_amps: 0.5,
        lead_ohms,
        board_ohms: leak_ohms + ferrite_ohms,
    };
    let stage = Stage {
        name: "0.3 V into V3",
        layout,
        culprit: Some(culprit),
        ohms: vec![(culprit, guess_ohms), (ferrite, ferrite_ohms)],
        idle_watts: Vec::new(),
        supply: supply(guess_ohms),
        stacked: false,
        netd_k: 0.05,
        drift_k: 0.05,
        course: Course::Step,
    };
    let mut setup = stage.setup();
    let leak_ohms = leak_ohms(&setup, target_k, lead_ohms + ferrite_ohms);
    let (amps, _) = supply(leak_ohms).amps();
    setup.sources[0].watts = amps * amps * leak_ohms;
    setup.sources[1].watts = amps * amps * ferrite_ohms;
    supply(leak_ohms).read_into(&mut setup.timeline, &mut scenario_rng(seed, 102));
    let telling = Telling {
        name: "faint",
        title: "Anemometer interface that eats its battery",
        story: format!(
            "This interface works but empties its battery in a week. V3 reads {leak_ohms:.0} ohm to ground where a good \
             board reads kilohms, and a ferrite joins V3 to the analogue rail V3A. At 0.3 V only some milliamps flow, so \
             expect a rise of a fraction of a kelvin."
        ),
        board,
        rail: "V3",
        face: "top",
    };
    finish(telling, lead_ohms, setup, Draw { seed, difficulty })
}

/// Ohms of a leak that warms by `target_k` at [`BELOW_JUNCTIONS_V`] behind `others_ohms` of leads and ferrite. The setup's first
/// source is the leak at any watts: they show how many kelvin a watt makes, and the rise is linear in power. That gives the
/// watts that are wanted, and those the leak's ohms R: P = U^2 R / (R + r)^2, the larger root.
fn leak_ohms(setup: &Setup, target_k: f64, others_ohms: f64) -> f64 {
    let kelvin_per_watt = f64::from(hottest(&rise_at_end(setup)).2) / setup.sources[0].watts;
    let watts = target_k / kelvin_per_watt;
    let b = BELOW_JUNCTIONS_V * BELOW_JUNCTIONS_V / watts - 2.0 * others_ohms;
    0.5 * (b + (b * b - 4.0 * others_ohms * others_ohms).sqrt())
}

/// Salinity probe amplifier: a leak of a milliwatt, filmed once with a step and once with pulses while the room drifts.
pub fn pulses(seed: u64, difficulty: Difficulty) -> PracticeCase {
    let lead_ohms = 0.08;
    let supply =
        |leak_ohms: f64| Supply { set_volts: BELOW_JUNCTIONS_V, set_amps: 0.5, lead_ohms, board_ohms: leak_ohms };
    // Both takes show the same board from the same place: the same draws, but for when current flows.
    let filmed = |course: Course, leak_ohms: f64| {
        let mut layout = Layout::new(BOARD_MM[0], BOARD_MM[1], 1, scenario_rng(seed, 4));
        layout.key(P::PlugHeader, [8.0, 36.0], 0.3, false, on(&["V5"]));
        regulator(&mut layout, [12.0, 9.0], &["V5"], &["V3"], &["V5", "V3"]);
        let amplifier = layout.key(P::Soic8, [43.0, 15.0], 2.0, false, rated(&["V3"], 4.0));
        let mut candidates = layout.row(amplifier, Edge::Above, P::Capacitor1608, 2, 2.1, rated(&["V3"], 6.3));
        candidates.extend(layout.row(amplifier, Edge::Below, P::Capacitor1608, 3, 2.0, rated(&["V3"], 6.3)));
        let converter = layout.key(P::Qfn4, [47.0, 29.0], 1.0, false, rated(&["V3"], 4.0));
        candidates.extend(layout.row(converter, Edge::Left, P::Capacitor1608, 2, 2.2, rated(&["V3"], 6.3)));
        processor(&mut layout, [24.0, 27.0], &["V3"], &["V1"]);
        filler(&mut layout, &["V3"]);
        let culprit = one_of(&candidates, layout.rng());
        let face = layout.face("top");
        let stage = Stage {
            name: if course == Course::Step { "0.3 V into V3" } else { "0.3 V into V3, pulsed" },
            layout,
            culprit: Some(culprit),
            ohms: vec![(culprit, leak_ohms)],
            idle_watts: Vec::new(),
            supply: supply(leak_ohms),
            stacked: false,
            netd_k: 0.05,
            drift_k: 0.3,
            course,
        };
        let mut setup = stage.setup();
        setup.sensor.blotches_k = 0.03;
        (setup, face)
    };
    let target_k = difficulty.rise_k(scenario_rng(seed, 104).random_range(0.038..0.046));
    let guess_ohms = 40.0;
    let leak_ohms = leak_ohms(&filmed(Course::Step, guess_ohms).0, target_k, lead_ohms);
    let (step, face) = filmed(Course::Step, leak_ohms);
    let (mut pulsed, _) = filmed(Course::Pulses, leak_ohms);
    let board = Board {
        name: "Salinity probe amplifier".into(),
        faces: vec![face],
        rails: rails(&[("V5", 5.0), ("V3", 3.3), ("V1", 1.2)]),
    };
    let telling = Telling {
        name: "pulses",
        title: "Salinity probe amplifier with a slow leak",
        story: format!(
            "The probe's battery lasts a month instead of a year. V3 reads {leak_ohms:.0} ohm to ground where a good board \
             reads kilohms. At 0.3 V that is a milliwatt or two. You filmed it twice while the heating of the workshop \
             came on: once with the output left on, once with the output switched on and off every 1.2 seconds."
        ),
        board,
        rail: "V3",
        face: "top",
    };
    let draw = Draw { seed, difficulty };
    draw.difficulty.spoil(&mut pulsed, BOARD_MM, &mut scenario_rng(seed, SPOILING + 1));
    let again = simulate(&pulsed, seed.wrapping_add(PULSED_NOISE));
    PracticeCase { again: Some(again), ..finish(telling, lead_ohms, step, draw) }
}

/// The second recording has other noise than the first.
const PULSED_NOISE: u64 = 1 << 40;
