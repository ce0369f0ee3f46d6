//! Watts and sources on boards whose truth is known. All results are simulated.

use joulemark_frames::Unit;

use super::workshop::{self, FRAMES_BEFORE, Mounted, RATE_HZ, capacitor, setup, step};
use super::*;
use crate::{
    board::{Face, Mirror, Through},
    plate::ThinPlate,
    simulate::{Behind, Drive, Side, Source, SourceAt, rectangle, simulate},
};

const WATTS: f64 = 0.15;

/// C1 in the middle of four others, two to three millimetres away, and C9 further off.
fn bank() -> Vec<Mounted> {
    [(30.0, 20.0), (30.0, 22.2), (27.0, 20.0), (33.0, 20.0), (30.0, 17.8), (40.0, 26.0)]
        .iter()
        .enumerate()
        .map(|(i, p)| capacitor(&format!("C{}", if i < 5 { i + 1 } else { 9 }), p.0, p.1))
        .collect()
}

fn point(at: [f64; 2], watts: f64) -> Source {
    Source { at: SourceAt::Point(at), watts, drive: step() }
}

fn entry<'a>(solution: &'a LedgerSolution, part: &str) -> Option<&'a crate::LedgerEntry> {
    solution.ledger.as_ref()?.entries.iter().find(|e| e.part == part)
}

/// The first entry is `part`, and its 95 % interval holds `watts`.
fn assert_first(solution: &LedgerSolution, part: &str, watts: f64, what: &str) {
    print(what, solution);
    let first = &solution.ledger.as_ref().unwrap().entries[0];
    assert_eq!(first.part, part, "{what}");
    assert!((first.watts - watts).abs() <= 1.96 * first.watts_se, "{what}: {first:?}");
    assert_eq!(solution.evidence[0].parts[0].part, part, "{what}");
}

/// With the board as the ledger assumes it to be, watts are good to a tenth: 3 % of that is the copper's own heat capacity, the rest what
/// nobody told it (bare ends of the parts, heat held by the part).
#[test]
fn a_plain_board_gives_the_watts_to_a_tenth() {
    let mounted = bank();
    let solution = of_workshop(&workshop::board(&mounted), &simulate(&setup(&mounted, &[(0, WATTS)], step()), 1));
    assert_first(&solution, "C1", WATTS, "plain");
    let found = entry(&solution, "C1").unwrap().watts;
    assert!((found / WATTS - 1.0).abs() < 0.1, "{found}");
    // One plane of 35 um at 85 % and the laminate: 0.0136 W/K.
    let sheet = solution.ledger.as_ref().unwrap().sheet_w_per_k;
    assert!((sheet / 0.0136 - 1.0).abs() < 0.1, "{sheet}");
}

/// Heat capacity, copper and loss that the ledger does not know; its interval has to hold them.
#[test]
fn wrong_constants_stay_within_the_error() {
    let mounted = bank();
    let board = workshop::board(&mounted);
    type Change = fn(&mut Setup);
    let changes: [(&str, Change); 5] = [
        ("1 mm laminate", |s| {
            s.plate.base.areal_capacity_j_per_m2k = 1850.0;
            s.plate.base.sheet_w_per_k = 1.06e-3;
        }),
        ("bare laminate", |s| s.plate.copper.clear()),
        ("four planes", |s| s.plate.copper[0].thickness_um = 140.0),
        ("in a draught", |s| s.plate.base.loss_w_per_m2k = 60.0),
        ("a pour on one side", |s| {
            let area = rectangle(24.0, 18.0, 18.0, 12.0);
            s.plate.copper.push(crate::simulate::Copper { area, thickness_um: 35.0, coverage: 0.5 });
        }),
    ];
    for (what, change) in changes {
        let mut setup = setup(&mounted, &[(0, WATTS)], step());
        change(&mut setup);
        assert_first(&of_workshop(&board, &simulate(&setup, 2)), "C1", WATTS, what);
    }
}

