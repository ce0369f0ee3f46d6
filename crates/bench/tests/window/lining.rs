//! Lining up by mouse and by keyboard, refinement, and taking over to the next take.

// Clippy sees tests only in functions marked so; the helpers here are part of them.
#![allow(clippy::unwrap_used)]

use std::sync::Arc;

use egui::{Event, Key, Modifiers, PointerButton};
use egui_kittest::{Harness, kittest::Queryable};
use joulemark::{
    case::TakeEntry,
    window::{
        app::App,
        command::Command,
        document::Edit,
        lining::{LiningCommand, Look, Side},
        session::{Inputs, Session, TakeView},
    },
};
use joulemark_frames::{CountsLaw, Samples, Stack, Take, Timeline, Unit};
use joulemark_locate::{
    align::{Alignment, PointPair},
    board::Footprint,
};
use nalgebra::{Matrix3, Point2};
use ndarray::Array3;

use crate::common;

const SIZE: (usize, usize) = (144, 192);

/// 7.5 px a millimetre, a little turned. Straight on: four pairs that are a pixel off cannot tell a weak perspective, and
/// a refinement keeps the kind of mapping that the pairs support.
fn truth() -> Alignment {
    let image_from_board = Matrix3::new(7.5, -0.3, 6.0, 0.3, 7.5, 4.0, 0.0, 0.0, 1.0);
    Alignment::from_matrix(image_from_board.try_inverse().unwrap()).unwrap()
}

/// A recording that shows the board: every part at its own level, moved by some pixels.
fn take(name: &str, shift_px: [f64; 2]) -> Take {
    let (board, truth) = (common::board(), truth());
    let face = &board.faces[0];
    let prints: Vec<Footprint> = face.parts.iter().map(Footprint::from).collect();
    let levels = [0.7, -0.6, 0.5, -0.8, 0.4, -0.4];
    let mut still = Vec::with_capacity(SIZE.0 * SIZE.1);
    for y in 0..SIZE.0 {
        for x in 0..SIZE.1 {
            let mut sum = 0.0;
            for i in 0..9 {
                let (u, v) = (f64::from(i % 3) / 3.0 - 1.0 / 3.0, f64::from(i / 3) / 3.0 - 1.0 / 3.0);
                let at = Point2::new(x as f64 + u - shift_px[0], y as f64 + v - shift_px[1]);
                let mm = truth.to_board(at);
                sum += match prints.iter().position(|f| f.contains(mm)) {
                    Some(part) => 297.0 + levels[part],
                    None if face.outline_contains(mm) => 297.0,
                    None => 296.0,
                };
            }
            still.push(sum / 9.0);
        }
    }
    let frames = 12;
    let mut seed = 17_u64 + name.len() as u64;
    let samples = Array3::from_shape_fn((frames, SIZE.0, SIZE.1), |(_, y, x)| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let noise = (seed >> 40) as f64 / f64::from(1 << 24) - 0.5;
        (still[y * SIZE.1 + x] + 0.1 * noise) as f32
    });
    let mut timeline = Timeline::steady(frames, 10.0);
    timeline.inject_from(frames - 2);
    Take {
        name: name.into(),
        stack: Stack::new(Samples::F32(samples), CountsLaw::IDENTITY),
        unit: Unit::Kelvin,
        timeline,
        notes: Vec::new(),
    }
}

/// Takes by name and shift; the first is lined up when `pairs` says so. The last is shown.
fn session(takes: &[(&str, [f64; 2])], pairs: &[PointPair]) -> Session {
    let board = Arc::new(common::board());
    let mut document = common::document();
    document.case.takes = takes
        .iter()
        .enumerate()
        .map(|(i, (name, _))| TakeEntry {
            name: (*name).into(),
            frames: "frames.tif".into(),
            face: "top".into(),
            pairs: if i == 0 { pairs.to_vec() } else { Vec::new() },
            ..TakeEntry::default()
        })
        .collect();
    let mut session = Session::new(Some("/tmp/buoy".into()), document, Arc::clone(&board));
    for (name, shift) in takes {
        let inputs = Inputs::of(&session.document, name).unwrap();
        let view = TakeView::new(Arc::new(take(name, *shift)), None, inputs, &board);
        session = session.with_view(view);
    }
    session
}

