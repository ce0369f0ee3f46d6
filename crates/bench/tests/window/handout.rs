//! Lessons: made, marked, shown and undone, as an instructor does it.

use egui::{Key, Modifiers, Pos2, vec2};
use egui_kittest::{Harness, kittest::Queryable};
use joulemark::{
    lesson::{Lesson, Mark, Plays, Shows, Space, Step, View, What, mark::Style},
    window::{
        app::App,
        bench_edit::{BenchEdit, BenchPart},
        command::Command,
        document::Edit,
        handout::{Change, HandoutCommand, Tool, present::Turn},
        screen::Layer,
        stage::Stage,
    },
};

use crate::common;

fn lessons<'a>(window: &'a Harness<'_, App>) -> &'a [Lesson] {
    &window.state().session.as_ref().expect("open").document.case.lessons
}

fn marks<'a>(window: &'a Harness<'_, App>) -> &'a [Mark] {
    let handout = &window.state().screen.handout;
    &lessons(window)[handout.lesson].steps[handout.step].marks
}

fn ask(window: &mut Harness<'_, App>, command: HandoutCommand) {
    window.state_mut().apply(Command::Handout(command));
    window.run_steps(3);
}

/// A window with one step of the rise, lined up.
fn with_step() -> Harness<'static, App> {
    let mut window = common::opened();
    window.run_steps(2);
    window.key_press(Key::H);
    window.run_steps(2);
    window.key_press(Key::Num7);
    window.run_steps(4);
    window
}

/// Where a place of the board lies on the screen.
fn on_screen(window: &Harness<'_, App>, at_mm: [f64; 2]) -> Pos2 {
    window.state().screen.handout.on_screen(&Space::Board("top".into()), at_mm).expect("the picture shows the board")
}

fn drag(window: &mut Harness<'_, App>, from: Pos2, to: Pos2) {
    window.hover_at(from);
    window.step();
    window.drag_at(from);
    window.step();
    for share in [0.3, 0.7, 1.0] {
        window.hover_at(from + (to - from) * share);
        window.step();
    }
    window.drop_at(to);
    window.run_steps(3);
}

#[test]
fn a_case_becomes_a_lesson_from_nothing() {
    let mut window = common::opened();
    window.key_press(Key::Num7);
    window.run();
    window.get_by_label("Turn this case into a lesson");
    window.get_by_label("Empty lesson").click();
    window.run();
    window.get_by_label("No step yet");
    window.get_by_label("Stage 7, Handout: here, needs a step");
    window.get_by_label("Begin with words").click();
    window.run();
    window.get_by_label("Stage 7, Handout: here, 1 step");
    window.get_by_label("Heading of the step").focus();
    window.run();
    window.get_by_label("Heading of the step").type_text("What heats?");
    window.run();
    window.get_by_label("Text of the step").focus();
    window.run();
    for part in ["Look at ", "**one** ", "place."] {
        window.get_by_label("Text of the step").type_text(part);
        window.run();
    }
    window.get_by_label("Preview").click();
    window.run();
    // In the panel, and on the page that the class will see.
    assert_eq!(window.query_all_by_label("Look at one place.").count(), 2);
    let step = lessons(&window)[0].steps[0].clone();
    assert_eq!((step.title.as_str(), step.text.as_str()), ("What heats?", "Look at **one** place."));
    // One change for the heading, one for the text, whatever the number of letters.
    let next = |window: &Harness<'_, App>| window.state().session.as_ref().unwrap().next_undo_redo().0.unwrap();
    assert_eq!(next(&window), "write the text of step 1");
    window.state_mut().apply(Command::Undo);
    assert_eq!(next(&window), "write the heading of step 1");
    window.state_mut().apply(Command::Undo);
    assert_eq!(next(&window), "add step 1");
    window.state_mut().apply(Command::Undo);
    window.state_mut().apply(Command::Undo);
    assert!(lessons(&window).is_empty());
    for _ in 0..4 {
        window.state_mut().apply(Command::Redo);
    }
    assert_eq!(lessons(&window)[0].steps[0], step);
}

