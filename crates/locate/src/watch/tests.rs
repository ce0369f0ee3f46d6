//! Hand-made logs: each event where it belongs, and none on a log that keeps to its step.

use joulemark_frames::Timeline;

use super::*;

const HELD: Held = Held {
    volts: 0.3,
    amps: 1.0,
    dwell_s: 20.0,
    joules: 5.0,
    stop_c: Some(60.0),
    silicon_volts: 0.5,
    resistance_rise: 0.3,
};

/// 10 Hz; current from 5 s to the end.
fn log(seconds: usize, at: impl Fn(f64) -> (f64, f64)) -> Timeline {
    let mut t = Timeline::steady(seconds * 10, 10.0);
    t.inject_from(50);
    for i in 0..t.len() {
        let (v, a) = if t.injecting[i] { at(t.time_s[i]) } else { (0.0, 0.0) };
        (t.volts[i], t.amps[i]) = (Some(v), Some(a));
    }
    t
}

fn watched<'a>(timeline: &'a Timeline, hottest_c: Option<&'a [f64]>) -> Watched<'a> {
    Watched { timeline, held: &HELD, hottest_c, warms: Some(true), visible_watts: Some(0.05), lead_ohms: Some(0.05) }
}

fn kinds(t: &Timeline) -> Vec<EventKind> {
    watch(&watched(t, None)).iter().map(|e| e.kind).collect()
}

#[test]
fn a_log_that_keeps_to_its_step_is_quiet() {
    assert_eq!(kinds(&log(20, |_| (0.3, 0.9))), []);
    // Within a per cent of the ceiling: the display's own doubt.
    assert_eq!(kinds(&log(15, |_| (0.302, 0.9))), []);
    // Blanks are not zeros.
    let mut blank = log(20, |_| (0.3, 0.9));
    blank.volts.fill(None);
    blank.amps.fill(None);
    assert_eq!(kinds(&blank), []);
}

#[test]
fn volts_and_amps_over_the_step_stop_from_the_very_frame() {
    let t = log(12, |s| (if s < 8.0 { 0.25 } else { 0.6 }, if s < 8.0 { 0.9 } else { 2.16 }));
    let events = watch(&watched(&t, None));
    let of = |kind| events.iter().find(|e| e.kind == kind).unwrap();
    for kind in [EventKind::OverVolts, EventKind::OverAmps] {
        assert_eq!(of(kind).frames, 80..=119, "{kind:?}");
        assert!(of(kind).stop);
        assert!((of(kind).time_s - 8.0).abs() < 1e-9);
    }
    assert!(of(EventKind::OverVolts).words.contains("healthy silicon"), "{}", of(EventKind::OverVolts).words);
}

#[test]
fn time_and_energy_add_up_over_pulses() {
    // 0.3 V and 1 A: 0.3 W, 5 J after 16.7 s of current.
    let mut t = log(50, |_| (0.3, 1.0));
    for i in 0..t.len() {
        t.injecting[i] &= (t.time_s[i] - 5.0).rem_euclid(2.0) < 1.0;
    }
    let events = watch(&watched(&t, None));
    let energy = events.iter().find(|e| e.kind == EventKind::OverEnergy).unwrap();
    // Of every two seconds from 5 s on one is on. 5 J and a per cent need 16.83 s of current: 0.83 s into the 17th pulse, at 37 s.
    assert!((37.75..38.05).contains(&energy.time_s), "{}", energy.time_s);
    let time = events.iter().find(|e| e.kind == EventKind::OverTime).unwrap();
    // 20.2 s and a frame of 0.1 s: 0.3 s into the 21st, at 45 s.
    assert!((45.15..45.55).contains(&time.time_s), "{}", time.time_s);
}