/// A window whose inputs are counted: one for each click and each key.
struct Counted {
    window: Harness<'static, App>,
    inputs: usize,
}

impl Counted {
    fn of(session: Session) -> Self {
        let mut window = common::window(App::with_session(session), [1440.0, 900.0]);
        window.run_steps(3);
        Self { window, inputs: 0 }
    }

    fn key(&mut self, key: Key) {
        self.window.key_press(key);
        self.window.run_steps(3);
        self.inputs += 1;
    }

    fn click(&mut self, side: Side, at: [f64; 2]) {
        let app = self.window.state();
        let lining = app.screen.lining.as_ref().expect("the screen is open");
        let at = lining.on_screen(side, at, &app.screen, app.session.as_ref().unwrap()).expect("the pane was drawn");
        let button = |pressed| Event::PointerButton {
            pos: at,
            button: PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        };
        for event in [Event::PointerMoved(at), button(true), button(false)] {
            self.window.input_mut().events.push(event);
            self.window.run_steps(1);
        }
        self.window.run_steps(2);
        self.inputs += 1;
    }

    fn entry(&self) -> TakeEntry {
        let session = self.window.state().session.as_ref().unwrap();
        session.document.take(&session.shown).unwrap().clone()
    }

    fn pairs(&self) -> Vec<PointPair> {
        self.entry().pairs
    }

    fn said(&self) -> String {
        self.window.state().screen.lining.as_ref().and_then(|l| l.said.clone()).unwrap_or_default()
    }

    fn wait_said(&mut self) -> String {
        common::wait(&mut self.window, |app| app.screen.lining.as_ref().is_some_and(|l| l.said.is_some()));
        self.said()
    }
}

/// Corners of the board, and how far the clicks are off in the picture.
const CLICKS: [([f64; 2], [f64; 2]); 4] =
    [([1.0, 1.0], [0.9, -0.8]), ([23.0, 1.0], [-0.7, 0.9]), ([23.0, 17.0], [0.8, 0.7]), ([1.0, 17.0], [-0.9, -0.6])];

fn seen([x, y]: [f64; 2]) -> [f64; 2] {
    let p = truth().to_image(Point2::new(x, y));
    [p.x, p.y]
}

/// Root mean square distance of a take's mapping from the truth.
fn error_px(entry: &TakeEntry) -> f64 {
    let alignment = Alignment::of(&entry.pairs, entry.refined.as_ref()).unwrap();
    let at = [[3.0, 3.0], [20.0, 4.0], [12.0, 9.0], [4.0, 15.0], [21.0, 15.0]];
    let squares = at.map(|[x, y]| {
        let (p, q) = (alignment.to_image(Point2::new(x, y)), truth().to_image(Point2::new(x, y)));
        (p - q).norm_squared()
    });
    (squares.iter().sum::<f64>() / 5.0).sqrt()
}

