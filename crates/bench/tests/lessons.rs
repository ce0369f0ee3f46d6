//! The shipped lessons against the program's own numbers: every figure that a student reads is worked out anew from the
//! case, and every picture is there. The recordings are simulated.

#![allow(clippy::unwrap_used, reason = "a test says what broke")]

use std::path::{Path, PathBuf};

use joulemark::{
    case::{CaseFolder, books::Books, settings::Shop, told::Told},
    handout::{Handout, Options},
    lesson::{
        Shows, What,
        place::Placing,
        render::{Area, Inks, render},
    },
    report::typeface::Fonts,
};
use joulemark_frames::{NoProgress, Take};
use joulemark_locate::{
    board::Footprint,
    limits::{self, Step},
};
use nalgebra::Point2;

const LESSONS: [&str; 3] = ["lesson-hottest-pixel", "lesson-pulses", "lesson-limits"];

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-images").join(name)
}

fn handout(name: &str) -> Handout {
    let case = CaseFolder::open(&folder(name)).unwrap();
    Handout::gather(&case, &Options::new(Shop::default()), &NoProgress).unwrap()
}

/// Everything that a student reads.
struct Text(String);

impl Text {
    fn of(handout: &Handout) -> Self {
        let mut text = handout.lesson.about.clone();
        for step in &handout.lesson.steps {
            text += &format!("\n{}\n{}", step.title, step.text);
            for mark in &step.marks {
                if let What::Callout { text: said, .. } | What::Text { text: said, .. } = &mark.what {
                    text += &format!("\n{said}");
                }
            }
        }
        Self(text.replace("**", "").replace('*', ""))
    }

    #[track_caller]
    fn says(&self, what: &str) {
        assert!(self.0.contains(what), "the lesson does not say '{what}'");
    }
}

fn told(handout: &Handout, take: &str) -> std::sync::Arc<Told> {
    handout.material.takes[take].told().unwrap()
}

/// Hottest pixel of a picture, with its value.
fn hottest(picture: &ndarray::Array2<f32>) -> ([f64; 2], f64) {
    let ((y, x), value) =
        picture.indexed_iter().max_by(|a, b| a.1.total_cmp(b.1)).map(|(at, v)| (at, f64::from(*v))).unwrap();
    ([x as f64, y as f64], value)
}

fn celsius(kelvin: f64) -> f64 {
    kelvin - 273.15
}

fn before(take: &Take) -> ndarray::Array2<f32> {
    let first = take.timeline.first_injected().unwrap();
    let sum = (0..first).map(|f| take.stack.frame(f)).reduce(|a, b| a + b).unwrap();
    sum / first as f32
}

/// Ohms at the board by the supply's own readings.
fn ohms(told: &Told) -> f64 {
    let timeline = &told.loaded.take.timeline;
    let (watts, amps) = (timeline.mean_watts().unwrap(), timeline.mean_amps().unwrap());
    watts / (amps * amps) - told.loaded.lead_ohms.unwrap()
}

fn first_suspect(told: &Told) -> (&str, f64) {
    let first = &told.located.answers[0].suspects[0];
    (&first.part, first.probability)
}

#[test]
fn every_step_has_its_picture_and_every_callout_its_place() {
    for name in LESSONS {
        let handout = handout(name);
        assert_eq!(handout.warnings, Vec::<String>::new(), "{name}");
        assert!(handout.lesson.steps.len() >= 7, "{name}");
        let fonts = Fonts::shared().unwrap();
        let area = Area { rect: [0.0, 0.0, 900.0, 600.0], words_size: 14.0, dots: 1.0, inks: Inks::PAPER, fonts };
        for step in handout.lesson.steps.iter().filter(|s| s.view.shows != Shows::Words) {
            let drawn = handout.material.with(|sources| render(&step.view, sources, &area));
            let drawn = drawn.unwrap_or_else(|missing| panic!("{name}, '{}': {missing}", step.title));
            let [left, top, wide, high] = drawn.placing.rect();
            for mark in &step.marks {
                for place in mark.what.places() {
                    let at = drawn.placing.place(&mark.space, place);
                    let [x, y] = at.unwrap_or_else(|| panic!("{name}, '{}': {mark:?} is not placed", step.title));
                    let inside = (left..=left + wide).contains(&x) && (top..=top + high).contains(&y);
                    assert!(inside, "{name}, '{}': {mark:?} lies at {x}, {y}", step.title);
                }
            }
        }
    }
}