#[test]
fn two_sources_are_told_apart() {
    let mounted = bank();
    let setup = setup(&mounted, &[(0, WATTS), (5, 0.3 * WATTS)], step());
    let solution = of_workshop(&workshop::board(&mounted), &simulate(&setup, 3));
    assert_first(&solution, "C1", WATTS, "two");
    let second = entry(&solution, "C9").unwrap();
    assert!((second.watts - 0.3 * WATTS).abs() <= 1.96 * second.watts_se, "{second:?}");
    // The scale is common to both, so their ratio is known better: to a quarter, as parts share heat.
    let ratio = second.watts / entry(&solution, "C1").unwrap().watts;
    assert!((ratio / 0.3 - 1.0).abs() < 0.25, "{ratio}");
}

#[test]
fn a_shiny_culprit_is_found_by_the_warmth_around_it() {
    let mounted = bank();
    let mut setup = setup(&mounted, &[(0, WATTS)], step());
    setup.bodies[0].emissivity = 0.1;
    let mut board = workshop::board(&mounted);
    let simulated = simulate(&setup, 4);
    let solution = of_workshop(&board, &simulated);
    assert_first(&solution, "C1", WATTS, "shiny, not stated");
    let hints = &solution.ledger.as_ref().unwrap().hints;
    assert!(hints.iter().any(|h| h.starts_with("C1 itself looks cool")), "{hints:?}");
    board.faces[0].parts[0].emissivity = Some(0.1);
    let solution = of_workshop(&board, &simulated);
    assert_first(&solution, "C1", WATTS, "shiny, stated");
    let hints = &solution.ledger.as_ref().unwrap().hints;
    assert!(hints.iter().any(|h| h.starts_with("C1 is bare metal")), "{hints:?}");
}

#[test]
fn pulses_give_the_same_watts() {
    let mounted = bank();
    let on_s = (FRAMES_BEFORE as f64 - 0.5) / RATE_HZ;
    let drive = Drive::Pulses { on_s, off_s: f64::INFINITY, period_s: 3.0, duty: 0.5 };
    let solution = of_workshop(&workshop::board(&mounted), &simulate(&setup(&mounted, &[(0, WATTS)], drive), 5));
    assert_first(&solution, "C1", WATTS, "pulses");
}

#[test]
fn heat_beside_all_parts_is_off_the_drawing() {
    let mounted = bank();
    let mut setup = setup(&mounted, &[], step());
    setup.sources = vec![point([36.0, 24.0], WATTS)];
    let solution = of_workshop(&workshop::board(&mounted), &simulate(&setup, 6));
    print("off the drawing", &solution);
    let ledger = solution.ledger.as_ref().unwrap();
    assert!(ledger.elsewhere_watts > 0.8 * WATTS && ledger.entries.is_empty(), "{ledger:?}");
    let evidence = &solution.evidence[0];
    assert!(evidence.parts.iter().all(|p| p.log_gain < evidence.off_drawing), "{evidence:?}");
}

/// The feed copper from the mark to C9 takes as much as the short itself, a narrow place on it most of that.
#[test]
fn the_end_of_a_heated_path_is_told_from_the_path() {
    let mounted = bank();
    let mut setup = setup(&mounted, &[(5, WATTS)], step());
    for i in 0..40 {
        let t = (f64::from(i) + 0.5) / 40.0;
        let narrow = if (15..18).contains(&i) { 6.0 } else { 1.0 };
        let [x, y] = [workshop::MARK_MM[0] + 25.0 * t, workshop::MARK_MM[1] + 16.0 * t];
        setup.sources.push(point([x, y], WATTS * narrow / 55.0));
    }
    let solution = of_workshop(&workshop::board(&mounted), &simulate(&setup, 7));
    print("path", &solution);
    assert!(solution.roles.contains(&SpotRole::End) && solution.roles.len() > 1, "{:?}", solution.roles);
    let end = solution.roles.iter().position(|r| *r == SpotRole::End).unwrap();
    assert_eq!(solution.evidence[end].parts[0].part, "C9");
    let others = solution.roles.iter().enumerate().filter(|(i, _)| *i != end);
    assert!(
        others.clone().all(|(_, r)| matches!(r, SpotRole::OnPath { .. } | SpotRole::AtProbe)),
        "{:?}",
        solution.roles
    );
}