#[test]
fn what_is_on_the_screen_becomes_a_step_from_any_stage() {
    let mut window = common::opened();
    window.state_mut().apply(Command::SetLayer(Layer::FrameRise));
    window.state_mut().apply(Command::SetFrame(77));
    window.run_steps(2);
    window.key_press(Key::H);
    window.run_steps(2);
    assert_eq!(window.state().screen.stage, Stage::Suspects, "one goes on where one was");
    assert_eq!(window.state().screen.said.as_deref(), Some("Step 1 added to Lesson"));
    window.state_mut().apply(Command::ShowPart("C12".into()));
    window.run_steps(2);
    window.key_press(Key::H);
    window.run_steps(2);
    window.key_press(Key::Num1);
    window.run_steps(2);
    window.key_press(Key::H);
    window.run_steps(2);
    let steps = &lessons(&window)[0].steps;
    let map =
        |answer| Shows::Map { take: common::TAKE.into(), layer: Layer::FrameRise, frame: 77, outlines: true, answer };
    assert_eq!(steps[0].view, View { shows: map(true), zoom: None, range: None });
    assert_eq!(steps[1].view.shows, map(true));
    // C12 lies at 9, 7 mm: pixel 36, 28.
    let zoom = steps[1].view.zoom.expect("zoomed in");
    assert!((zoom.middle[0] - 36.0).abs() < 1.0 && (zoom.middle[1] - 28.0).abs() < 1.0, "{zoom:?}");
    assert_eq!(steps[2].view.shows, Shows::Drawing { face: "top".into(), rail: Some("V12".into()) });
}

#[test]
fn every_mark_is_drawn_by_hand_and_undone() {
    let mut window = with_step();
    let (from, to) = (on_screen(&window, [9.0, 7.0]), on_screen(&window, [13.0, 10.0]));
    for (tool, key) in Tool::ALL.into_iter().skip(1) {
        window.key_press(Key::from_name(key).unwrap());
        window.run_steps(2);
        assert_eq!(window.state().screen.handout.tool, tool);
        drag(&mut window, from, to);
        assert_eq!(window.state().screen.handout.tool, Tool::Select, "one mark a time: {tool:?}");
    }
    let near = |a: [f64; 2], b: [f64; 2]| (0..2).all(|i| (a[i] - b[i]).abs() < 0.02);
    let (a, b) = ([9.0, 7.0], [13.0, 10.0]);
    let drawn: Vec<What> = marks(&window).iter().map(|m| m.what.clone()).collect();
    assert_eq!(drawn.len(), 6);
    assert!(matches!(&drawn[0], What::Callout { at, label, number: 1, .. } if near(*at, a) && near(*label, b)));
    assert!(matches!(&drawn[1], What::Arrow { from, to } if near(*from, a) && near(*to, b)));
    for round in [&drawn[2], &drawn[5]] {
        let (What::Loop { middle, half } | What::Dim { middle, half }) = round else { panic!("{round:?}") };
        assert!(near(*middle, [11.0, 8.5]) && near(*half, [2.0, 1.5]), "{round:?}");
    }
    assert!(matches!(&drawn[3], What::Text { at, .. } if near(*at, a)));
    assert!(matches!(&drawn[4], What::Measure { from, to } if near(*from, a) && near(*to, b)));
    assert!(marks(&window).iter().all(|m| m.space == Space::Board("top".into())));
    window.get_by_label_contains("Measuring line, 5.0 mm, at 9.0, 7.0 mm on top");
    for left in (0..6).rev() {
        window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        window.run_steps(2);
        assert_eq!(marks(&window).len(), left);
    }
    for there in 1..=6 {
        window.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
        window.run_steps(2);
        assert_eq!(marks(&window).len(), there);
    }
    assert_eq!(marks(&window).iter().map(|m| m.what.clone()).collect::<Vec<_>>(), drawn);
}