#[test]
fn the_hottest_pixel_lies_as_the_lesson_says() {
    let handout = handout("lesson-hottest-pixel");
    let text = Text::of(&handout);
    let told = told(&handout, "inject 1");
    let (take, located) = (&told.loaded.take, &told.located);

    let (at_px, last_k) = hottest(&take.stack.frame(take.stack.shape().frames - 1));
    let at_mm = told.loaded.alignment.to_board(Point2::from(at_px));
    let (_, plug) = told.loaded.board.part("J1").unwrap();
    assert!(Footprint::from(plug).contains(at_mm), "the hottest pixel lies at {at_mm}");
    text.says(&format!("hottest pixel: {last_k:.1} K ({:.1} °C), on J1", celsius(last_k)));
    let before = before(take);
    let (_, before_k) = hottest(&before);
    text.says(&format!("{before_k:.1} K ({:.1} °C) with the output off", celsius(before_k)));
    let mut all: Vec<f32> = before.iter().copied().collect();
    all.sort_unstable_by(f32::total_cmp);
    let above_k = before_k - f64::from(all[all.len() / 2]);
    assert_eq!(above_k.round(), 10.0, "ten kelvin above the board");

    text.says(&format!("{:.2} ohm", ohms(&told)));
    let (part, probability) = first_suspect(&told);
    assert_eq!(part, handout.material.case.practice.as_ref().unwrap().part.as_deref().unwrap());
    assert!(probability > 0.99);
    text.says(&format!("{part}, more than 99 %"));
    let spot = &located.hot_spots[0];
    text.says(&format!("rises by {:.1} K", spot.rise.end));
    text.says(&format!("until current flows at {:.1} s", spot.rise.onset_s));
    assert_eq!((above_k / spot.rise.end).round(), 6.0, "six times as warm");
    let curve = &spot.curve;
    let at = |time_s: f64| {
        let i = curve.time_s.iter().position(|t| *t >= time_s).unwrap();
        curve.fitted[i]
    };
    let (start, two_s) = (at(spot.rise.onset_s - 1.0), at(spot.rise.onset_s + 2.0));
    assert!(two_s - start > 0.5 * (curve.fitted.last().unwrap() - start), "most of it within two seconds");
    let edge = |from: usize, to: usize| {
        let near =
            (from..to).map(|f| f64::from(take.stack.frame(f).slice(ndarray::s![99..102, 86..89]).mean().unwrap()));
        near.sum::<f64>() / (to - from) as f64
    };
    let (frames, first) = (take.stack.shape().frames, take.timeline.first_injected().unwrap());
    let share = (edge(first - 5, first) - edge(0, 5)) / (edge(frames - 5, frames) - edge(0, 5));
    assert!((0.33..0.6).contains(&share), "a third of it had come before the current: {share}");
    let ledger = located.ledger.as_ref().unwrap();
    let entry = ledger.entries.iter().find(|e| e.part == part).unwrap();
    text.says(&format!("{:.3} W of the {:.3} W", entry.watts, located.electrical_watts.unwrap()));
}