/// Two shorts in line with the mark and no heat between them are no path.
#[test]
fn two_shorts_in_a_row_are_no_path() {
    let mounted = bank();
    let mut setup = setup(&mounted, &[(5, WATTS)], step());
    setup.sources.push(point([27.5, 18.0], WATTS));
    let solution = of_workshop(&workshop::board(&mounted), &simulate(&setup, 8));
    print("two in a row", &solution);
    assert!(solution.roles.iter().all(|r| *r == SpotRole::Own), "{:?}", solution.roles);
}

#[test]
fn heat_at_the_mark_is_the_probe() {
    let mounted = bank();
    let mut setup = setup(&mounted, &[(0, WATTS)], step());
    setup.sources.push(point([workshop::MARK_MM[0] + 0.3, workshop::MARK_MM[1]], WATTS));
    let solution = of_workshop(&workshop::board(&mounted), &simulate(&setup, 9));
    let mut roles = solution.roles.clone();
    roles.sort_by_key(|r| *r == SpotRole::AtProbe);
    assert!(roles.len() == 2 && roles[1] == SpotRole::AtProbe && roles[0] != SpotRole::AtProbe, "{roles:?}");
}

/// A laminate in two halves, the source on the back one: broad and late in front.
#[test]
fn a_part_behind_is_seen_through_the_board() {
    let mounted = bank();
    let mut setup = setup(&mounted, &[(0, 2.0 * WATTS)], step());
    let half = ThinPlate { areal_capacity_j_per_m2k: 1480.0, sheet_w_per_k: 0.85e-3, loss_w_per_m2k: 10.0 };
    setup.plate.base = half;
    // Between the middles of the halves: 0.343 W/mK over 0.8 mm. Each half has its own plane's share in its sheet.
    setup.plate.copper[0].coverage = 0.4;
    let sheet_w_per_k = half.sheet_w_per_k + 401.0 * 35e-6 * 0.4;
    setup.plate.behind = Some(Behind { base: ThinPlate { sheet_w_per_k, ..half }, between_w_per_m2k: 0.343 / 0.8e-3 });
    setup.bodies[0].side = Side::Back;
    let mut front = bank();
    let culprit = front.remove(0);
    let mut board = workshop::board(&front);
    board.faces[0].through = Some(Through { face: "bottom".into(), mirror: Mirror::X, dx_mm: 60.0, dy_mm: 0.0 });
    let mut behind = culprit.part.clone();
    behind.designator = "C77".into();
    behind.x_mm = 60.0 - culprit.part.x_mm;
    board.faces.push(Face { name: "bottom".into(), parts: vec![behind], ..board.faces[0].clone() });
    board.faces[1].through = None;
    // What the picture shows at the place of the part behind is mask: the body is drawn by the simulator only where it is in front.
    let solution = of_workshop(&board, &simulate(&setup, 10));
    print("behind", &solution);
    let first = &solution.ledger.as_ref().unwrap().entries[0];
    assert_eq!((first.part.as_str(), first.face.as_str()), ("C77", "bottom"));
    assert!((first.watts - 2.0 * WATTS).abs() <= 1.96 * first.watts_se, "{first:?}");
    assert_eq!(solution.evidence[0].parts[0].part, "C77");
}

#[test]
fn missing_watts_are_said_only_where_the_power_is_known() {
    let mounted = bank();
    let simulated = simulate(&setup(&mounted, &[(0, WATTS)], step()), 11);
    let hints = |electrical: Power| {
        let solution = of_workshop_with(&workshop::board(&mounted), &simulated, Some(electrical), Unit::Kelvin);
        solution.ledger.unwrap()
    };
    let missing = hints(Power::Known(4.0 * WATTS));
    assert!(missing.hints.iter().any(|h| h.contains("not on this face")), "{:?}", missing.hints);
    assert!((missing.explained_share.unwrap() - 0.25).abs() < 2.0 * missing.explained_share_se.unwrap());
    let bounded = hints(Power::AtMost(4.0 * WATTS));
    assert!(bounded.hints.is_empty() && bounded.explained_share.is_none(), "{:?}", bounded.hints);
    let surplus = hints(Power::Known(0.5 * WATTS));
    assert!(surplus.explained_share.unwrap() > 1.5, "a share above 1 is not clamped");
    assert!(surplus.hints.iter().any(|h| h.contains("reach the board")), "{:?}", surplus.hints);
}

