//! Simulated takes before and after a repair: how often the verdict is right.
//!
//! `cargo run --release -p joulemark-locate --example repair_pairs -- 300` prints a table; every figure is a simulated one.

use std::{
    collections::BTreeMap,
    io::Write,
    sync::atomic::{AtomicUsize, Ordering},
};

use joulemark_frames::NoProgress;
use joulemark_locate::{
    Located, Settings,
    align::Alignment,
    locate,
    repair_check::{Bench, Side, VerdictKind, check},
    simulate::{
        SourceAt,
        proving::{Kind, ProvingBoard, Tier, build, picture_size},
        simulate,
    },
};
use rayon::prelude::*;

/// What happens between the takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Story {
    Repaired,
    HealedItself,
    Untouched,
    Moved,
    /// Nothing was repaired, and the leads touched nothing.
    LooseLeads,
}

const STORIES: [Story; 5] = [Story::Repaired, Story::HealedItself, Story::Untouched, Story::Moved, Story::LooseLeads];

/// Boards of no other run.
const FIRST_SEED: u64 = 930_000;
/// A fault that moved lies this far away at least, millimetres.
const APART_MM: f64 = 8.0;

fn main() {
    let pairs: usize = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(300);
    let done = AtomicUsize::new(0);
    // Large pictures take the room of four others and say the same.
    let small = |seed: &u64| picture_size(kind(*seed), *seed).0 <= 320;
    let seeds: Vec<u64> = (FIRST_SEED..).filter(small).take(pairs).collect();
    let told: Vec<(Story, Option<VerdictKind>, u64)> = seeds
        .into_par_iter()
        .enumerate()
        .map(|(i, seed)| {
            let story = STORIES[i % STORIES.len()];
            let verdict = verdict(story, seed);
            eprint!("\r{} of {pairs} pairs ", done.fetch_add(1, Ordering::Relaxed) + 1);
            let _ = std::io::stderr().flush();
            (story, verdict, seed)
        })
        .collect();
    eprintln!();
    print_table(&told);
}

/// Every third board is a faint one.
fn kind(seed: u64) -> Kind {
    Kind::Tier(if seed.is_multiple_of(3) { Tier::Faint } else { Tier::Medium })
}

fn verdict(story: Story, seed: u64) -> Option<VerdictKind> {
    let before = build(kind(seed), seed);
    let after = after(&before, story, seed)?;
    let answer = |made: &ProvingBoard| -> Option<(Alignment, Located)> {
        let alignment = Alignment::fit(&made.simulated.pairs).ok()?;
        let located = locate(&made.simulated.take, &made.scene(&alignment), &Settings::default(), &NoProgress).ok()?;
        Some((alignment, located))
    };
    let ((ab, lb), (aa, la)) = (answer(&before)?, answer(&after)?);
    let (sb, sa) = (before.scene(&ab), after.scene(&aa));
    let part = before.simulated.truth.part.clone();
    let repaired = if story == Story::HealedItself { Vec::new() } else { part.into_iter().collect() };
    // The meter reads what is true; on a quarter of the repaired boards nobody measured.
    let ohms_after = match story {
        Story::Repaired | Story::HealedItself => (seed % 4 < 3).then_some(8e3),
        Story::Untouched | Story::Moved => None,
        Story::LooseLeads => (seed % 4 < 2).then_some(0.31),
    };
    let bench = Bench { repaired, ohms_before: Some(0.3), ohms_after, ..Bench::default() };
    let side = |located, scene, timeline| Side { located, scene, timeline };
    let b = side(&lb, &sb, &before.simulated.take.timeline);
    let a = side(&la, &sa, &after.simulated.take.timeline);
    Some(check(&b, &a, &bench).verdict.kind)
}