#[test]
fn a_mark_is_moved_by_the_mouse_and_by_its_handles() {
    let mut window = with_step();
    window.key_press(Key::A);
    window.run_steps(2);
    let (from, to) = (on_screen(&window, [5.0, 5.0]), on_screen(&window, [9.0, 7.0]));
    drag(&mut window, from, to);
    // The shaft moves the whole, the tip only itself.
    let shaft = from + (to - from) * 0.5;
    let millimetre = on_screen(&window, [6.0, 5.0]) - from;
    drag(&mut window, shaft, shaft + 2.0 * millimetre);
    let arrow = |window: &Harness<'_, App>| match marks(window)[0].what {
        What::Arrow { from, to } => [from, to],
        ref other => panic!("{other:?}"),
    };
    let near = |a: [f64; 2], b: [f64; 2]| (0..2).all(|i| (a[i] - b[i]).abs() < 0.03);
    let now = arrow(&window);
    assert!(near(now[0], [7.0, 5.0]) && near(now[1], [11.0, 7.0]), "{now:?}");
    let tip = to + 2.0 * millimetre;
    drag(&mut window, tip, tip + vec2(0.0, millimetre.x));
    let now = arrow(&window);
    assert!(near(now[0], [7.0, 5.0]) && near(now[1], [11.0, 8.0]), "{now:?}");
    let undo = window.state().session.as_ref().unwrap().next_undo_redo().0;
    assert_eq!(undo.as_deref(), Some("move arrow"));
    // A click beside it selects nothing, a click on it selects it again, Ctrl+D copies it, Delete takes the copy away.
    let free = on_screen(&window, [3.0, 15.0]);
    window.hover_at(free);
    window.step();
    window.drag_at(free);
    window.step();
    window.drop_at(free);
    window.run_steps(2);
    assert_eq!(window.state().screen.handout.mark, None);
    let on = on_screen(&window, [9.0, 6.5]);
    window.drag_at(on);
    window.step();
    window.drop_at(on);
    window.run_steps(2);
    assert_eq!(window.state().screen.handout.mark, Some(0));
    window.key_press_modifiers(Modifiers::COMMAND, Key::D);
    window.run_steps(2);
    assert_eq!((marks(&window).len(), window.state().screen.handout.mark), (2, Some(1)));
    window.key_press(Key::Delete);
    window.run_steps(2);
    assert_eq!((marks(&window).len(), window.state().screen.handout.mark), (1, None));
}

#[test]
fn a_callout_is_made_and_moved_by_the_keyboard_alone() {
    let mut window = with_step();
    window.key_press(Key::N);
    window.run_steps(2);
    window.get_by_label("Add callout at the middle of the view");
    window.key_press(Key::Enter);
    window.run_steps(4);
    let at = |window: &Harness<'_, App>| marks(window)[0].what.places();
    let before = at(&window);
    // It has the keyboard at once: arrows move it by points of the screen.
    let node = window.get_by_label_contains("Callout 1, at ");
    assert!(node.is_focused());
    let mm_per_point = 1.0 / f64::from((on_screen(&window, [1.0, 0.0]) - on_screen(&window, [0.0, 0.0])).x);
    for _ in 0..3 {
        window.key_press(Key::ArrowRight);
        window.run_steps(2);
    }
    window.key_press_modifiers(Modifiers::SHIFT, Key::ArrowUp);
    window.run_steps(2);
    let moved = at(&window);
    for (a, b) in before.iter().zip(&moved) {
        assert!((b[0] - a[0] - 3.0 * mm_per_point).abs() < 1e-4, "{a:?} {b:?}");
        assert!((b[1] - a[1] + 10.0 * mm_per_point).abs() < 1e-4, "{a:?} {b:?}");
    }
    // The number alone.
    window.get_by_label_contains("Callout 1, the number, at ").focus();
    window.run_steps(2);
    window.key_press(Key::ArrowLeft);
    window.run_steps(2);
    assert_eq!(at(&window)[0], moved[0]);
    assert!((at(&window)[1][0] - moved[1][0] + mm_per_point).abs() < 1e-4);
    // Steps of one move are taken back together, and the making after them.
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run_steps(2);
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run_steps(2);
    assert_eq!(at(&window), before);
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run_steps(2);
    assert!(marks(&window).is_empty());
}

