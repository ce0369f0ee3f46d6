//! The instruments: which parts, which rails, what is wrong.

mod leaks;
mod misleading;
mod shorts;

pub use leaks::{faint, pulses};
pub use misleading::{nothing, still_warm};
pub use shorts::{ceramic_capacitor, lower_board_diode};

use rand::{RngExt, rngs::ChaCha8Rng};

use super::{
    super::{Setup, simulate},
    Difficulty, PracticeCase,
    layout::{Edge, Layout, Wiring, on},
    package::Package as P,
    stage::scenario_rng,
};
use crate::board::{Board, Rail};

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

/// What a scenario tells the user.
struct Telling<'a> {
    name: &'static str,
    title: &'a str,
    story: String,
    board: Board,
    rail: &'a str,
    face: &'a str,
}

/// Which one of a scenario's cases.
#[derive(Clone, Copy)]
struct Draw {
    seed: u64,
    difficulty: Difficulty,
}

/// Noise and disturbances of hard cases come from a stream of their own, so that a board is the same at any difficulty.
const SPOILING: u64 = 300;

fn finish(telling: Telling<'_>, lead_ohms: f64, mut setup: Setup, draw: Draw) -> PracticeCase {
    draw.difficulty.spoil(&mut setup, BOARD_MM, &mut scenario_rng(draw.seed, SPOILING));
    PracticeCase {
        name: telling.name,
        seed: draw.seed,
        difficulty: draw.difficulty,
        title: telling.title.to_owned(),
        story: telling.story,
        board: telling.board,
        rail: telling.rail.to_owned(),
        face: telling.face.to_owned(),
        lead_ohms,
        simulated: simulate(&setup, draw.seed),
        again: None,
    }
}
