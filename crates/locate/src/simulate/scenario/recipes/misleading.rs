//! Boards that mislead: nothing is wrong, or something else is warm.

use rand::RngExt;

use super::{BELOW_JUNCTIONS_V, BOARD_MM, Draw, Telling, filler, finish, one_of, processor, rails, rated, regulator};
use crate::{
    board::{Board, PartKind},
    simulate::{
        WarmPatch,
        scenario::{
            Difficulty, PracticeCase,
            layout::{Edge, Layout, on},
            package::Package as P,
            stage::{Course, Stage, scenario_rng},
            supply::Supply,
        },
    },
};

/// Mooring light controller: nothing is wrong with it.
pub fn nothing(seed: u64, difficulty: Difficulty) -> PracticeCase {
    let mut layout = Layout::new(BOARD_MM[0], BOARD_MM[1], 1, scenario_rng(seed, 3));
    layout.key(P::PlugHeader, [8.0, 4.0], 0.3, false, on(&["V12"]));
    layout.key(P::ShieldedSocket, [54.0, 8.0], 0.5, false, on(&["V5"]));
    regulator(&mut layout, [20.0, 13.0], &["V12"], &["V5"], &["V12", "V5"]);
    processor(&mut layout, [38.0, 27.0], &["V5"], &["V1"]);
    let driver = layout.key(P::Soic8, [11.0, 27.0], 1.5, false, rated(&["V12", "V5"], 20.0));
    layout.row(driver, Edge::Below, P::Capacitor1608, 3, 1.9, rated(&["V12"], 25.0));
    layout.key(P::SmaDiode, [22.0, 30.0], 1.0, true, on(&["V12"]));
    layout.scatter(P::Capacitor3216, 2, rated(&["V12"], 25.0));
    filler(&mut layout, &["V5"]);

    // A healthy rail far below its junctions leaks a milliamp or so through all that hangs on it: together a fraction of a
    // milliwatt, a millikelvin or two at each.
    let leak_amps = layout.rng().random_range(0.6e-3..1.4e-3);
    let board_ohms = BELOW_JUNCTIONS_V / leak_amps - 0.08;
    let supply = Supply { set_volts: BELOW_JUNCTIONS_V, set_amps: 1.0, lead_ohms: 0.08, board_ohms };
    let loads: Vec<usize> = (0..layout.parts().len())
        .filter(|&i| {
            let part = &layout.parts()[i].0;
            part.kind == PartKind::Ic && part.rails.iter().any(|r| r == "V5")
        })
        .collect();
    let each = leak_amps * leak_amps * board_ohms / loads.len() as f64;
    let board = Board {
        name: "Mooring light controller".into(),
        faces: vec![layout.face("top")],
        rails: rails(&[("V12", 12.0), ("V5", 5.0), ("V1", 1.2)]),
    };
    let stage = Stage {
        name: "0.3 V into V5",
        layout,
        culprit: None,
        ohms: Vec::new(),
        idle_watts: loads.into_iter().map(|part| (part, each)).collect(),
        supply,
        stacked: false,
        netd_k: 0.04,
        drift_k: 0.15,
        course: Course::Step,
    };
    let telling = Telling {
        name: "nothing",
        title: "Mooring light controller said to be shorted",
        story: "The note on this controller says that V5 is shorted. You injected at most 0.3 V and \
         1 A into it and filmed the board for fifteen seconds. Read the supply's volts and amps beside the picture."
            .into(),
        board,
        rail: "V5",
        face: "top",
    };
    finish(telling, supply.lead_ohms, stage.setup(), Draw { seed, difficulty })
}

/// Rain gauge: a capacitor is shorted, and the plug was soldered just before filming.
pub fn still_warm(seed: u64, difficulty: Difficulty) -> PracticeCase {
    let mut layout = Layout::new(BOARD_MM[0], BOARD_MM[1], 1, scenario_rng(seed, 5));
    let plug_mm = [51.0, 35.0];
    layout.key(P::PlugHeader, plug_mm, 0.3, false, on(&["V12"]));
    let bank = regulator(&mut layout, [17.0, 12.0], &["V12"], &["V5"], &["V12", "V5"]);
    let counter = layout.key(P::Soic8, [40.0, 11.0], 1.5, false, rated(&["V5"], 6.0));
    let beside = layout.row(counter, Edge::Below, P::Capacitor1608, 3, 1.9, rated(&["V5"], 10.0));
    processor(&mut layout, [23.0, 29.0], &["V3"], &["V1"]);
    layout.key(P::SmaDiode, [36.0, 34.0], 0.5, true, on(&["V12"]));
    layout.scatter(P::Capacitor3216, 2, rated(&["V12"], 25.0));
    filler(&mut layout, &["V5"]);

    let candidates: Vec<usize> = bank.into_iter().chain(beside).collect();
    let culprit = one_of(&candidates, layout.rng());
    let short_ohms = layout.rng().random_range(0.14..0.2);
    let supply = Supply {
        set_volts: BELOW_JUNCTIONS_V,
        set_amps: difficulty.amps(0.5),
        lead_ohms: 0.08,
        board_ohms: short_ohms,
    };
    let board = Board {
        name: "Rain gauge, counter board".into(),
        faces: vec![layout.face("top")],
        rails: rails(&[("V12", 12.0), ("V5", 5.0), ("V3", 3.3), ("V1", 1.2)]),
    };
    let stage = Stage::shorted("0.5 A into V5", layout, culprit, supply);
    let telling = Telling {
        name: "still-warm",
        title: "Rain gauge with a new plug",
        story: format!(
            "A bent plug was replaced a minute ago, and only then did somebody notice that V5 reads {short_ohms:.2} ohm to \
             ground. You injected at most 0.3 V and {} A into V5 and filmed the top face at once, with the plug still warm.",
            supply.set_amps
        ),
        board,
        rail: "V5",
        face: "top",
    };
    let mut setup = stage.setup();
    // Solder of a plug's size, cooled for a minute: a guess, no published source.
    setup.disturbances.warm_patches.push(WarmPatch { centre_mm: plug_mm, sigma_mm: 6.0, rise_k: 14.0 });
    finish(telling, supply.lead_ohms, setup, Draw { seed, difficulty })
}
