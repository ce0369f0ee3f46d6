//! The four instruments: which parts, which rails, what is wrong.

use rand::{RngExt, rngs::ChaCha8Rng};

use super::{
    super::{Setup, hottest, rise_at_end, simulate},
    PracticeCase,
    layout::{Edge, Layout, Wiring, on},
    package::Package as P,
    stage::{Stage, scenario_rng},
    supply::Supply,
};
use crate::board::{Board, Mirror, PartKind, Rail, Through};

const BOARD_MM: [f64; 2] = [60.0, 40.0];
/// Volts at the highest below which only metal or a damaged part conducts.
const BELOW_JUNCTIONS_V: f64 = 0.3;

fn rails(named: &[(&str, f64)]) -> Vec<Rail> {
    named.iter().map(|&(name, volts)| Rail { name: name.to_owned(), nominal_volts: Some(volts) }).collect()
}

fn rated(rails: &'static [&'static str], max_volts: f64) -> Wiring<'static> {
    Wiring { max_volts: Some(max_volts), ..on(rails) }
}

fn joins(rails: &'static [&'static str]) -> Wiring<'static> {
    Wiring { series: true, ..on(rails) }
}

fn one_of(parts: &[usize], rng: &mut ChaCha8Rng) -> usize {
    parts[rng.random_range(0..parts.len())]
}

/// A switching regulator with its coil and two rows of capacitors; returns the output capacitors.
fn regulator(
    layout: &mut Layout,
    near: [f64; 2],
    input: &'static [&'static str],
    output: &'static [&'static str],
    both: &'static [&'static str],
) -> Vec<usize> {
    let chip = layout.key(P::Qfn4, near, 1.0, false, rated(both, 20.0));
    layout.row(chip, Edge::Left, P::Capacitor2012, 2, 2.2, rated(input, 25.0));
    let pitch = layout.rng().random_range(1.9..2.6);
    let out = layout.row(chip, Edge::Below, P::Capacitor2012, 4, pitch, rated(output, 10.0));
    layout.key(P::Inductor4040, [near[0] + 5.5, near[1]], 0.3, false, on(output));
    layout.row(chip, Edge::Above, P::Resistor1005, 3, 1.5, on(&[]));
    out
}

/// A processor with small capacitors on all sides, its crystal and its memory.
fn processor(layout: &mut Layout, near: [f64; 2], supply: &'static [&'static str], core: &'static [&'static str]) {
    let chip = layout.key(P::Qfn5, near, 1.0, false, rated(supply, 4.0));
    let pitch = layout.rng().random_range(1.5..1.9);
    layout.row(chip, Edge::Above, P::Capacitor1005, 3, pitch, rated(supply, 6.3));
    layout.row(chip, Edge::Left, P::Capacitor1005, 2, pitch, rated(core, 6.3));
    layout.row(chip, Edge::Right, P::Capacitor1005, 3, pitch, rated(supply, 6.3));
    layout.row(chip, Edge::Below, P::Resistor1005, 3, pitch, on(&[]));
    layout.key(P::CrystalCan, [near[0] - 7.0, near[1] + 3.0], 0.8, false, on(&[]));
    layout.key(P::Soic8, [near[0] + 10.0, near[1] + 1.0], 1.0, false, rated(supply, 4.0));
}

/// Small parts that belong to no rail, and some that do.
fn filler(layout: &mut Layout, supply: &'static [&'static str]) {
    layout.scatter(P::Capacitor1608, 3, rated(supply, 6.3));
    layout.scatter(P::Resistor1608, 4, on(&[]));
    layout.scatter(P::Resistor1005, 3, on(supply));
    layout.scatter(P::Sot23, 2, on(supply));
    layout.scatter(P::TestPad, 2, on(supply));
}

