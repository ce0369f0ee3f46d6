use joulemark_frames::{CountsLaw, Samples, Stack, StackShape, Take, Timeline, Unit};

use super::*;

fn standing(points: &[Point], id: &str) -> Standing {
    points.iter().find(|p| p.id == id).unwrap().standing
}

fn timeline(rate_hz: f64, before: usize, during: usize) -> Timeline {
    let mut t = Timeline::steady(before + during, rate_hz);
    t.inject_from(before);
    t
}

#[test]
fn nothing_known_asks_and_never_says_good() {
    let points = readiness(&Filmed::default());
    assert!(points.iter().all(|p| matches!(p.standing, Standing::Question | Standing::Unknown)), "{points:?}");
    let mut ids: Vec<_> = points.iter().map(|p| p.id).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), points.len());
}

#[test]
fn lengths_are_counted_in_frames_and_seconds() {
    let of = |t: &Timeline| {
        let points = readiness(&Filmed { timeline: Some(t), ..Filmed::default() });
        (standing(&points, "before"), standing(&points, "during"))
    };
    assert_eq!(of(&timeline(9.0, 45, 136)), (Standing::Good, Standing::Good));
    // 60 Hz: enough frames, too few seconds.
    assert_eq!(of(&timeline(60.0, 60, 300)), (Standing::Poor, Standing::Poor));
    // 4 Hz: enough seconds, too few frames.
    assert_eq!(of(&timeline(4.0, 24, 64)), (Standing::Poor, Standing::Good));
}

#[test]
fn the_smallest_part_is_held_against_the_pixel() {
    let of = |mm_per_px| {
        standing(
            &readiness(&Filmed { mm_per_px: Some(mm_per_px), smallest: Some(("C7", 0.5)), ..Filmed::default() }),
            "pixels",
        )
    };
    assert_eq!((of(0.15), of(0.2)), (Standing::Good, Standing::Poor));
}

/// A take of 8 x 6 pixels whose level follows a course.
fn take(course: impl Fn(usize) -> f64) -> Take {
    let shape = StackShape { frames: 90, height_px: 6, width_px: 8 };
    let samples: Vec<f32> = (0..shape.frames)
        .flat_map(|i| (0..48).map(move |p| (i, p)))
        .map(|(i, p)| (course(i) + p as f64) as f32)
        .collect();
    let array = ndarray::Array3::from_shape_vec((shape.frames, shape.height_px, shape.width_px), samples).unwrap();
    Take {
        name: "t".into(),
        stack: Stack::new(Samples::F32(array), CountsLaw { gain_k_per_count: 1.0, offset_k: 0.0 }),
        unit: Unit::Kelvin,
        timeline: timeline(9.0, 60, 30),
        notes: Vec::new(),
    }
}

#[test]
fn drift_and_jumps_are_read_off_the_frames() {
    // 0.01 K a frame at 9 Hz: 5.4 K a minute.
    let drifting = take(|i| 300.0 + 0.01 * i as f64);
    assert!((drift_k_per_min(&drifting).unwrap() - 5.4).abs() < 0.01);
    assert_eq!(gain_jumps(&drifting), Some(0));
    let jumping = take(|i| 300.0 + if i > 20 { 3.0 } else { 0.0 } + 0.001 * (i % 3) as f64);
    assert_eq!(gain_jumps(&jumping), Some(1));
    let relative = Take { unit: Unit::Relative, ..drifting };
    assert_eq!(drift_k_per_min(&relative), None);
}