#[test]
fn a_mark_stays_on_its_place_when_the_view_changes() {
    let mut window = with_step();
    window.key_press(Key::A);
    window.run_steps(2);
    let (from, to) = (on_screen(&window, [5.0, 5.0]), on_screen(&window, [9.0, 7.0]));
    drag(&mut window, from, to);
    let arrow = marks(&window)[0].clone();
    let before = on_screen(&window, [9.0, 7.0]);
    for _ in 0..3 {
        window.key_press(Key::Plus);
        window.run_steps(3);
    }
    assert!(window.state().screen.handout.look.is_some());
    assert_eq!(marks(&window)[0], arrow, "zooming moves no mark");
    let closer = on_screen(&window, [9.0, 7.0]) - on_screen(&window, [8.0, 7.0]);
    window.get_by_label("Keep this zoom").click();
    window.run_steps(3);
    assert!(lessons(&window)[0].steps[0].view.zoom.is_some() && window.state().screen.handout.look.is_none());
    assert!((on_screen(&window, [9.0, 7.0]) - on_screen(&window, [8.0, 7.0]) - closer).length() < 1.0);
    window.get_by_label("Show the whole picture").click();
    window.run_steps(3);
    assert!((on_screen(&window, [9.0, 7.0]) - before).length() < 0.5);
    // On the drawing of the same face, and on the recording's frame, it is the same mark.
    let put = |shows| HandoutCommand::Change(Change::Shows(shows));
    ask(&mut window, put(Shows::Drawing { face: "top".into(), rail: None }));
    window.get_by_label_contains("Arrow, at 5.0, 5.0 mm on top");
    let layer = Layer::Frame;
    ask(&mut window, put(Shows::Map { take: common::TAKE.into(), layer, frame: 3, outlines: false, answer: false }));
    window.get_by_label_contains("Arrow, at 5.0, 5.0 mm on top");
    assert_eq!(marks(&window)[0], arrow);
    // It can be told to stay on the picture instead; then the drawing does not show it, and the list says so.
    window.get_by_label_contains("In the list: Arrow").click();
    window.run_steps(2);
    window.get_by_label("Let it stay on the picture").click();
    window.run_steps(3);
    assert_eq!(marks(&window)[0].space, Space::Frame(common::TAKE.into()));
    // 5, 5 mm are pixel 20, 20: a quarter of a millimetre a pixel.
    let tail = marks(&window)[0].what.places()[0];
    assert!((tail[0] - 20.0).abs() < 0.05 && (tail[1] - 20.0).abs() < 0.05, "{tail:?}");
    ask(&mut window, put(Shows::Drawing { face: "top".into(), rail: None }));
    window.get_by_label("In the list: Arrow: not in this picture");
    assert!(window.query_by_label_contains("Arrow, at ").is_none());
}

#[test]
fn words_tone_and_order_are_set_on_the_right() {
    let mut window = with_step();
    ask(&mut window, HandoutCommand::AddInMiddle(Tool::Callout));
    ask(&mut window, HandoutCommand::AddInMiddle(Tool::Loop));
    window.get_by_label("In the list: Callout 1: at once").click();
    window.run_steps(2);
    window.get_by_label("Words beside the number").focus();
    window.run_steps(2);
    window.get_by_label("Words beside the number").type_text("heat starts here");
    window.run_steps(2);
    window.get_by_label("Tone: Black").click();
    window.run_steps(2);
    window.get_by_label("Line: Broken").click();
    window.run_steps(2);
    window.get_by_label("One by one").click();
    window.run_steps(2);
    window.get_by_label("In the list: Loop: as number 2");
    window.get_by_label_contains("Callout 1, heat starts here, at ");
    let style = marks(&window)[0].style;
    assert_eq!((style.tone, style.line), (joulemark::lesson::mark::Tone::Dark, joulemark::lesson::mark::Line::Dashed));
    assert_eq!(marks(&window).iter().map(|m| m.reveal).collect::<Vec<_>>(), [1, 2]);
    // Only the words were typed: undo goes style by style.
    for words in
        ["let the marks of step 1 appear one by one", "change callout 1", "change callout 1", "write callout 1"]
    {
        assert_eq!(window.state().session.as_ref().unwrap().next_undo_redo().0.as_deref(), Some(words));
        window.state_mut().apply(Command::Undo);
        window.run_steps(2);
    }
}

/// A lesson of three steps: a map with two marks that are revealed, a piece of the recording, words.
pub fn presented() -> Harness<'static, App> {
    let mark = |reveal, what| Mark { space: Space::Board("top".into()), what, style: Style::default(), reveal };
    let map = |layer, frame| View {
        shows: Shows::Map { take: common::TAKE.into(), layer, frame, outlines: true, answer: false },
        ..View::default()
    };
    let callout = What::Callout { at: [9.0, 7.0], label: [13.0, 4.0], number: 1, text: "heat starts here".into() };
    let around = What::Loop { middle: [9.0, 7.0], half: [2.0, 1.5] };
    let steps = vec![
        Step {
            title: "Where does heat start?".into(),
            text: "The hottest pixel is **not** the answer.\n\n- look at the time\n- look at the board".into(),
            view: map(Layer::Rise, 0),
            marks: vec![mark(0, callout), mark(1, around)],
            ..Step::default()
        },
        Step {
            title: "Watch it".into(),
            view: map(Layer::FrameRise, 30),
            plays: Some(Plays { from: 30, to: 110, speed: 1.0 }),
            ..Step::default()
        },
        Step { title: "What now?".into(), text: "Which part would you lift first, and why?".into(), ..Step::default() },
    ];
    let lesson = Lesson { name: "Heat on the buoy radio".into(), steps, ..Lesson::default() };
    let mut window = common::opened();
    let part = BenchPart::Lessons(vec![lesson]);
    let edit = BenchEdit { words: "add lesson".into(), record: None, part };
    window.state_mut().apply(Command::Edit(Edit::Bench(edit)));
    window.run_steps(2);
    window
}

