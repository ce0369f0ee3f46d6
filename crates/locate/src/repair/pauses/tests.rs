//! Pauses that were put in are found; ordinary recordings have none.

use joulemark_frames::{CountsLaw, Samples};
use ndarray::s;
use rayon::prelude::*;

use super::*;
use crate::{
    repair::{Pose, film::Shot},
    simulate::{
        proving::{self, Disturbance, Kind},
        scenario,
    },
};

fn film(seed: u64, frames: usize, rise_k: f64) -> (Stack, Timeline) {
    let shot = Shot { width: 160, height: 120, frames, before: frames / 3, rise_k, ..Shot::default() };
    shot.film(seed, &vec![Pose::default(); frames])
}

/// Repeats frame 19 in 20..25 (with or without dither) and lifts all from 25 on by `counts`.
fn pause(stack: &Stack, counts: u16, dither: bool) -> Stack {
    let Samples::U16(mut samples) = stack.samples().clone() else { unreachable!() };
    let held = samples.slice(s![19, .., ..]).to_owned();
    for t in 20..25_usize {
        let mut frame = held.clone();
        if dither {
            frame
                .indexed_iter_mut()
                .for_each(|((y, x), v): ((usize, usize), _)| *v += ((7 * y + 3 * x + 5 * t) % 2) as u16);
        }
        samples.slice_mut(s![t, .., ..]).assign(&frame);
    }
    samples.slice_mut(s![25.., .., ..]).mapv_inplace(|v| v + counts);
    Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN)
}

#[test]
fn repeats_and_their_jump_are_found_with_and_without_dither() {
    let (stack, timeline) = film(1, 60, 5.0);
    for dither in [false, true] {
        let found = find(&pause(&stack, 12, dither), &timeline);
        assert_eq!(found.repeated, [20, 21, 22, 23, 24], "dither {dither}");
        assert_eq!(found.jumps, [25], "dither {dither}");
        let did = found.repaired().unwrap().did;
        assert_eq!(
            did,
            "5 frames that only repeated the one before were left out; the jump of the whole picture at frame 25 was \
             fitted beside the rise"
        );
    }
    assert_eq!(find(&pause(&stack, 0, false), &timeline).jumps, Vec::<usize>::new());
}

#[test]
fn a_jump_without_repeats_is_found() {
    let (stack, timeline) = film(2, 60, 5.0);
    let Samples::U16(mut samples) = stack.samples().clone() else { unreachable!() };
    samples.slice_mut(s![33.., .., ..]).mapv_inplace(|v| v - 15);
    let found = find(&Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN), &timeline);
    assert_eq!(found, Pauses { repeated: Vec::new(), jumps: vec![33] });
}

#[test]
fn every_frame_shown_twice_loses_its_doubles() {
    let (stack, mut timeline) = film(3, 60, 1.0);
    let doubled = stack.select(&(0..60).map(|t| t / 2).collect::<Vec<_>>());
    timeline.inject_from(20);
    assert_eq!(find(&doubled, &timeline).repeated, (0..30).map(|t| 2 * t + 1).collect::<Vec<_>>());
}

#[test]
fn a_recording_without_noise_is_not_a_pause() {
    let samples =
        ndarray::Array3::from_shape_fn((60, 30, 40), |(t, y, x)| (30_000 + x + y + t.saturating_sub(20)) as u16);
    let mut timeline = Timeline::steady(60, 9.0);
    timeline.inject_from(20);
    assert_eq!(
        find(&Stack::new(Samples::U16(samples), CountsLaw::CENTIKELVIN), &timeline).repeated,
        Vec::<usize>::new()
    );
}

/// Twelve seeds of each practice case, strong faults among them: drift, blotches and the onset are no pause.
#[test]
fn practice_cases_have_no_pause() {
    for name in scenario::NAMES {
        let wrong: Vec<_> = (0..12_u64)
            .into_par_iter()
            .filter_map(|seed| {
                let take = scenario::build(name, seed)?.simulated.take;
                let found = find(&take.stack, &take.timeline);
                (found != Pauses::default()).then_some((seed, found))
            })
            .collect();
        assert!(wrong.is_empty(), "{name}: {wrong:?}");
    }
}

/// The proving run's pauses (jumps of 0.1 to 1 K, a new pattern afterwards) and its other disturbances.
#[test]
#[ignore = "takes minutes; prints a table"]
fn proving_boards() {
    for what in Disturbance::ALL {
        let (mut right, mut jumps, mut wrong) = (0, 0, Vec::new());
        for seed in 0..24 {
            let board = proving::build(Kind::Disturbed(what), seed);
            let take = &board.simulated.take;
            let found = find(&take.stack, &take.timeline);
            let pauses = &board.setup.disturbances.pauses;
            let repeated: Vec<usize> = pauses.iter().flat_map(|p| p.from_frame..p.from_frame + p.repeats).collect();
            let first: Vec<usize> = pauses.iter().map(|p| p.from_frame + p.repeats).collect();
            right += usize::from(found.repeated == repeated);
            jumps += usize::from(found.jumps == first);
            if found.jumps != first || found.repeated != repeated {
                wrong.push((seed, found.repeated.len(), repeated.len(), found.jumps, first));
            }
        }
        assert!(right == 24 && jumps >= 23, "{what:?}: {wrong:?}");
        println!("{what:?}: repeats right in {right} of 24, jumps in {jumps}; {wrong:?}");
    }
}