#[test]
fn four_pairs_are_lined_up_and_refined_in_at_most_twelve_inputs() {
    let mut hands = Counted::of(session(&[("inject 1", [0.0; 2])], &[]));
    hands.key(Key::L);
    for (mm, off) in CLICKS {
        let [x, y] = seen(mm);
        hands.click(Side::Picture, [x + off[0], y + off[1]]);
        // A little beside the corner, which the point snaps to.
        hands.click(Side::Drawing, [mm[0] + 0.05, mm[1] - 0.04]);
    }
    let clicked = hands.pairs();
    assert_eq!(clicked.len(), 4);
    assert!(clicked.iter().zip(CLICKS).all(|(p, (mm, _))| [p.x_mm, p.y_mm] == mm), "{clicked:?}");
    let before = error_px(&hands.entry());
    hands.key(Key::R);
    let said = hands.wait_said();
    assert!(said.starts_with("refined: moved by up to "), "{said}");
    let refined = hands.entry();
    assert_eq!(refined.pairs, clicked, "the pairs stay as they were set");
    let after = error_px(&refined);
    println!("{before:.2} px before, {after:.2} px after, {} inputs with the next", hands.inputs);
    // Clicks off by 1.1 px each, of which four average out in part; edges of six parts and an outline bring the rest to
    // a tenth.
    assert!(before > 0.3 && after < 0.1, "{before} {after}");
    hands.window.get_by_label(&said);
    hands.window.get_by_label_contains("Mapping turn, scale and shift (similarity) from 4 pairs");
    hands.key(Key::U);
    assert!(hands.window.state().screen.lining.is_none());
    assert!(hands.inputs <= 12, "{} inputs", hands.inputs);

    // The refinement, then each pair, come back one by one.
    hands.window.state_mut().apply(Command::Undo);
    assert_eq!((hands.pairs(), hands.entry().refined), (clicked.clone(), None));
    hands.window.state_mut().apply(Command::Undo);
    assert_eq!(hands.pairs(), clicked[..3]);
    hands.window.state_mut().apply(Command::Redo);
    hands.window.state_mut().apply(Command::Redo);
    assert_eq!(hands.entry(), refined);

    // Kept and read again: the same mapping and the same uncertainty, to the last digit.
    let text = joulemark::case::to_ron(&refined).unwrap();
    let read: TakeEntry = joulemark::case::notation::parse(std::path::Path::new("take"), &text).unwrap();
    assert_eq!(read, refined);
    let mapping = |e: &TakeEntry| Alignment::of(&e.pairs, e.refined.as_ref()).unwrap();
    assert_eq!(mapping(&read), mapping(&refined));
    let view = hands.window.state().session.as_ref().unwrap().view().unwrap().clone();
    hands.window.state_mut().apply(Command::Locate);
    common::wait(&mut hands.window, |app| {
        app.session.as_ref().unwrap().view().is_some_and(|now| now.serial != view.serial)
    });
    let located_with = hands.window.state().session.as_ref().unwrap().view().unwrap().alignment.clone();
    assert_eq!(located_with.as_ref(), Some(&mapping(&refined)), "suspects are computed from the refined mapping");
}

#[test]
fn pairs_are_set_by_keys_alone() {
    let mut hands = Counted::of(session(&[("inject 1", [0.0; 2])], &[]));
    hands.key(Key::L);
    // The first arrow shows the crosshair in the middle of the picture, the next one moves it.
    hands.key(Key::ArrowRight);
    hands.key(Key::ArrowRight);
    hands.key(Key::ArrowDown);
    hands.key(Key::Enter);
    assert_eq!(hands.window.state().screen.lining.as_ref().unwrap().pending, Some((Side::Picture, [97.0, 73.0])));
    // Corners of the drawing by N; the second is the upper right one.
    hands.key(Key::N);
    hands.key(Key::N);
    hands.key(Key::Enter);
    assert_eq!(hands.pairs(), [PointPair { x_px: 97.0, y_px: 73.0, x_mm: 23.0, y_mm: 1.0 }]);
    hands.key(Key::Backspace);
    assert!(hands.pairs().is_empty());
    for (_, _, key) in Look::ALL {
        hands.key(key);
    }
    assert_eq!(hands.window.state().screen.lining.as_ref().unwrap().look, Look::Blink);
    hands.key(Key::W);
    hands.key(Key::Period);
    assert!((hands.window.state().screen.lining.as_ref().unwrap().wipe - 0.55).abs() < 1e-6);
    hands.key(Key::Escape);
    assert!(hands.window.state().screen.lining.is_none());
}

fn true_pairs() -> Vec<PointPair> {
    CLICKS
        .map(|([x_mm, y_mm], _)| PointPair { x_px: seen([x_mm, y_mm])[0], y_px: seen([x_mm, y_mm])[1], x_mm, y_mm })
        .to_vec()
}

#[test]
fn the_next_take_takes_the_pairs_over_when_the_camera_did_not_move() {
    let pairs = true_pairs();
    let mut hands = Counted::of(session(&[("inject 1", [0.0; 2]), ("inject 2", [0.0; 2])], &pairs));
    hands.key(Key::L);
    let said = hands.wait_said();
    assert!(said.starts_with("taken over from take inject 1: the camera did not move"), "{said}");
    assert_eq!(hands.pairs(), pairs);
    hands.window.state_mut().apply(Command::Undo);
    assert!(hands.pairs().is_empty(), "taking over undoes");
}