#[test]
fn a_lesson_is_presented_by_keys_alone() {
    let mut window = presented();
    window.key_press(Key::F5);
    window.run_steps(3);
    window.get_by_label("Presenting Heat on the buoy radio, step 1 of 3: Where does heat start?");
    window.get_by_label("1 of 3");
    window.get_by_label_contains("The hottest pixel is not the answer.");
    assert!(window.query_by_label_contains("Stage 7").is_none(), "nothing but the lesson");
    let shown = |window: &Harness<'_, App>| {
        let handout = &window.state().screen.handout;
        handout.presenting.as_ref().map(|p| (handout.step, p.revealed))
    };
    let mut seen = Vec::new();
    for key in [Key::Space, Key::Space, Key::ArrowRight, Key::PageUp, Key::Home, Key::End, Key::PageDown] {
        window.key_press(key);
        window.run_steps(2);
        seen.push(shown(&window).expect("presenting"));
    }
    assert_eq!(seen, [(0, 1), (1, 0), (2, 0), (1, 0), (0, 0), (2, 0), (2, 0)]);
    window.get_by_label("3 of 3");
    window.key_press(Key::B);
    window.run_steps(2);
    assert!(window.query_by_label("3 of 3").is_none(), "the screen is blank");
    window.key_press(Key::B);
    window.run_steps(2);
    window.get_by_label("3 of 3");
    window.key_press(Key::Escape);
    window.run_steps(3);
    assert_eq!(shown(&window), None);
    assert_eq!((window.state().screen.stage, window.state().screen.handout.step), (Stage::Handout, 2));
    window.get_by_label("Present");
}

#[test]
fn the_recording_plays_within_a_step() {
    let mut window = presented();
    ask(&mut window, HandoutCommand::Lesson(0));
    ask(&mut window, HandoutCommand::Step(1));
    ask(&mut window, HandoutCommand::Present);
    let drawn = |window: &Harness<'_, App>| window.state().screen.handout.drawn();
    let before = drawn(&window);
    window.run_steps(4);
    assert_eq!(drawn(&window), before, "nothing moves by itself");
    window.key_press(Key::P);
    window.step();
    assert!(window.state().screen.handout.presenting.as_ref().unwrap().playing.is_some());
    for _ in 0..4 {
        window.step();
    }
    assert!(drawn(&window) > before, "frame after frame is drawn");
    ask(&mut window, HandoutCommand::Turn(Turn::Play));
    let held = drawn(&window);
    window.run_steps(4);
    assert_eq!(drawn(&window), held, "held");
}

#[test]
fn steps_are_ordered_copied_deleted_and_come_back() {
    let mut window = presented();
    window.key_press(Key::Num7);
    window.run_steps(3);
    window.get_by_label_contains("Step 3, What now?").click();
    window.run_steps(3);
    window.get_by_label("Move the step up").click();
    window.run_steps(2);
    window.get_by_label("Copy the step").click();
    window.run_steps(2);
    let titles =
        |window: &Harness<'_, App>| lessons(window)[0].steps.iter().map(|s| s.title.clone()).collect::<Vec<_>>();
    assert_eq!(titles(&window), ["Where does heat start?", "What now?", "What now?", "Watch it"]);
    window.get_by_label("Delete the step").click();
    window.run_steps(2);
    assert_eq!(titles(&window).len(), 3);
    ask(&mut window, HandoutCommand::DeleteLesson);
    window.get_by_label("Turn this case into a lesson");
    for _ in 0..4 {
        window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        window.run_steps(2);
    }
    assert_eq!(titles(&window), ["Where does heat start?", "Watch it", "What now?"]);
}