#[test]
fn pulses_find_what_a_step_does_not() {
    let handout = handout("lesson-pulses");
    let text = Text::of(&handout);
    let step = told(&handout, "inject 1");
    assert!(step.located.hot_spots.is_empty(), "{:?}", step.located.hot_spots);
    text.says("nothing above the noise");
    let drifts = |w: &String| w.contains("drifts slowly rather than warms from the injection");
    assert!(step.located.warnings.iter().any(drifts), "{:?}", step.located.warnings);
    let (_, blotch_k) = hottest(&step.located.maps.rise);
    assert!((0.05..0.3).contains(&blotch_k), "a tenth of a kelvin: {blotch_k}");
    // The meter's reading stands in the story of the case; a supply of 0.1 mA says the same to 3 %.
    let by_meter = 82.0;
    assert!(handout.material.case.notes.contains(&format!("V3 reads {by_meter:.0} ohm")));
    assert!((ohms(&step) / by_meter - 1.0).abs() < 0.03, "{}", ohms(&step));
    text.says(&format!("V3 reads {by_meter:.0} ohm"));
    text.says(&format!("{:.1} mW", 1e3 * 0.09 / by_meter));
    let take = &step.loaded.take;
    let level = |f: usize| f64::from(take.stack.frame(f).mean().unwrap());
    let levels: Vec<f64> = (0..take.stack.shape().frames).map(level).collect();
    let sway_k = levels.iter().fold(f64::MIN, |a, b| a.max(*b)) - levels.iter().fold(f64::MAX, |a, b| a.min(*b));
    assert!((0.15..0.95).contains(&sway_k), "some tenths of a kelvin: {sway_k}");

    let pulsed = told(&handout, "inject 2");
    let (part, probability) = first_suspect(&pulsed);
    assert_eq!(part, handout.material.case.practice.as_ref().unwrap().part.as_deref().unwrap());
    assert!(probability > 0.99);
    text.says(&format!("{part}, more than 99 %"));
    let pulse = pulsed.located.hot_spots[0].pulse.unwrap();
    text.says(&format!("{:.3} ±{:.3} K", pulse.amplitude, pulse.amplitude_se));
    text.says(&format!("beats with {:.3} K", pulse.amplitude));
    text.says(&format!("about {:.0} degrees", pulse.lag_deg));
    text.says(&format!("beat of {:.1} s", pulse.period_s));
    text.says(&format!("on and off every {:.1} s", pulse.period_s / 2.0));
    let of_noise = pulse.amplitude / pulsed.located.noise.netd;
    assert!((0.2..0.3).contains(&of_noise), "a quarter of the noise of a single frame: {of_noise}");
}

#[test]
fn limits_are_those_of_the_plan() {
    let handout = handout("lesson-limits");
    let text = Text::of(&handout);
    let case = &handout.material.case;
    let plan = limits::plan(&case.plan_inputs(&handout.material.board, "V5"), &Books::standard().limits);
    let [one, two, ..] = &plan.steps[..] else { panic!("{} steps", plan.steps.len()) };
    assert_eq!(two.number, 2);
    text.says(&format!("Step 1 allows {:.2} V", one.volts.value));
    text.says(&format!("Step 2 allows {:.2} V", two.volts.value));
    text.says(&format!("starts at {:.2} A, then {:.2} A", one.amps.value, two.amps.value));
    text.says(&format!("{:.0} s are over", one.dwell_s.value));
    text.says(&format!("Step 1 as a whole is {:.1} J", one.joules.value));
    text.says(&format!("{:.0} °C: below every solder", one.stop_c.as_ref().unwrap().value));
    let net = case.net_ohms("V5", u32::MAX).unwrap().ohms;
    text.says(&format!("V5: {net:.2} ohm"));
    text.says(&format!("V = I·R = {:.2} V", one.amps.value * net));
    assert!(one.amps.value * (net + 0.08) < one.volts.value, "the amps bind");
    text.says(&format!("I²·R = {:.2} · {net:.2} = {:.3} W", one.amps.value.powi(2), one.amps.value.powi(2) * net));
    let range = |step: &Step| {
        let expected = step.expected.unwrap();
        (expected.watts, expected.rise_k)
    };
    let ((least_w, most_w), (least_k, most_k)) = range(one);
    text.says(&format!("between {least_w:.3} and {most_w:.3} W"));
    text.says(&format!("{least_k:.2} to {most_k:.2} K"));
    let (_, (least_k, most_k)) = range(two);
    text.says(&format!("Foretold for step 2: {least_k:.2} to {most_k:.2} K"));

    let told = told(&handout, "inject 1");
    let timeline = &told.loaded.take.timeline;
    assert!(timeline.mean_amps().unwrap() <= 1.01 * two.amps.value);
    text.says(&format!("{:.2} W at the board", told.located.electrical_watts.unwrap()));
    let seen_k = told.located.hot_spots[0].rise.end;
    text.says(&format!("Seen: {seen_k:.1} K"));
    assert!((least_k..most_k).contains(&seen_k));
    let readings: Vec<f64> = case.readings.iter().filter(|r| r.rail == "V1").filter_map(|r| r.value).collect();
    text.says(&format!("V1 reads {:.1} ohm", readings[0] - 0.08));
}
