//! A small run of simulated repairs with fixed seeds and small pictures: floors, not figures. The figures come from
//! `cargo run --release -p joulemark-locate --example repair_pairs -- 360`.

use joulemark_frames::NoProgress;
use joulemark_locate::{
    Settings,
    align::Alignment,
    locate,
    repair_check::{RepairCheck, Side, VerdictKind, check},
    simulate::proving::{
        ProvingBoard,
        pair::{Pair, Story, pair, seeds},
    },
};
use rayon::prelude::*;

/// Boards of no other run.
const FIRST_SEED: u64 = 935_000;
/// Of each story.
const EACH: usize = 2;

fn judged(Pair { before, after, bench, .. }: &Pair) -> RepairCheck {
    let answer = |made: &ProvingBoard| {
        let alignment = Alignment::fit(&made.simulated.pairs).expect("marks within a pixel align");
        let located = locate(&made.simulated.take, &made.scene(&alignment), &Settings::default(), &NoProgress);
        (alignment, located.expect("a sound take can be located"))
    };
    let ((ab, lb), (aa, la)) = (answer(before), answer(after));
    let (sb, sa) = (before.scene(&ab), after.scene(&aa));
    check(
        &Side { located: &lb, scene: &sb, timeline: &before.simulated.take.timeline },
        &Side { located: &la, scene: &sa, timeline: &after.simulated.take.timeline },
        bench,
    )
}

/// Wanted are at most 1 % wrong "cleared" among shorted rails and 2 % wrong "still there" among the others. Of 12 and 10 pairs more than none
/// and more than one have chances of 11 and 2 % at these rates; the seeds are fixed, so that a change of the method has to look at it.
#[test]
fn repairs_are_judged_right_or_not_at_all() {
    let found: Vec<(u64, Story, RepairCheck)> = seeds(FIRST_SEED, 160)
        .take(EACH * Story::ALL.len())
        .collect::<Vec<_>>()
        .into_par_iter()
        .enumerate()
        .filter_map(|(i, seed)| {
            let story = Story::ALL[i % Story::ALL.len()];
            Some((seed, story, judged(&pair(story, seed)?)))
        })
        .collect();
    let say = |wanted: &dyn Fn(Story, VerdictKind) -> bool| -> Vec<String> {
        let those = found.iter().filter(|(_, story, check)| wanted(*story, check.verdict.kind));
        those.map(|(seed, story, check)| format!("seed {seed}, {story:?}: {:?}", check.verdict)).collect()
    };
    assert!(found.len() >= EACH * Story::ALL.len() - 2, "{} pairs", found.len());
    let gone = |kind| matches!(kind, VerdictKind::Cleared | VerdictKind::GoneWithoutRepair);
    let wrong_gone = say(&|story, kind| story.shorted() && gone(kind));
    assert!(wrong_gone.is_empty(), "{wrong_gone:#?}");
    let wrong_still = say(&|story, kind| !story.same_part() && kind == VerdictKind::StillThere);
    assert!(wrong_still.len() <= 1, "{wrong_still:#?}");
    // And something is told: half of the pairs that can be told are, and told right.
    let right = say(&|story, kind| story.right() == Some(kind));
    let can = say(&|story, _| story.right().is_some());
    assert!(2 * right.len() >= can.len(), "{} of {} told right", right.len(), can.len());
}