#[test]
fn a_lesson_is_saved_and_read_again() {
    let mut window = common::window(App::default(), [1440.0, 900.0]);
    window.state_mut().open(vec![crate::cases::bundled("ceramic-capacitor")]);
    common::wait(&mut window, |app| app.session.as_ref().is_some_and(|s| s.view().is_some()));
    window.key_press(Key::H);
    window.run_steps(2);
    window.key_press(Key::Num7);
    window.run_steps(4);
    for (tool, _) in Tool::ALL.into_iter().skip(1) {
        ask(&mut window, HandoutCommand::AddInMiddle(tool));
    }
    assert_eq!(marks(&window).len(), 6);
    let made = lessons(&window).to_vec();
    let folder = tempfile::tempdir().expect("a temporary folder");
    let case = folder.path().join("saved");
    window.state_mut().apply(Command::Typed(joulemark::window::command::Pick::SaveCase, Some(case.clone())));
    common::wait(&mut window, |app| app.session.as_ref().is_some_and(|s| !s.unsaved()));
    let mut again = common::window(App::default(), [1440.0, 900.0]);
    again.state_mut().open(vec![case]);
    common::wait(&mut again, |app| app.session.as_ref().is_some_and(|s| s.view().is_some()));
    assert_eq!(lessons(&again), made);
    again.key_press(Key::Num7);
    again.run_steps(4);
    again.get_by_label_contains("Callout 1, at ");
}

#[test]
fn a_picture_that_is_not_there_says_so() {
    let mut window = with_step();
    let gone = Shows::Map { take: "gone".into(), layer: Layer::Frame, frame: 0, outlines: false, answer: false };
    ask(&mut window, HandoutCommand::Change(Change::Shows(gone)));
    window.get_by_label_contains("Take 'gone' is not in this case");
    window.get_by_label("Read it again");
    ask(&mut window, HandoutCommand::Change(Change::Shows(Shows::Photo { face: "top".into(), outlines: true })));
    window.get_by_label_contains("has no photo");
    ask(&mut window, HandoutCommand::AddInMiddle(Tool::Arrow));
    assert!(marks(&window).is_empty(), "there is nothing to mark");
}

#[test]
fn a_lesson_begins_with_what_the_case_has() {
    let mut window = common::opened();
    window.key_press(Key::Num7);
    window.run();
    window.get_by_label("Start from this case").click();
    window.run_steps(4);
    let lesson = &lessons(&window)[0];
    assert!(lesson.steps.len() >= 3, "{}", lesson.steps.len());
    assert!(lesson.steps.iter().any(|s| s.view.shows.take() == Some(common::TAKE)));
    let words = window.state().session.as_ref().unwrap().next_undo_redo().0.unwrap();
    assert_eq!(words, format!("add lesson {}", lesson.name));
    for step in 0..lessons(&window)[0].steps.len() {
        ask(&mut window, HandoutCommand::Step(step));
        assert!(window.query_by_label("Read it again").is_none(), "step {} has its picture", step + 1);
    }
}

#[test]
fn a_lesson_is_handed_out_as_every_kind_of_file() {
    use joulemark::window::{command::Pick, handout::HandoutFile};
    let mut window = common::window(App::default(), [1440.0, 900.0]);
    window.state_mut().open(vec![crate::cases::bundled("ceramic-capacitor")]);
    common::wait(&mut window, |app| app.session.as_ref().is_some_and(|s| s.view().is_some()));
    ask(&mut window, HandoutCommand::FromCase);
    ask(&mut window, HandoutCommand::Step(1));
    let folder = tempfile::tempdir().expect("a temporary folder");
    let begins = |kind| match kind {
        HandoutFile::Pdf => &b"%PDF"[..],
        HandoutFile::Page => b"<!DOCTYPE html>",
        HandoutFile::Picture => b"\x89PNG",
        HandoutFile::Animation => b"GIF89a",
    };
    for kind in HandoutFile::ALL {
        let file = folder.path().join("lesson").with_extension(kind.ending());
        // Without an ending it gets its own.
        let asked = folder.path().join("lesson");
        window.state_mut().apply(Command::Typed(Pick::Handout(kind), Some(asked.clone())));
        common::wait(&mut window, |app| app.running().count() == 0);
        let said = window.state().screen.said.clone().unwrap_or_default();
        assert!(said.starts_with(&format!("handout written to {}", file.display())), "{kind:?}: {said}");
        let bytes = std::fs::read(&file).expect("written");
        assert!(bytes.to_ascii_lowercase().starts_with(&begins(kind).to_ascii_lowercase()), "{kind:?}");
        // What is there is not replaced without asking.
        window.state_mut().apply(Command::Typed(Pick::Handout(kind), Some(asked)));
        assert_eq!(window.state().screen.fault.as_ref().expect("asks").title, "There is one already");
        window.state_mut().apply(Command::DismissFault);
    }
}
