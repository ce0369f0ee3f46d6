//! Verdicts by hand, and takes of the simulator.

use joulemark_frames::NoProgress;
use nalgebra::Point2;

use super::{judge::Known, *};
use crate::{
    Settings,
    align::Alignment,
    locate,
    simulate::{
        SourceAt,
        proving::{Kind, ProvingBoard, Tier, build},
        simulate,
    },
};

fn electrical(ratio: Option<f64>) -> Electrical {
    Electrical {
        amps: (Some(1.0), ratio),
        volts: (Some(0.3), Some(0.3)),
        ratio,
        scaling: match ratio {
            Some(r) if r < 0.05 => Scaling::NoCurrent,
            Some(r) => Scaling::ToPower(1.0 / r),
            None => Scaling::Unknown,
        },
    }
}

/// A place whose own heat is what it warms by: the ring around it is cold.
fn site(before: f64, after: f64, se: f64) -> SiteRise {
    warmed(before, after, 0.0, se)
}

/// Of the rise after, so much is the ring's too.
fn warmed(before: f64, after: f64, ring_after: f64, se: f64) -> SiteRise {
    let own = |value: f64, ring: f64| Some(Measured { value, se: se.hypot(0.08 * ring) });
    SiteRise {
        at_mm: Point2::new(10.0, 8.0),
        sigma_mm: 0.5,
        before,
        before_se: se,
        after,
        after_se: se,
        own_before: own(before, 0.0),
        own_after: own(after - ring_after, ring_after),
    }
}

fn verdict(site: Option<SiteRise>, ratio: Option<f64>, bench: &Bench, moved: bool) -> Verdict {
    told(site, ratio, bench, moved, false)
}

fn told(site: Option<SiteRise>, ratio: Option<f64>, bench: &Bench, moved: bool, own_spot: bool) -> Verdict {
    let moved = moved.then(|| (0, Some("C7".to_owned())));
    let electrical = electrical(ratio);
    judge::judge(&Known {
        warm_before: false,
        site: site.as_ref(),
        own_spot,
        electrical: &electrical,
        bench,
        moved: moved.as_ref(),
        heat: site.is_some(),
    })
}

fn repaired() -> Bench {
    Bench { repaired: vec!["C12".into()], ..Bench::default() }
}

/// The rail reads as it should after.
fn measured() -> Bench {
    Bench { ohms_before: Some(0.3), ohms_after: Some(12e3), ..repaired() }
}

/// By hand: the bound is 5 % of 2 K, 0.1 K; one-sided 95 % is 1.645 standard errors.
#[test]
fn the_equivalence_test_keeps_to_its_bounds() {
    let of = |after| verdict(Some(site(2.0, after, 0.02)), Some(0.3), &repaired(), false);
    // 0.06 + 1.645 x 0.02 = 0.0929 lies below 0.1, 0.07 + 0.0329 does not.
    assert_eq!(of(0.06).kind, VerdictKind::Cleared);
    assert_eq!(of(0.07).kind, VerdictKind::CannotTell);
    // Warm, but of its own heat less than a quarter is left: (0.46 + 0.0329) / 2 = 24.6 %, with 0.48 K 25.6 %.
    assert_eq!(of(0.46).kind, VerdictKind::CannotTell);
    assert_eq!(of(0.48).kind, VerdictKind::StillThere);
    let (low, high) = of(0.06).after_between.unwrap();
    assert!((low - 0.027_103).abs() < 1e-6 && (high - 0.092_897).abs() < 1e-6, "{low} {high}");
    assert!((of(0.06).bound.unwrap() - 0.1).abs() < 1e-12);
    // Colder than before by more than the bound: no repair does that. With a spot elsewhere it would be a cold place next to a warm one.
    let cooled = verdict(Some(SiteRise { own_after: None, ..site(2.0, -0.5, 0.02) }), Some(0.3), &repaired(), false);
    assert_eq!(cooled.kind, VerdictKind::CannotTell);
}