#[test]
fn a_short_that_opens_is_seen_in_either_mode() {
    // Constant current: the volts jump to the ceiling.
    let t = log(15, |s| (if s < 9.0 { 0.1 } else { 0.3 }, 1.0));
    let events = watch(&watched(&t, None));
    let opens = events.iter().find(|e| e.kind == EventKind::Opens).unwrap();
    assert!((9.0..9.3).contains(&opens.time_s) && opens.words.contains("volts jump from 0.10 to 0.30"), "{opens:?}");
    // Constant voltage: the amps fall.
    let t = log(15, |s| (0.3, if s < 9.0 { 1.0 } else { 0.4 }));
    let events = watch(&watched(&t, None));
    let opens = events.iter().find(|e| e.kind == EventKind::Opens).unwrap();
    assert!(opens.words.contains("amps fall from 1.00 to 0.40"), "{}", opens.words);
    // Copper that warms (0.393 % per kelvin) is not an opening short: 30 K over ten seconds.
    let t = log(15, |s| (0.3, 1.0 / (1.0 + 0.00393 * 3.0 * (s - 5.0))));
    assert!(!kinds(&t).contains(&EventKind::Opens));
    // A single reading that jumps is a display between two digits.
    let t = log(15, |s| (0.3, if (9.0..9.05).contains(&s) { 0.4 } else { 1.0 }));
    assert!(!kinds(&t).contains(&EventKind::Opens));
}

#[test]
fn reversed_leads_and_foldback() {
    let t = log(12, |_| (-0.25, -0.5));
    assert!(kinds(&t).contains(&EventKind::Reversed));
    let mut t = log(12, |_| (0.1, 0.5));
    t.set_volts.fill(Some(0.3));
    t.set_amps.fill(Some(1.0));
    let events = watch(&watched(&t, None));
    assert_eq!(events.iter().filter(|e| e.kind == EventKind::Foldback).count(), 1);
    // Constant current: the set amps are reached, the set volts need not be.
    let mut t = log(12, |_| (0.1, 1.0));
    t.set_volts.fill(Some(0.3));
    t.set_amps.fill(Some(1.0));
    assert_eq!(kinds(&t), []);
}

#[test]
fn the_hottest_place_stops_by_its_upper_bound() {
    let t = log(12, |_| (0.3, 0.9));
    let hottest: Vec<f64> = t.time_s.iter().map(|s| 25.0 + 5.0 * (s - 4.0).max(0.0)).collect();
    let events = watch(&watched(&t, Some(&hottest)));
    assert_eq!(events.len(), 1);
    assert!(events[0].kind == EventKind::TooHot && events[0].stop && (events[0].time_s - 11.0).abs() < 0.11);
}

#[test]
fn a_knee_is_a_semiconductor_and_a_line_is_not() {
    let line: Vec<(f64, f64)> = [0.1, 0.2, 0.3, 0.5].iter().map(|v| (*v, v / 0.4)).collect();
    assert_eq!(knee(&line), None);
    // Shockley's law with a series resistance left out: e-fold per 52 mV.
    let junction: Vec<(f64, f64)> =
        [0.35, 0.4, 0.45].iter().map(|v| (*v, 0.02 * ((v - 0.35_f64) / 0.052).exp())).collect();
    assert!(knee(&junction).is_some_and(|k| k.power > 5.0));
    assert_eq!(knee(&[]), None);
    let t = log(20, |s| if s < 12.0 { (0.15, 0.05) } else { (0.29, 0.8) });
    let events = watch(&watched(&t, None));
    let found = events.iter().find(|e| e.kind == EventKind::Knee).unwrap();
    assert!((12.0..12.2).contains(&found.time_s), "{found:?}");
}

#[test]
fn power_without_heat_points_elsewhere_only_when_the_leads_are_known() {
    let t = log(12, |_| (0.3, 0.9));
    let cold = Watched { warms: Some(false), ..watched(&t, None) };
    assert!(watch(&cold).iter().any(|e| e.kind == EventKind::NothingWarms && !e.stop));
    assert!(watch(&Watched { lead_ohms: None, ..cold }).is_empty());
    assert!(watch(&Watched { visible_watts: Some(1.0), ..cold }).is_empty());
    assert!(watch(&Watched { warms: None, ..cold }).is_empty());
}