/// The board once more, filmed anew: other noise, other clicks, the camera moved on every second board.
fn after(before: &ProvingBoard, story: Story, seed: u64) -> Option<ProvingBoard> {
    let mut made = before.clone();
    let culprit = made.setup.culprit?;
    match story {
        Story::Untouched => {}
        Story::Repaired | Story::HealedItself | Story::LooseLeads => {
            made.setup.sources.clear();
            let t = &mut made.setup.timeline;
            let volts = (0..t.len()).filter_map(|i| t.volts[i].filter(|_| t.injecting[i])).fold(0.0, f64::max);
            for i in 0..t.len() {
                if t.injecting[i] {
                    (t.volts[i], t.amps[i]) = (Some(volts), Some(0.0005));
                }
            }
        }
        Story::Moved => {
            let at = made.setup.bodies[culprit].footprint.centre_mm;
            let far = |b: &usize| (made.setup.bodies[*b].footprint.centre_mm - at).norm() > APART_MM;
            let other = (0..made.setup.bodies.len()).filter(far).nth(seed as usize % 3)?;
            for source in &mut made.setup.sources {
                if matches!(source.at, SourceAt::Body(b) if b == culprit) {
                    source.at = SourceAt::Body(other);
                }
            }
        }
    }
    if seed.is_multiple_of(2) {
        // The camera was put back a little elsewhere: three pixels to the side.
        let shift = nalgebra::Matrix3::new(1.0, 0.0, 3.0, 0.0, 1.0, -2.0, 0.0, 0.0, 1.0);
        made.setup.camera.image_from_board = shift * made.setup.camera.image_from_board;
    }
    made.simulated = simulate(&made.setup, seed + 500_000);
    Some(made)
}

fn print_table(told: &[(Story, Option<VerdictKind>, u64)]) {
    const KINDS: [VerdictKind; 5] = [
        VerdictKind::Cleared,
        VerdictKind::StillThere,
        VerdictKind::Moved,
        VerdictKind::GoneWithoutRepair,
        VerdictKind::CannotTell,
    ];
    let mut counts: BTreeMap<Story, [usize; 5]> = BTreeMap::new();
    for (story, verdict, _) in told {
        if let Some(k) = verdict.and_then(|v| KINDS.iter().position(|k| *k == v)) {
            counts.entry(*story).or_default()[k] += 1;
        }
    }
    println!("simulated pairs; what happened against the verdict");
    print!("{:<14}{:>7}", "", "pairs");
    KINDS.iter().for_each(|k| print!("{:>24}", k.words()));
    println!();
    for (story, row) in &counts {
        print!("{:<14}{:>7}", format!("{story:?}"), row.iter().sum::<usize>());
        row.iter().for_each(|n| print!("{n:>24}"));
        println!();
    }
    let share = |wrong: usize, of: usize| 100.0 * wrong as f64 / of.max(1) as f64;
    let row = |s: Story| counts.get(&s).copied().unwrap_or_default();
    let gone = |r: [usize; 5]| r[0] + r[3];
    let total = |r: [usize; 5]| r.iter().sum::<usize>();
    let (untouched, moved) = (row(Story::Untouched), row(Story::Moved));
    let (repaired, healed, loose) = (row(Story::Repaired), row(Story::HealedItself), row(Story::LooseLeads));
    let faulty = [untouched, moved, loose];
    let wrong_gone: usize = faulty.iter().map(|r| gone(*r)).sum();
    let of: usize = faulty.iter().map(|r| total(*r)).sum();
    println!("wrong \"cleared\": {wrong_gone} of {of}, {:.2} % (at most 1)", share(wrong_gone, of));
    let all: usize = counts.values().map(|r| total(*r)).sum();
    let open: usize = counts.values().map(|r| r[4]).sum();
    println!("\"cannot tell\": {open} of {all}; not compared at all: {}", told.len() - all);
    let wrong_still = repaired[1] + healed[1] + moved[1];
    println!(
        "wrong \"still there\": {:.2} % (at most 2)",
        share(wrong_still, total(repaired) + total(healed) + total(moved))
    );
    for (story, verdict, seed) in told {
        let right = match (story, verdict) {
            (_, None | Some(VerdictKind::CannotTell)) => true,
            (Story::Repaired, v) => *v == Some(VerdictKind::Cleared),
            (Story::HealedItself, v) => *v == Some(VerdictKind::GoneWithoutRepair),
            (Story::Untouched, v) => *v == Some(VerdictKind::StillThere),
            (Story::Moved, v) => *v == Some(VerdictKind::Moved),
            (Story::LooseLeads, _) => false,
        };
        if !right {
            println!("seed {seed}: {story:?}, called {:?}", verdict.map(VerdictKind::words));
        }
    }
}