#[test]
fn nothing_is_cleared_for_want_of_evidence() {
    // A rise before that hardly left its noise.
    let faint = verdict(Some(site(0.1, 0.0, 0.05)), Some(0.3), &repaired(), false);
    assert_eq!(faint.kind, VerdictKind::CannotTell);
    // Cold, but a place that warms like this one would hardly show either: whatever draws a third of the current may be out of sight.
    let hidden = verdict(Some(site(2.0, 0.0, 0.12)), Some(0.3), &repaired(), false);
    assert_eq!(hidden.kind, VerdictKind::CannotTell);
    assert!(hidden.because.last().unwrap().contains("too little to be seen"), "{hidden:?}");
    // Neither log nor meter.
    assert_eq!(verdict(None, None, &repaired(), false).kind, VerdictKind::CannotTell);
    // Cold there, but the current still flows.
    let elsewhere = verdict(Some(site(2.0, 0.0, 0.02)), Some(0.95), &repaired(), false);
    assert_eq!(elsewhere.kind, VerdictKind::CannotTell);
    assert!(elsewhere.because.last().unwrap().contains("other face"), "{elsewhere:?}");
}

#[test]
fn a_rail_without_current_is_judged_by_current_and_meter() {
    let cold = Some(site(2.0, 0.0, 0.02));
    assert_eq!(verdict(cold, Some(0.01), &measured(), false).kind, VerdictKind::Cleared);
    let untouched = verdict(cold, Some(0.01), &Bench { repaired: Vec::new(), ..measured() }, false);
    assert_eq!(untouched.kind, VerdictKind::GoneWithoutRepair);
    assert_eq!(verdict(None, Some(0.01), &measured(), false).kind, VerdictKind::Cleared);
    // Leads that touch nothing draw nothing either: without a reading nothing is told.
    let loose = verdict(cold, Some(0.01), &repaired(), false);
    assert_eq!(loose.kind, VerdictKind::CannotTell);
    assert!(loose.because.last().unwrap().contains("touch nothing"), "{loose:?}");
    let reads_short = Bench { ohms_before: Some(0.3), ohms_after: Some(0.31), ..repaired() };
    assert_eq!(verdict(cold, Some(0.01), &reads_short, false).kind, VerdictKind::CannotTell);
    let warm = Some(site(2.0, 1.0, 0.02));
    assert_eq!(verdict(warm, Some(0.01), &repaired(), false).kind, VerdictKind::CannotTell);
}

#[test]
fn another_place_that_warms_is_moved() {
    let verdict = verdict(Some(site(2.0, 0.01, 0.02)), Some(0.9), &repaired(), true);
    assert_eq!(verdict.kind, VerdictKind::Moved);
    assert!(verdict.because.iter().any(|b| b.contains("C7")), "{verdict:?}");
}

/// Heat of a short elsewhere that spreads to the old place, 0.6 K of it: what is left less the ring is nothing.
#[test]
fn heat_that_spread_from_elsewhere_is_not_still_there() {
    let spread = Some(warmed(2.0, 0.6, 0.58, 0.02));
    assert_eq!(verdict(spread, Some(0.9), &repaired(), true).kind, VerdictKind::Moved);
    // A hot spot of its own there, or as much of its own heat: both places warm.
    assert_eq!(told(spread, Some(0.9), &repaired(), true, true).kind, VerdictKind::StillThere);
    let both = Some(warmed(2.0, 1.8, 0.4, 0.02));
    assert_eq!(verdict(both, Some(0.9), &repaired(), true).kind, VerdictKind::StillThere);
    // A third of it may be the flank of the other: 0.9 K less 0.35 K, the ring's share of error 0.03 K.
    let flank = verdict(Some(warmed(2.0, 0.8, 0.35, 0.02)), Some(0.9), &repaired(), true);
    assert_eq!(flank.kind, VerdictKind::CannotTell, "{flank:?}");
    assert!(flank.because.last().unwrap().contains("nearer"), "{flank:?}");
    // With no other place in sight the same heat is the site's.
    assert_eq!(
        verdict(Some(warmed(2.0, 0.8, 0.35, 0.02)), Some(0.9), &repaired(), false).kind,
        VerdictKind::StillThere
    );
    // Warm all around, from no place that is seen: the other face.
    let behind = verdict(spread, Some(0.9), &repaired(), false);
    assert_eq!(behind.kind, VerdictKind::CannotTell);
    assert!(behind.because.last().unwrap().contains("other face"), "{behind:?}");
    // Without the ring in the picture a place next to another source cannot be told from it.
    let no_ring = |s: SiteRise| Some(SiteRise { own_after: None, ..s });
    let edge = verdict(no_ring(warmed(2.0, 0.6, 0.0, 0.02)), Some(0.9), &repaired(), true);
    assert_eq!(edge.kind, VerdictKind::CannotTell, "{edge:?}");
}