#[test]
fn a_camera_that_moved_is_said_with_its_shift() {
    let mut hands = Counted::of(session(&[("inject 1", [0.0; 2]), ("inject 2", [3.0, -2.0])], &true_pairs()));
    hands.key(Key::L);
    let said = hands.wait_said();
    assert!(said.starts_with("not taken over from take inject 1: the camera moved by "), "{said}");
    assert!(said.contains("(right 3.0, down -2.0"), "{said}");
    assert!(hands.pairs().is_empty());
}

#[test]
fn a_refinement_that_cannot_be_is_refused_in_words() {
    let far: Vec<PointPair> = true_pairs().iter().map(|p| PointPair { x_px: p.x_px + 30.0, ..*p }).collect();
    let mut hands = Counted::of(session(&[("inject 1", [0.0; 2])], &far));
    hands.key(Key::L);
    hands.window.get_by_label("Refine on the board's edges").click();
    let said = hands.wait_said();
    assert!(said.starts_with("not refined: "), "{said}");
    assert_eq!(hands.pairs(), far);
}

#[test]
fn canvas_items_and_residuals_are_in_the_tree_and_the_worst_pair_is_named() {
    let mut pairs = true_pairs();
    pairs.push(PointPair { x_px: seen([10.0, 10.5])[0] + 6.0, y_px: seen([10.0, 10.5])[1], x_mm: 10.0, y_mm: 10.5 });
    pairs.push(PointPair { x_px: seen([14.0, 14.5])[0], y_px: seen([14.0, 14.5])[1], x_mm: 14.0, y_mm: 14.5 });
    let mut hands = Counted::of(session(&[("inject 1", [0.0; 2])], &pairs));
    hands.window.state_mut().apply(Command::Lining(LiningCommand::Open));
    hands.window.run_steps(3);
    for label in ["Pair 1 in the picture", "Pair 6 on the drawing", "Remove pair 5"] {
        hands.window.get_by_label(label);
    }
    hands.window.get_by_label_contains("Picture of take inject 1 for lining up; its turn");
    hands.window.get_by_label_contains("worst: pair 5, ");
    hands.window.get_by_label_contains("pair 5 does not fit the others");
    hands.window.get_by_label("Remove pair 5").click();
    hands.window.run_steps(3);
    assert_eq!(hands.pairs().len(), 5);
    assert!(hands.window.query_by_label_contains("does not fit the others").is_none());
    hands.window.state_mut().apply(Command::Edit(Edit::Pairs {
        take: "inject 1".into(),
        pairs: Vec::new(),
        refined: None,
    }));
    hands.window.run_steps(3);
    hands.window.get_by_label_contains("Click a corner of the board in the picture");
}

#[test]
#[ignore = "draws pictures for the eye; asserts nothing but that every screen can be drawn"]
fn lining_screens() {
    use joulemark::window::screen::Bench;
    for (tag, size, bench) in [("large", [1440.0, 900.0], Bench::Dark), ("small", [1024.0, 700.0], Bench::Light)] {
        for look in [Look::Lines, Look::Wipe, Look::Opacity] {
            let mut pairs = true_pairs();
            pairs
                .iter_mut()
                .zip(CLICKS)
                .for_each(|(p, (_, off))| (p.x_px, p.y_px) = (p.x_px + off[0], p.y_px + off[1]));
            let mut window = common::window(App::with_session(session(&[("inject 1", [0.0; 2])], &pairs)), size);
            window.state_mut().apply(Command::SetBench(bench));
            window.state_mut().apply(Command::Lining(LiningCommand::Open));
            window.run_steps(2);
            window.state_mut().apply(Command::Lining(LiningCommand::Look(look)));
            window.state_mut().apply(Command::Lining(LiningCommand::Step([0.0, 0.0])));
            window.run_steps(4);
            let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../target/screens");
            std::fs::create_dir_all(folder).unwrap();
            window.render().unwrap().save(format!("{folder}/lining-{look:?}-{tag}.png")).unwrap();
        }
    }
}
