//! Simulated takes before and after a repair: how often the verdict is right.
//!
//! `cargo run --release -p joulemark-locate --example repair_pairs -- 360` prints tables; every figure is a simulated one. A first
//! seed and the most columns of a picture may follow. The stories are those of `simulate::proving::pair`.

use std::{
    collections::BTreeMap,
    fmt::Debug,
    io::Write,
    sync::atomic::{AtomicUsize, Ordering},
};

use joulemark_frames::NoProgress;
use joulemark_locate::{
    Located, Settings,
    align::Alignment,
    locate,
    repair_check::{RepairCheck, Side, VerdictKind, check},
    simulate::proving::{
        ProvingBoard, Tier,
        pair::{Filmed, Pair, Story, pair, seeds},
    },
};
use rayon::prelude::*;

/// Boards of no other run.
const FIRST_SEED: u64 = 930_000;
/// Of the take before; larger pictures take the room of several others and say the same. Other cameras have up to 320 columns.
const MOST_COLUMNS: usize = 160;

const KINDS: [VerdictKind; 5] = [
    VerdictKind::Cleared,
    VerdictKind::StillThere,
    VerdictKind::Moved,
    VerdictKind::GoneWithoutRepair,
    VerdictKind::CannotTell,
];

/// A pair that was judged.
struct Told {
    seed: u64,
    story: Story,
    filmed: Filmed,
    tier: Tier,
    /// Whether somebody measured.
    measured: bool,
    check: RepairCheck,
}

fn main() {
    let mut args = std::env::args().skip(1);
    let pairs: usize = args.next().and_then(|a| a.parse().ok()).unwrap_or(360);
    let first: u64 = args.next().and_then(|a| a.parse().ok()).unwrap_or(FIRST_SEED);
    let most_columns: usize = args.next().and_then(|a| a.parse().ok()).unwrap_or(MOST_COLUMNS);
    let done = AtomicUsize::new(0);
    let told: Vec<Option<Told>> = seeds(first, most_columns)
        .take(pairs)
        .collect::<Vec<_>>()
        .into_par_iter()
        .enumerate()
        .map(|(i, seed)| {
            let told = judged(Story::ALL[i % Story::ALL.len()], seed);
            eprint!("\r{} of {pairs} pairs ", done.fetch_add(1, Ordering::Relaxed) + 1);
            let _ = std::io::stderr().flush();
            told
        })
        .collect();
    eprintln!();
    let left_out = told.iter().filter(|t| t.is_none()).count();
    let told: Vec<Told> = told.into_iter().flatten().collect();
    println!("simulated pairs; what happened against the verdict ({left_out} boards had no room for their story)");
    table("", &told, |t| t.story);
    println!();
    table("filmed", &told, |t| t.filmed);
    println!();
    table("rise", &told, |t| format!("{:?}", t.tier));
    println!();
    table("rail measured", &told, |t| t.measured);
    println!();
    rates(&told);
    for t in &told {
        if t.story.right() != Some(t.check.verdict.kind) {
            let what = format!("{:?}, {:?}, {:?}", t.story, t.filmed, t.tier);
            println!("seed {}: {what}: {}", t.seed, t.check.verdict.kind.words());
            t.check.verdict.because.iter().for_each(|b| println!("    {b}"));
            if t.check.verdict.kind != VerdictKind::CannotTell {
                println!("    site {:?}", t.check.site);
                t.check.spots.iter().for_each(|s| println!("    {s:?}"));
            }
        }
    }
}

fn judged(story: Story, seed: u64) -> Option<Told> {
    let Pair { filmed, tier, before, after, bench, .. } = pair(story, seed)?;
    let answer = |made: &ProvingBoard| -> Option<(Alignment, Located)> {
        let alignment = Alignment::fit(&made.simulated.pairs).ok()?;
        let located = locate(&made.simulated.take, &made.scene(&alignment), &Settings::default(), &NoProgress).ok()?;
        Some((alignment, located))
    };
    let ((ab, lb), (aa, la)) = (answer(&before)?, answer(&after)?);
    let (sb, sa) = (before.scene(&ab), after.scene(&aa));
    let side = |located, scene, timeline| Side { located, scene, timeline };
    let b = side(&lb, &sb, &before.simulated.take.timeline);
    let a = side(&la, &sa, &after.simulated.take.timeline);
    let measured = bench.ohms_after.is_some() || bench.diode_after.is_some();
    Some(Told { seed, story, filmed, tier, measured, check: check(&b, &a, &bench) })
}

/// How often each verdict was given, by something that the pairs differ in.
fn table<K: Ord + Debug>(what: &str, told: &[Told], by: impl Fn(&Told) -> K) {
    let mut counts: BTreeMap<K, [usize; 5]> = BTreeMap::new();
    for t in told {
        let row = counts.entry(by(t)).or_default();
        KINDS.iter().zip(row).filter(|(k, _)| **k == t.check.verdict.kind).for_each(|(_, n)| *n += 1);
    }
    print!("{what:<18}{:>6}", "pairs");
    KINDS.iter().for_each(|k| print!("{:>23}", k.words()));
    println!();
    for (key, row) in &counts {
        print!("{:<18}{:>6}", format!("{key:?}").trim_matches('"'), row.iter().sum::<usize>());
        row.iter().for_each(|n| print!("{n:>23}"));
        println!();
    }
}

fn rates(told: &[Told]) {
    let rate = |name: &str, most: &str, among: &dyn Fn(Story) -> bool, wrong: &[VerdictKind]| {
        let all: Vec<&Told> = told.iter().filter(|t| among(t.story)).collect();
        let n = all.iter().filter(|t| wrong.contains(&t.check.verdict.kind)).count();
        println!("{name}: {n} of {}, {:.2} %{most}", all.len(), 100.0 * n as f64 / all.len().max(1) as f64);
    };
    let gone = [VerdictKind::Cleared, VerdictKind::GoneWithoutRepair];
    rate("wrong \"cleared\"", " (at most 1)", &Story::shorted, &gone);
    rate("wrong \"still there\"", " (at most 2)", &|s| !s.same_part(), &[VerdictKind::StillThere]);
    rate("wrong \"moved\"", "", &|s| s.right() != Some(VerdictKind::Moved), &[VerdictKind::Moved]);
    let tellable = |s: Story| s.right().is_some();
    rate("\"cannot tell\" where it can be told", "", &tellable, &[VerdictKind::CannotTell]);
    let open = |t: &&Told| t.check.verdict.kind == VerdictKind::CannotTell;
    let read: Vec<&Told> = told.iter().filter(|t| t.measured && tellable(t.story)).collect();
    println!("the same where the rail was measured: {} of {}", read.iter().filter(|t| open(t)).count(), read.len());
}