/// What is left of the current warms another place: a healthy part or a second short, and only the meter knows.
#[test]
fn a_second_short_and_a_healthy_load_are_told_apart_by_the_meter() {
    let cold = Some(site(2.0, 0.0, 0.02));
    let told = verdict(cold, Some(0.3), &measured(), true);
    assert_eq!(told.kind, VerdictKind::Cleared);
    assert!(told.because.iter().any(|b| b.contains("C7") && b.contains("good board")), "{told:?}");
    let low = Bench { ohms_before: Some(0.3), ohms_after: Some(1.0), ..repaired() };
    assert_eq!(verdict(cold, Some(0.3), &low, true).kind, VerdictKind::Moved);
    let nobody = verdict(cold, Some(0.3), &repaired(), true);
    assert_eq!(nobody.kind, VerdictKind::CannotTell);
    assert!(nobody.because.last().unwrap().contains("measure"), "{nobody:?}");
    // Without another place in sight a rail that reads low is not cleared.
    assert_eq!(verdict(cold, Some(0.3), &low, false).kind, VerdictKind::CannotTell);
    // Clear by the meter, and most of the current flows all the same: not at these volts.
    let silicon = verdict(cold, Some(0.9), &measured(), true);
    assert_eq!(silicon.kind, VerdictKind::CannotTell);
    assert!(silicon.because.last().unwrap().contains("silicon"), "{silicon:?}");
}

/// A place that warmed before already is not where the short went: a load, or a second short all along.
#[test]
fn a_place_that_warmed_before_is_no_move_unless_the_meter_reads_low() {
    let cold = Some(site(2.0, 0.0, 0.02));
    let electrical = electrical(Some(0.6));
    let c7 = (0, Some("C7".to_owned()));
    let of = |bench: &Bench| {
        judge::judge(&Known {
            site: cold.as_ref(),
            own_spot: false,
            electrical: &electrical,
            bench,
            moved: Some(&c7),
            warm_before: true,
            heat: true,
        })
    };
    assert_eq!(of(&repaired()).kind, VerdictKind::CannotTell);
    let second = of(&Bench { ohms_before: Some(0.3), ohms_after: Some(0.5), ..repaired() });
    assert_eq!(second.kind, VerdictKind::Moved);
    assert!(second.because.iter().any(|b| b.contains("second short")), "{second:?}");
}

/// What the picture does not tell, the meter tells only where no other place warms.
#[test]
fn a_meter_names_no_place() {
    let low = Bench { ohms_before: Some(0.3), ohms_after: Some(0.3), ..repaired() };
    let unclear = Some(SiteRise { own_after: None, ..site(2.0, 0.12, 0.02) });
    assert_eq!(verdict(unclear, Some(0.95), &low, false).kind, VerdictKind::StillThere);
    assert_eq!(verdict(unclear, Some(0.95), &low, true).kind, VerdictKind::CannotTell);
    assert_eq!(verdict(None, None, &low, false).kind, VerdictKind::StillThere);
    let cold = verdict(Some(site(2.0, 0.0, 0.02)), None, &low, false);
    assert_eq!(cold.kind, VerdictKind::CannotTell, "a cold place is not where the short still is: {cold:?}");
}

