use super::*;
use crate::{case::exercise::Place, exercise::TruePart};

fn most(value: f64, because: &str) -> Most {
    Most { value, because: because.into(), source: "common practice, no published source".into() }
}

fn step(volts: f64, amps: f64, seconds: f64) -> StepLimits {
    StepLimits {
        volts: most(volts, "healthy silicon stays off below this"),
        amps: most(amps, "a rail of 1.8 to 5 V"),
        seconds: most(seconds, "20 J a step"),
    }
}

/// The board of docs/exercise.md: C5 is 2 mm by 1 mm around (20, 10) on the top, V5 is faulty.
fn faulty() -> Answer {
    let steps = vec![step(0.3, 0.5, 60.0), step(0.5, 1.0, 40.0), step(0.8, 2.0, 12.5)];
    Answer {
        parts: vec![TruePart {
            designator: "C5".into(),
            face: "top".into(),
            x_mm: 20.0,
            y_mm: 10.0,
            width_mm: 2.0,
            height_mm: 1.0,
            rotation_deg: 0.0,
        }],
        rail: "V5".into(),
        rails: vec!["V5".into()],
        limits: vec![
            RailLimits { rail: "V5".into(), refused: String::new(), steps },
            RailLimits { rail: "V48".into(), refused: "the rail is above 60 V".into(), steps: Vec::new() },
        ],
        ..Answer::default()
    }
}

fn answers(volts: f64, amps: f64, seconds: f64, x_mm: f64, part: &str) -> Answers {
    Answers {
        rail: RailAnswer::Rail("V5".into()),
        volts: Some(volts),
        amps: Some(amps),
        seconds: Some(seconds),
        place: Some(Place { face: "top".into(), x_mm, y_mm: 10.0 }),
        part: part.into(),
    }
}

fn points(score: &Score) -> Vec<u32> {
    score.items.iter().map(|i| i.points).collect()
}

/// The example of docs/exercise.md, number by number: 20 + 10 + 30 + 0 + 8 = 68.
#[test]
fn the_example_worked_by_hand() {
    // The edge of C5 is at 21 mm: 23.5 mm is 2.5 mm from it, and 40 (1 - 2.5/10) = 30. Five looks are two too many.
    let scored = score(&answers(0.3, 1.0, 15.0, 23.5, "C4"), 5, &faulty());
    assert_eq!(points(&scored), [20, 10, 30, 0, 8]);
    assert_eq!(scored.points, 68);
    assert!(scored.right_rail && scored.within_limits && scored.right_part == Some(false));
    assert!((scored.distance_mm.unwrap() - 2.5).abs() < 1e-12);
    let why = |i: usize| scored.items[i].because.as_str();
    assert!(why(1).contains("Only step 2 of V5") && why(1).contains("1 A is above 0.5 A: a rail of 1.8 to 5 V."));
    assert!(why(2).contains("2.5 mm from the edge of C5") && why(3).contains("You named C4; it is C5."));
}

#[test]
fn full_points_and_none() {
    let full = score(&answers(0.3, 0.5, 60.0, 20.9, "c5"), 3, &faulty());
    assert_eq!((points(&full), full.points), (vec![20, 20, 40, 10, 10], 100));
    let none = score(&Answers::default(), 0, &faulty());
    assert_eq!((points(&none), none.points), (vec![0; 5], 0));
    assert_eq!((none.distance_mm, none.right_part, none.within_limits), (None, None, false));
}

#[test]
fn needlessly_low_counts_as_right_and_nothing_does_not() {
    let plan = |volts, amps, seconds| score(&answers(volts, amps, seconds, 20.0, ""), 0, &faulty()).items[1].clone();
    assert_eq!(plan(0.01, 0.01, 1.0).points, 20);
    assert_eq!(plan(-0.3, 0.5, 1.0).points, 20, "a negative rail is fed with swapped leads");
    for (volts, amps, seconds, says) in [
        (0.0, 0.5, 1.0, "No usable volts"),
        (0.3, f64::NAN, 1.0, "No usable amps"),
        (0.3, 0.5, f64::INFINITY, "No usable seconds"),
        (1.0, 0.5, 1.0, "1 V is above 0.8 V: healthy silicon stays off below this."),
        (0.8, 2.5, 1.0, "2.5 A is above 2 A"),
        (0.8, 2.0, 13.0, "13 s is above 12.5 s: 20 J a step."),
    ] {
        let item = plan(volts, amps, seconds);
        assert!(item.points == 0 && item.because.contains(says), "{}", item.because);
    }
}

#[test]
fn the_plan_is_judged_by_the_rail_that_was_chosen() {
    let on = |rail: &str| {
        let answers = Answers { rail: RailAnswer::Rail(rail.into()), ..answers(0.3, 0.5, 10.0, 20.0, "") };
        score(&answers, 0, &faulty())
    };
    let refused = on("V48");
    assert_eq!(points(&refused)[..2], [0, 0]);
    assert!(refused.items[1].because.contains("above 60 V") && refused.items[0].because.contains("the fault is on V5"));
    assert!(on("V9").items[1].because.contains("not on the drawing"));
    let joined = Answer { rails: vec!["V3".into(), "V5".into()], ..faulty() };
    let scored = score(&answers(0.3, 0.5, 10.0, 20.0, ""), 0, &joined);
    assert!(scored.right_rail && scored.items[0].because.contains("V3 and V5, which are joined at DC"));
}

#[test]
fn the_place_falls_evenly_to_nothing_at_ten_millimetres() {
    for (x_mm, points) in [(20.0, 40), (21.0, 40), (22.0, 36), (26.0, 20), (30.9, 0), (31.0, 0), (90.0, 0), (9.2, 1)] {
        assert_eq!(score(&answers(0.3, 0.5, 1.0, x_mm, ""), 0, &faulty()).items[2].points, points, "{x_mm}");
    }
    let mut elsewhere = answers(0.3, 0.5, 1.0, 20.0, "");
    elsewhere.place = Some(Place { face: "bottom".into(), x_mm: 20.0, y_mm: 10.0 });
    let scored = score(&elsewhere, 0, &faulty());
    assert_eq!((scored.items[2].points, scored.distance_mm), (0, None));
    assert!(scored.items[2].because.contains("on face top, not on bottom"));
    // Without a place few looks are no merit.
    assert_eq!(scored.items[4].points, 0);
    let lost = answers(0.3, 0.5, 1.0, f64::NAN, "");
    assert_eq!(score(&lost, 0, &faulty()).items[2].points, 0);
}

#[test]
fn a_healthy_board_is_an_answer() {
    let healthy = Answer { parts: Vec::new(), ..faulty() };
    let nothing = Answers { rail: RailAnswer::NothingWrong, ..Answers::default() };
    assert_eq!(points(&score(&nothing, 4, &healthy)), [20, 20, 40, 10, 9]);
    // Who finds a fault on it anyway keeps the points of a careful plan only.
    assert_eq!(points(&score(&answers(0.3, 0.5, 1.0, 20.0, "C5"), 0, &healthy)), [0, 20, 0, 0, 0]);
    // And who overlooks one has nothing.
    assert_eq!(score(&nothing, 0, &faulty()).points, 0);
}
