//! Dead shorts: strong heat, and a part that must be told from its neighbours.

use rand::RngExt;

use super::{
    BELOW_JUNCTIONS_V, BOARD_MM, Draw, Telling, filler, finish, joins, one_of, processor, rails, rated, regulator,
};
use crate::{
    board::{Board, Mirror, Through},
    simulate::scenario::{
        Difficulty, PracticeCase,
        layout::{Edge, Layout, on},
        package::Package as P,
        stage::{Stage, scenario_rng},
        supply::Supply,
    },
};

/// Buoy radio: one of the 5 V regulator's output capacitors is shorted.
pub fn ceramic_capacitor(seed: u64, difficulty: Difficulty) -> PracticeCase {
    let mut layout = Layout::new(BOARD_MM[0], BOARD_MM[1], 1, scenario_rng(seed, 0));
    layout.key(P::PlugHeader, [8.0, 4.0], 0.5, false, on(&["V12"]));
    layout.key(P::ShieldedSocket, [54.5, 33.0], 0.5, false, on(&["V5"]));
    let bank = regulator(&mut layout, [20.0, 12.0], &["V12"], &["V5"], &["V12", "V5"]);
    let amplifier = layout.key(P::Qfn5, [46.0, 13.0], 1.5, false, rated(&["V5"], 6.0));
    let beside = layout.row(amplifier, Edge::Below, P::Capacitor1608, 3, 1.8, rated(&["V5"], 10.0));
    layout.row(amplifier, Edge::Left, P::Capacitor1608, 2, 2.0, rated(&["V3"], 6.3));
    processor(&mut layout, [25.0, 29.0], &["V3"], &["V1"]);
    layout.key(P::Fuse3216, [18.0, 4.0], 0.5, false, joins(&["V12", "VIN"]));
    layout.key(P::SmaDiode, [6.0, 11.0], 0.5, true, on(&["VIN"]));
    layout.scatter(P::Capacitor3216, 1, rated(&["V12"], 25.0));
    filler(&mut layout, &["V3"]);
    layout.scatter(P::TestPad, 1, on(&["V5"]));

    let candidates: Vec<usize> = bank.into_iter().chain(beside).collect();
    let culprit = one_of(&candidates, layout.rng());
    let short_ohms = layout.rng().random_range(0.12..0.2);
    let supply = Supply {
        set_volts: BELOW_JUNCTIONS_V,
        set_amps: difficulty.amps(1.0),
        lead_ohms: 0.08,
        board_ohms: short_ohms,
    };
    let board = Board {
        name: "Buoy radio, main board".into(),
        faces: vec![layout.face("top")],
        rails: rails(&[("VIN", 12.0), ("V12", 12.0), ("V5", 5.0), ("V3", 3.3), ("V1", 1.2)]),
    };
    let stage = Stage::shorted("1 A into V5", layout, culprit, supply);
    let telling = Telling {
        name: "ceramic-capacitor",
        title: "Buoy radio that pulls its supply down",
        story: format!(
            "The radio came back from a winter at sea and drags its 12 V supply down before it is switched on. V5 reads \
             {short_ohms:.2} ohm to ground with everything unplugged; the other rails look healthy. You injected at most \
             0.3 V and {} A into V5 and filmed the top face for fifteen seconds.",
            supply.set_amps
        ),
        board,
        rail: "V5",
        face: "top",
    };
    finish(telling, supply.lead_ohms, stage.setup(), Draw { seed, difficulty })
}

/// Wave logger, two boards: the surge-protection diode on the lower one is shorted.
pub fn lower_board_diode(seed: u64, difficulty: Difficulty) -> PracticeCase {
    let mut lower = Layout::new(BOARD_MM[0], BOARD_MM[1], 1, scenario_rng(seed, 1));
    lower.key(P::PlugHeader, [8.5, 36.0], 0.3, false, on(&["VIN"]));
    lower.key(P::PlugHeader, [50.0, 36.0], 0.3, false, on(&["V5"]));
    lower.key(P::Fuse3216, [19.0, 33.0], 0.6, false, joins(&["VIN", "V12"]));
    // The culprit among its neighbours: two more diodes and the input capacitors within a few millimetres.
    let near = [lower.rng().random_range(12.0..20.0), lower.rng().random_range(22.0..27.0)];
    // Designators follow the order of placing, so the siblings come first as often as last.
    let siblings = |lower: &mut Layout| {
        lower.key(P::SmaDiode, [near[0] + 8.5, near[1]], 0.4, true, on(&["V12"]));
        lower.key(P::Sod123, [near[0] - 7.0, near[1]], 0.5, true, on(&["V5"]));
    };
    let siblings_first = lower.rng().random_bool(0.5);
    if siblings_first {
        siblings(&mut lower);
    }
    let culprit = lower.key(P::SmaDiode, near, 0.5, false, on(&["V12"]));
    if !siblings_first {
        siblings(&mut lower);
    }
    let (below, above) =
        if lower.rng().random_bool(0.5) { (Edge::Below, Edge::Above) } else { (Edge::Above, Edge::Below) };
    lower.row(culprit, below, P::Capacitor3216, 2, 2.3, rated(&["V12"], 25.0));
    lower.row(culprit, above, P::Capacitor1608, 3, 1.8, rated(&["V12"], 25.0));
    regulator(&mut lower, [35.0, 10.0], &["V12"], &["V5"], &["V12", "V5"]);
    lower.key(P::Soic8, [10.0, 9.0], 1.0, false, rated(&["V5"], 7.0));
    lower.key(P::Soic8, [51.0, 22.0], 1.0, true, rated(&["V5"], 7.0));
    lower.scatter(P::Resistor3216, 2, on(&["V12"]));
    filler(&mut lower, &["V5"]);

    let mut upper = Layout::new(BOARD_MM[0], BOARD_MM[1], 101, scenario_rng(seed, 101));
    upper.key(P::PlugHeader, [50.0, 36.0], 0.3, false, on(&["V5"]));
    upper.key(P::ShieldedSocket, [6.0, 20.0], 0.5, false, on(&[]));
    processor(&mut upper, [28.0, 16.0], &["V3"], &["V1"]);
    upper.key(P::Soic8, [18.0, 30.0], 1.0, false, rated(&["V5"], 7.0));
    filler(&mut upper, &["V3"]);

    let short_ohms = lower.rng().random_range(0.06..0.1);
    let supply = Supply {
        set_volts: BELOW_JUNCTIONS_V,
        set_amps: difficulty.amps(3.0),
        lead_ohms: 0.08,
        board_ohms: short_ohms,
    };
    let mut lower_face = lower.face("lower");
    lower_face.through = Some(Through { face: "upper".into(), mirror: Mirror::X, dx_mm: BOARD_MM[0], dy_mm: 0.0 });
    let board = Board {
        name: "Wave logger, stack of two".into(),
        faces: vec![upper.face("upper"), lower_face],
        rails: rails(&[("VIN", 12.0), ("V12", 12.0), ("V5", 5.0), ("V3", 3.3), ("V1", 1.2)]),
    };
    let stage = Stage { stacked: true, ..Stage::shorted("0.3 V into V12", lower, culprit, supply) };
    let telling = Telling {
        name: "lower-board-diode",
        title: "Wave logger after a thunderstorm",
        story: "A storm passed over the moorings and this logger trips its supply at once. It is a stack of two boards; V12 is \
         shorted, and it runs through both of them. You turned the stack over and filmed the lower board while 0.3 V \
         were on V12."
            .into(),
        board,
        rail: "V12",
        face: "lower",
    };
    finish(telling, supply.lead_ohms, stage.setup(), Draw { seed, difficulty })
}
