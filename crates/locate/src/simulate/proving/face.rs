//! A random board: size, integrated circuits with rows of small parts, the rest scattered, several rails, and who is to
//! blame.

use rand::{RngExt, SeedableRng, rngs::ChaCha8Rng};

use super::super::scenario::{
    layout::{Edge, Layout, Wiring, on},
    package::Package as P,
};
use crate::board::{Board, Rail};

/// Rails by their volts; the last one hangs behind a ferrite.
const RAILS: [(&str, f64); 5] = [("V12", 12.0), ("V5", 5.0), ("V3", 3.3), ("V1", 1.2), ("VA", 3.3)];
const EACH: [&[&str]; 5] = [&["V12"], &["V5"], &["V3"], &["V1"], &["VA"]];
const BEHIND: usize = 4;
/// An injected rail has at least this many parts that could be shorted.
const LEAST_CANDIDATES: usize = 4;
/// Part of the area that parts may take.
const FILL: f64 = 0.3;

/// A laid-out face with its fault.
pub struct Drawn {
    /// The parts.
    pub layout: Layout,
    /// The injected rail.
    pub rail: &'static str,
    /// Index of the faulty part (a plausible one; blank boards ignore it).
    pub culprit: usize,
    /// Index of the ferrite that the current passes on its way, where there is one.
    pub ferrite: Option<usize>,
}

impl Drawn {
    /// The drawing.
    pub fn board(&self) -> Board {
        Board {
            name: "Proving board".into(),
            faces: vec![self.layout.face("top")],
            rails: RAILS.map(|(name, volts)| Rail { name: name.into(), nominal_volts: Some(volts) }).to_vec(),
        }
    }
}

/// Draws a face whose longer edge lies within the given millimetres.
pub fn draw(rng: &mut ChaCha8Rng, edge_mm: (f64, f64)) -> Drawn {
    loop {
        if let Some(drawn) = attempt(rng, edge_mm) {
            return drawn;
        }
    }
}

fn attempt(rng: &mut ChaCha8Rng, edge_mm: (f64, f64)) -> Option<Drawn> {
    let snap = |v: f64| (v * 2.0).round() / 2.0;
    let width = snap(rng.random_range(edge_mm.0..edge_mm.1));
    let height = snap((width / rng.random_range(1.0..1.7)).max(20.0));
    let gap_mm = rng.random_range(0.3..0.8);
    let mut layout = Layout::new(width, height, 1, ChaCha8Rng::from_rng(rng)).with_clearance(gap_mm);
    let wanted: usize = rng.random_range(20..=90);
    let most_mm2 = FILL * width * height;

    let ferrite = rng.random_bool(0.2).then_some(()).and_then(|()| {
        let series = Wiring { series: true, ..on(&["V3", "VA"]) };
        let at = [rng.random_range(0.2..0.8) * width, rng.random_range(0.2..0.8) * height];
        layout.place(P::Ferrite1608, at, rng.random_bool(0.5), series)
    });
    let rails = if ferrite.is_some() { RAILS.len() } else { BEHIND };
    for _ in 0..(width * height / 500.0).clamp(1.0, 6.0) as usize {
        let chip_rail = rng.random_range(0..rails);
        let package = [P::Qfn4, P::Qfn5, P::Soic8][rng.random_range(0..3)];
        let at = [rng.random_range(0.15..0.85) * width, rng.random_range(0.15..0.85) * height];
        let Some(chip) = layout.place(package, at, rng.random_bool(0.5), on(EACH[chip_rail])) else { continue };
        for edge in [Edge::Left, Edge::Right, Edge::Above, Edge::Below] {
            if rng.random_bool(0.45) || taken_mm2(&layout) > most_mm2 {
                continue;
            }
            let row_rail = if rng.random_bool(0.8) { chip_rail } else { rng.random_range(0..rails) };
            let package =
                [P::Capacitor1005, P::Capacitor1608, P::Capacitor2012, P::Resistor1005][rng.random_range(0..4_usize)];
            let rail: &[&str] = if package == P::Resistor1005 { &[] } else { EACH[row_rail] };
            // A third of the rows stand as close as the board allows.
            let loose_mm = if rng.random_bool(0.35) { 0.05 } else { rng.random_range(0.05..0.8) };
            let pitch = package.traits().height_mm + gap_mm + loose_mm;
            layout.row(chip, edge, package, rng.random_range(2..=4), pitch, on(rail));
        }
    }
    for _ in 0..3 * wanted {
        if layout.parts().len() >= wanted || taken_mm2(&layout) > most_mm2 {
            break;
        }
        let package = pick(rng);
        let wired = !matches!(package, P::Resistor1005 | P::Resistor1608 | P::CrystalCan) || rng.random_bool(0.4);
        let rail: &[&str] = if wired { EACH[rng.random_range(0..rails)] } else { &[] };
        layout.scatter(package, 1, on(rail));
    }
    if layout.parts().len() < 20 {
        return None;
    }

    let candidates = |rail: &str| -> Vec<usize> {
        let may_short = |package: P| {
            let harmless = matches!(
                package,
                P::TestPad | P::CrystalCan | P::PlugHeader | P::ShieldedSocket | P::Inductor4040 | P::Ferrite1608
            );
            !harmless && !matches!(package, P::Resistor1005 | P::Resistor1608 | P::Resistor3216 | P::Fuse3216)
        };
        let parts = layout.parts().iter().enumerate();
        parts
            .filter(|(_, (part, package))| may_short(*package) && part.rails.iter().any(|r| r == rail))
            .map(|(i, _)| i)
            .collect()
    };
    let behind = if ferrite.is_some() { candidates("VA") } else { Vec::new() };
    let (rail, culprits, ferrite) = if behind.len() >= 2 {
        ("V3", behind, ferrite)
    } else {
        let open: Vec<_> = RAILS[..BEHIND]
            .iter()
            .map(|(name, _)| (*name, candidates(name)))
            .filter(|(_, c)| c.len() >= LEAST_CANDIDATES)
            .collect();
        if open.is_empty() {
            return None;
        }
        let (rail, culprits) = open[rng.random_range(0..open.len())].clone();
        (rail, culprits, None)
    };
    let culprit = culprits[rng.random_range(0..culprits.len())];
    Some(Drawn { layout, rail, culprit, ferrite })
}

fn taken_mm2(layout: &Layout) -> f64 {
    layout.parts().iter().map(|(part, _)| part.width_mm * part.height_mm).sum()
}

/// Mixed packages, small ones most often.
fn pick(rng: &mut ChaCha8Rng) -> P {
    const MIX: [(P, u32); 17] = [
        (P::Capacitor1005, 18),
        (P::Capacitor1608, 18),
        (P::Capacitor2012, 10),
        (P::Capacitor3216, 5),
        (P::Resistor1005, 14),
        (P::Resistor1608, 8),
        (P::Resistor3216, 3),
        (P::Ferrite1608, 2),
        (P::Sod123, 4),
        (P::SmaDiode, 3),
        (P::Sot23, 5),
        (P::Inductor4040, 2),
        (P::CrystalCan, 2),
        (P::TestPad, 4),
        (P::Soic8, 2),
        (P::PlugHeader, 1),
        (P::ShieldedSocket, 1),
    ];
    let total: u32 = MIX.iter().map(|m| m.1).sum();
    let mut left = rng.random_range(0..total);
    for (package, share) in MIX {
        if left < share {
            return package;
        }
        left -= share;
    }
    P::Capacitor1608
}