#[test]
fn a_meter_that_contradicts_itself_decides_nothing() {
    let bench = Bench {
        ohms_before: Some(0.3),
        ohms_after: Some(5000.0),
        diode_before: Some(0.002),
        diode_after: Some(0.003),
        ..repaired()
    };
    assert_eq!(verdict(None, None, &bench, false).kind, VerdictKind::CannotTell);
    for moved in [false, true] {
        let cold = verdict(Some(site(2.0, 0.0, 0.02)), Some(0.3), &bench, moved);
        assert_eq!(cold.kind, VerdictKind::CannotTell);
        assert!(cold.because.last().unwrap().contains("contradict"), "{cold:?}");
    }
    let open = Bench { ohms_before: Some(0.3), ohms_after: Some(f64::INFINITY), ..repaired() };
    let told = verdict(Some(site(2.0, 0.0, 0.02)), None, &open, false);
    assert_eq!(told.kind, VerdictKind::Cleared);
    assert!(told.because.iter().any(|b| b.starts_with("OL ohm after")), "{told:?}");
}

fn answered(made: &ProvingBoard) -> (Alignment, Located) {
    let alignment = Alignment::fit(&made.simulated.pairs).unwrap();
    let located = locate(&made.simulated.take, &made.scene(&alignment), &Settings::default(), &NoProgress).unwrap();
    (alignment, located)
}

/// The takes of a simulated board before and after, compared.
fn compared(before: &ProvingBoard, after: &ProvingBoard, bench: &Bench) -> RepairCheck {
    let ((ab, lb), (aa, la)) = (answered(before), answered(after));
    let (sb, sa) = (before.scene(&ab), after.scene(&aa));
    check(
        &Side { located: &lb, scene: &sb, timeline: &before.simulated.take.timeline },
        &Side { located: &la, scene: &sa, timeline: &after.simulated.take.timeline },
        bench,
    )
}

/// A small board with a fault of 1 to 5 K.
fn board() -> ProvingBoard {
    build(Kind::Tier(Tier::Medium), 920_003)
}

/// The same board once more, with its sources changed and a leak of half a milliamp where nothing is left.
fn again(made: &ProvingBoard, change: impl Fn(&mut ProvingBoard)) -> ProvingBoard {
    let mut after = made.clone();
    change(&mut after);
    if after.setup.sources.is_empty() {
        let t = &mut after.setup.timeline;
        for i in 0..t.len() {
            if t.injecting[i] {
                t.amps[i] = Some(0.0005);
            }
        }
    }
    after.simulated = simulate(&after.setup, made.seed + 1);
    after
}

#[test]
fn a_repaired_board_is_cleared_and_an_untouched_one_is_not() {
    let before = board();
    let cleared = compared(&before, &again(&before, |b| b.setup.sources.clear()), &measured());
    assert_eq!(cleared.verdict.kind, VerdictKind::Cleared, "{:?}", cleared.verdict);
    assert_eq!(cleared.electrical.scaling, Scaling::NoCurrent);
    let same = compared(&before, &again(&before, |_| {}), &repaired());
    assert_eq!(same.verdict.kind, VerdictKind::StillThere, "{:?}", same.verdict);
    // The same heat twice: equal to within its errors, and no difference anywhere near the site.
    let site = same.site.unwrap();
    assert!((site.after - site.before).abs() < 4.0 * site.after_se.hypot(site.before_se), "{site:?}");
    let difference = same.difference.unwrap();
    assert_eq!(difference.rise.dim(), difference.se.dim());
    let culprit = before.simulated.truth.part.clone().unwrap();
    let changed = compared(&before, &again(&before, |b| b.setup.sources.clear()), &repaired());
    let place = changed.parts.iter().position(|p| p.part == culprit).unwrap();
    assert!(place < 3, "{culprit} changes as number {place}: {:?}", &changed.parts[..3]);
}

