use proptest::prelude::*;

use super::*;

fn points(values: &[(f64, f64, Option<f64>)]) -> Vec<SurveyPoint> {
    let point = |&(x_mm, y_mm, millivolts): &(f64, f64, Option<f64>)| SurveyPoint {
        face: "top".into(),
        x_mm,
        y_mm,
        millivolts,
    };
    values.iter().map(point).collect()
}

/// Points along a straight trace, fed at x = 0 and shorted at 50 mm, with a stub that goes on beyond. Copper by
/// IEC 60028 (1/58 ohm mm2/m at 20 C): 1 mm by 35 um has 0.4926 milliohm per millimetre.
fn trace(short_mohm: f64, amps: f64, resolution_mv: f64) -> Vec<SurveyPoint> {
    let per_mm_mohm = 1.0 / 58.0 / 0.035;
    let drop = |x_mm: f64| {
        let mv = amps * (short_mohm + per_mm_mohm * (50.0 - x_mm).max(0.0));
        (mv / resolution_mv).round() * resolution_mv
    };
    points(&[70.0, 0.0, 20.0, 50.0, 40.0, 60.0].map(|x| (x, 5.0, Some(drop(x)))))
}

#[test]
fn the_smallest_drop_is_at_the_short_and_the_stub_beyond_ties_with_it() {
    let found = surveyed(&trace(3.0, 1.0, 0.1), 1.0, 0.1).expect("a survey");
    assert_eq!(found.groups[0].points, [0, 3, 5]);
    assert!(found.groups[0].from_ohms <= 3.0e-3 && 3.0e-3 <= found.groups[0].to_ohms, "{:?}", found.groups[0]);
    let order: Vec<usize> = found.groups.iter().flat_map(|g| g.points.clone()).collect();
    assert_eq!(order, [0, 3, 5, 4, 2, 1]);
    assert!(found.notes[0].starts_with("3 points tie"), "{:?}", found.notes);
}

#[test]
fn too_coarse_a_meter_ties_all_and_says_what_helps() {
    let found = surveyed(&trace(3.0, 0.1, 10.0), 0.1, 10.0).expect("a survey");
    assert_eq!(found.groups.len(), 1);
    assert!(found.notes[0].contains("raise the current"), "{:?}", found.notes);
}

#[test]
fn an_outermost_smallest_drop_is_not_the_end() {
    let found = surveyed(&points(&[(0.0, 0.0, Some(9.0)), (10.0, 0.0, Some(6.0)), (20.0, 0.0, Some(3.0))]), 1.0, 0.1);
    assert!(found.expect("a survey").notes.iter().any(|n| n.contains("go on past it")));
}

#[test]
fn leads_the_other_way_round_and_mixed_signs_are_noticed() {
    let turned = points(&[(0.0, 0.0, Some(-9.0)), (10.0, 0.0, Some(-3.0)), (20.0, 0.0, Some(-6.0))]);
    let found = surveyed(&turned, 1.0, 0.1).expect("a survey");
    assert_eq!(found.groups[0].points, [1]);
    assert!(found.notes[0].contains("other way round"));
    let mixed = points(&[(0.0, 0.0, Some(9.0)), (10.0, 0.0, Some(-3.0)), (20.0, 0.0, Some(6.0))]);
    assert!(surveyed(&mixed, 1.0, 0.1).expect("a survey").notes[0].contains("both signs"));
}

#[test]
fn what_cannot_be_surveyed_is_refused_in_one_line() {
    let some = points(&[(0.0, 0.0, Some(1.0))]);
    let nan = points(&[(0.0, 0.0, Some(f64::NAN))]);
    for (points, amps, resolution) in
        [(&some, 0.0, 0.1), (&some, 1.01, 0.1), (&some, f64::NAN, 0.1), (&some, 1.0, 0.0), (&nan, 1.0, 0.1)]
    {
        assert_eq!(surveyed(points, amps, resolution).expect_err("refused").lines().count(), 1);
    }
    assert!(surveyed(&[], 1.0, 0.1).expect("nothing yet").groups.is_empty());
}

proptest! {
    #[test]
    fn every_measured_point_is_in_one_group_and_groups_rise(
        drops in proptest::collection::vec(proptest::option::of(0.0_f64..50.0), 0..20), amps in 0.01_f64..1.0, step in 0.01_f64..5.0,
    ) {
        let all: Vec<_> = drops.iter().enumerate().map(|(i, mv)| (i as f64, 0.0, *mv)).collect();
        let found = surveyed(&points(&all), amps, step).expect("a survey");
        let mut seen: Vec<usize> = found.groups.iter().flat_map(|g| g.points.clone()).collect();
        seen.sort_unstable();
        let measured: Vec<usize> = drops.iter().enumerate().filter_map(|(i, mv)| mv.map(|_| i)).collect();
        prop_assert_eq!(seen, measured);
        for pair in found.groups.windows(2) {
            prop_assert!(pair[1].from_mv - pair[0].from_mv > step);
        }
        for group in &found.groups {
            prop_assert!(group.from_mv <= group.to_mv && group.from_ohms <= group.to_ohms);
        }
    }
}