/// Buoy radio: one of the 5 V regulator's output capacitors is shorted.
pub fn ceramic_capacitor(seed: u64) -> PracticeCase {
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
    let supply = Supply { set_volts: BELOW_JUNCTIONS_V, set_amps: 1.0, lead_ohms: 0.08, board_ohms: short_ohms };
    let board = Board {
        name: "Buoy radio, main board".into(),
        faces: vec![layout.face("top")],
        rails: rails(&[("VIN", 12.0), ("V12", 12.0), ("V5", 5.0), ("V3", 3.3), ("V1", 1.2)]),
    };
    let stage = Stage {
        name: "1 A into V5",
        layout,
        culprit: Some(culprit),
        ohms: vec![(culprit, short_ohms)],
        idle_watts: Vec::new(),
        supply,
        stacked: false,
        netd_k: 0.04,
        drift_k: 0.05,
    };
    let telling = Telling {
        name: "ceramic-capacitor",
        title: "Buoy radio that pulls its supply down",
        story: format!(
            "The radio came back from a winter at sea and drags its 12 V supply down before it is switched on. V5 reads \
             {short_ohms:.2} ohm to ground with everything unplugged; the other rails look healthy. You injected at most \
             0.3 V and 1 A into V5 and filmed the top face for fifteen seconds."
        ),
        board,
        rail: "V5",
        face: "top",
    };
    finish(telling, supply.lead_ohms, &stage.setup(), seed)
}

/// Wave logger, two boards: the surge-protection diode on the lower one is shorted.
pub fn lower_board_diode(seed: u64) -> PracticeCase {
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
    let supply = Supply { set_volts: BELOW_JUNCTIONS_V, set_amps: 3.0, lead_ohms: 0.08, board_ohms: short_ohms };
    let mut lower_face = lower.face("lower");
    lower_face.through = Some(Through { face: "upper".into(), mirror: Mirror::X, dx_mm: BOARD_MM[0], dy_mm: 0.0 });
    let board = Board {
        name: "Wave logger, stack of two".into(),
        faces: vec![upper.face("upper"), lower_face],
        rails: rails(&[("VIN", 12.0), ("V12", 12.0), ("V5", 5.0), ("V3", 3.3), ("V1", 1.2)]),
    };
    let stage = Stage {
        name: "0.3 V into V12",
        layout: lower,
        culprit: Some(culprit),
        ohms: vec![(culprit, short_ohms)],
        idle_watts: Vec::new(),
        supply,
        stacked: true,
        netd_k: 0.04,
        drift_k: 0.05,
    };
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
    finish(telling, supply.lead_ohms, &stage.setup(), seed)
}

/// Anemometer interface: a leaky capacitor on the analogue rail behind a ferrite, seen at a quarter of a kelvin.
pub fn faint(seed: u64) -> PracticeCase {
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
    };
    let mut setup = stage.setup();
    // The guess shows how many kelvin a watt makes; the rise is linear in power, so that gives the watts that are wanted,
    // and those the leak's ohms R: P = U^2 R / (R + r)^2 with r for leads and ferrite, the larger root.
    let kelvin_per_watt = f64::from(hottest(&rise_at_end(&setup)).2) / setup.sources[0].watts;
    let watts = target_k / kelvin_per_watt;
    let others = lead_ohms + ferrite_ohms;
    let b = BELOW_JUNCTIONS_V * BELOW_JUNCTIONS_V / watts - 2.0 * others;
    let leak_ohms = 0.5 * (b + (b * b - 4.0 * others * others).sqrt());
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
    finish(telling, lead_ohms, &setup, seed)
}

/// Mooring light controller: nothing is wrong with it.
pub fn nothing(seed: u64) -> PracticeCase {
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
    finish(telling, supply.lead_ohms, &stage.setup(), seed)
}

/// What a scenario tells the user.
struct Telling<'a> {
    name: &'static str,
    title: &'a str,
    story: String,
    board: Board,
    rail: &'a str,
    face: &'a str,
}

fn finish(telling: Telling<'_>, lead_ohms: f64, setup: &Setup, seed: u64) -> PracticeCase {
    PracticeCase {
        name: telling.name,
        seed,
        title: telling.title.to_owned(),
        story: telling.story,
        board: telling.board,
        rail: telling.rail.to_owned(),
        face: telling.face.to_owned(),
        lead_ohms,
        simulated: simulate(setup, seed),
    }
}