#[test]
fn a_fault_that_moved_is_called_moved() {
    let before = board();
    let culprit = before.setup.culprit.unwrap();
    let at = before.setup.bodies[culprit].footprint.centre_mm;
    let far = (0..before.setup.bodies.len())
        .max_by(|a, b| {
            let d = |i: usize| (before.setup.bodies[i].footprint.centre_mm - at).norm();
            d(*a).total_cmp(&d(*b))
        })
        .unwrap();
    let after = again(&before, |b| {
        for source in &mut b.setup.sources {
            source.at = SourceAt::Body(far);
        }
    });
    let moved = compared(&before, &after, &repaired());
    assert_eq!(moved.verdict.kind, VerdictKind::Moved, "{:?}", moved.verdict);
    // Both spots stand in the table, each warm in its own take.
    let change = |s: &SpotRise| s.rise.map(|r| r.change()).unwrap();
    let old = moved.spots.iter().find(|s| s.index_before.is_some() && s.index_after.is_none()).unwrap();
    let new = moved.spots.iter().find(|s| s.index_before.is_none()).unwrap();
    assert!(change(old).value < -3.0 * change(old).se && change(new).value > 3.0 * change(new).se, "{:?}", moved.spots);
    assert_eq!(new.part, moved.moved.unwrap().1);
}

/// The same powered board twice is alike; with the fault on one of them its part is named, and no repair is claimed.
#[test]
fn a_good_board_shows_which_part_warms_more() {
    let faulty = board();
    let culprit = faulty.simulated.truth.part.clone().unwrap();
    let own = faulty.setup.culprit.unwrap();
    // The good board: a tenth of the heat in that part, as a healthy one takes.
    let good = again(&faulty, |b| {
        for source in &mut b.setup.sources {
            if matches!(source.at, SourceAt::Body(body) if body == own) {
                source.watts *= 0.1;
            }
        }
    });
    let twin = again(&faulty, |_| {});
    let answers = [&faulty, &good, &twin].map(answered);
    let scenes = [faulty.scene(&answers[0].0), good.scene(&answers[1].0), twin.scene(&answers[2].0)];
    let takes = [&faulty, &good, &twin].map(|b| &b.simulated.take.timeline);
    let side = |i: usize| Side { located: &answers[i].1, scene: &scenes[i], timeline: takes[i] };
    let found = against_good(&side(0), &side(1));
    let more: Vec<&str> = found.parts.iter().filter(|p| p.more).map(|p| p.part.as_str()).collect();
    assert_eq!(more.first(), Some(&culprit.as_str()), "{more:?}: {:?}", &found.parts[..3]);
    assert!(found.parts[0].excess.value > 3.0 * found.parts[0].excess.se);
    let report = Report::against_good(&found, "inject 1", "good");
    assert_eq!((report.verdict.as_str(), report.against_good.len()), ("against a good board", found.parts.len()));
    assert!(found.told.iter().any(|t| t.contains(&culprit)) && found.told.iter().any(|t| t.contains("no repair")));
    let alike = against_good(&side(0), &side(2));
    assert!(alike.parts.iter().all(|p| !p.more), "{:?}", alike.told);
    // Other volts are refused with both.
    let mut doubled = takes[1].clone();
    doubled.volts.iter_mut().flatten().for_each(|v| *v *= 2.0);
    let refused = against_good(&side(0), &Side { timeline: &doubled, ..side(1) });
    assert!(refused.parts.is_empty() && refused.notes.iter().any(|n| n.contains("same volts")), "{:?}", refused.notes);
}

#[test]
fn faces_and_units_that_differ_are_refused_with_the_reason() {
    let before = board();
    let mut other = again(&before, |_| {});
    other.simulated.take.unit = Unit::Relative;
    let refused = compared(&before, &other, &repaired());
    assert!(refused.site.is_none() && refused.notes.iter().any(|n| n.contains("temperatures")), "{:?}", refused.notes);
    assert_ne!(refused.verdict.kind, VerdictKind::Cleared);
}

#[test]
fn the_document_carries_the_verdict_and_its_numbers() {
    let before = board();
    let check = compared(&before, &again(&before, |_| {}), &repaired());
    let report = Report::new(&check, "inject 1", "inject 2");
    let text = serde_json::to_string(&report).unwrap();
    let read: Report = serde_json::from_str(&text).unwrap();
    assert_eq!((read.schema.as_str(), read.verdict.as_str()), ("joulemark.compare/1", "still there"));
    assert!(read.site.unwrap().bound_k.unwrap() > 0.0 && read.parts.len() > 5);
}