#[test]
fn relative_takes_have_evidence_but_no_watts() {
    let mounted = bank();
    let simulated = simulate(&setup(&mounted, &[(0, WATTS)], step()), 12);
    let solution = of_workshop_with(&workshop::board(&mounted), &simulated, None, Unit::Relative);
    assert!(solution.ledger.is_none());
    assert_eq!(solution.evidence[0].parts[0].part, "C1");
}

/// A drawing without an outline, and one that lies beside the picture: no watts, no panic.
#[test]
fn boards_that_are_not_in_the_picture_have_no_ledger() {
    let mounted = bank();
    let simulated = simulate(&setup(&mounted, &[(0, WATTS)], step()), 13);
    let alignment = Alignment::fit(&simulated.pairs).unwrap();
    let drawn = workshop::board(&mounted);
    let scene =
        Scene { board: &drawn, face: "top", rail: "V5", alignment: &alignment, lead_ohms: None, injection_mm: None };
    let spots = crate::locate(&simulated.take, &scene, &Settings::default(), &NoProgress).unwrap().hot_spots;
    for outline in [vec![[500.0, 500.0], [560.0, 500.0], [560.0, 540.0]], Vec::new()] {
        let mut elsewhere = drawn.clone();
        elsewhere.faces[0].outline = outline;
        let scene = Scene { board: &elsewhere, ..scene };
        assert!(ledger_on(&simulated.take, &scene, &spots, Power::Unknown).is_none());
    }
}

/// Practice cases of two kinds: the first entry is the culprit. Over seeds 1 to 30 of each, the 95 % interval held the true watts every
/// time (2026-11-25, printed by `coverage`): found over true watts were 0.60 to 0.96, for a scale that is stated to 30 %.
#[test]
fn the_practice_cases_have_their_culprit_first() {
    for name in ["ceramic-capacitor", "lower-board-diode"] {
        for seed in 1..=4 {
            let (solution, truth) = of_practice(name, seed).unwrap();
            assert_first(&solution, truth.part.as_deref().unwrap(), truth.watts, &format!("{name} {seed}"));
        }
    }
}

#[test]
#[ignore = "prints the coverage over many seeds: SEEDS=30"]
fn coverage() {
    let seeds: u64 = std::env::var("SEEDS").map_or(10, |s| s.parse().unwrap());
    for name in ["ceramic-capacitor", "lower-board-diode", "faint"] {
        let (mut found, mut first, mut within, mut best, mut best_off, mut ratios) = (0, 0, 0, 0, 0, Vec::new());
        for seed in 1..=seeds {
            let Some((solution, truth)) = of_practice(name, seed) else { continue };
            let Some(ledger) = &solution.ledger else { continue };
            found += 1;
            let part = truth.part.unwrap();
            print(&format!("{name} {seed}: {part} {:.4} W", truth.watts), &solution);
            first += usize::from(ledger.entries.first().is_some_and(|e| e.part == part));
            best += usize::from(solution.evidence[0].parts.first().is_some_and(|p| p.part == part));
            let top = solution.evidence[0].parts.first().map_or(0.0, |p| p.log_gain);
            best_off += usize::from(solution.evidence[0].off_drawing > top);
            if let Some(entry) = ledger.entries.iter().find(|e| e.part == part) {
                within += usize::from((entry.watts - truth.watts).abs() <= 1.96 * entry.watts_se);
                ratios.push(entry.watts / truth.watts);
            }
        }
        ratios.sort_by(f64::total_cmp);
        println!(
            "{name}: {found} with a ledger, culprit first {first}, within 95 % {within}, best evidence {best} (off the drawing \
             above it {best_off}); found over true watts {:.2} to {:.2}, median {:.2}",
            ratios[0],
            ratios[ratios.len() - 1],
            ratios[ratios.len() / 2]
        );
    }
}
