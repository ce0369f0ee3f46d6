//! The student's desk: an exercise from opening to feedback without a mouse, what stays shut before, and what is kept.

use std::path::{Path, PathBuf};

use egui::{Key, Modifiers};
use egui_kittest::{Harness, kittest::Queryable};
use joulemark::{
    case::{
        CaseFolder,
        exercise::{Answers, Difficulty, Exercise, Place, RailAnswer},
    },
    exercise::{
        Answer,
        class::{self, Line},
        make,
    },
    window::{
        app::App,
        command::Command,
        exercise::{ExerciseCommand, Tab},
        screen::Layer,
        stage::Stage,
    },
};
use joulemark_frames::NoProgress;

use crate::common;

/// An exercise of the buoy radio in a folder of its own.
pub fn written(place: &Path) -> PathBuf {
    let folder = place.join("given");
    make::make_practice("ceramic-capacitor", 7, Difficulty::Easy, "", &folder, &NoProgress).expect("it is made");
    folder
}

/// The exercise, open in a window, with its maps worked out.
pub fn opened(folder: &Path, size: [f32; 2]) -> Harness<'static, App> {
    let mut window = common::window(App::default(), size);
    window.state_mut().open(vec![folder.to_owned()]);
    common::wait(&mut window, |app| {
        app.session.as_ref().is_some_and(|s| s.results.maps.is_some() || s.results.fault.is_some())
    });
    let fault = window.state().session.as_ref().and_then(|s| s.results.fault.clone());
    assert_eq!(fault, None);
    window
}

fn exercise(window: &Harness<'_, App>) -> Exercise {
    window.state().session.as_ref().and_then(|s| s.document.case.exercise.clone()).expect("it is an exercise")
}

pub fn answer_of(folder: &Path) -> Answer {
    let case = CaseFolder::open(folder).expect("opens");
    Answer::open(case.case.exercise.as_ref().expect("is one"), folder).expect("opens")
}

/// Presses Tab until what has that label has the focus, as somebody without a mouse does.
fn tab_to(window: &mut Harness<'_, App>, label: &str) {
    for _ in 0..160 {
        if window.query_all_by_label(label).any(|node| node.is_focused()) {
            return;
        }
        window.key_press(Key::Tab);
        window.run_steps(2);
    }
    panic!("'{label}' is not reached by the Tab key");
}

fn press(window: &mut Harness<'_, App>, label: &str) {
    tab_to(window, label);
    window.key_press(Key::Enter);
    window.run_steps(3);
}

fn type_into(window: &mut Harness<'_, App>, label: &str, text: &str) {
    tab_to(window, label);
    window.key_press_modifiers(Modifiers::COMMAND, Key::A);
    window.event(egui::Event::Text(text.into()));
    window.run_steps(2);
    window.key_press(Key::Enter);
    window.run_steps(3);
}

#[test]
fn an_exercise_is_done_by_keyboard_from_opening_to_feedback() {
    let place = tempfile::tempdir().unwrap();
    let folder = written(place.path());
    let answer = answer_of(&folder);
    let (part, step) = (&answer.parts[0], &answer.limits_of("V5").unwrap().steps[0]);
    let mut window = opened(&folder, [1440.0, 900.0]);
    window.get_by_label("Find the fault");
    // The readings, by their key; then the rail that stands out.
    window.key_press(Key::Num2);
    window.run_steps(3);
    window.get_by_label("Readings of the rails to ground, board switched off");
    press(&mut window, "V5, 5 V");
    assert_eq!(exercise(&window).answers.rail, RailAnswer::Rail("V5".into()));
    type_into(&mut window, "Volts", "0,3");
    type_into(&mut window, "Amps", &step.amps.value.to_string());
    type_into(&mut window, "Seconds", "10");
    // A look at the rise map on the recording: it costs one, and only once.
    window.key_press(Key::Num4);
    window.run_steps(3);
    press(&mut window, "Rise (1 look)");
    assert_eq!(exercise(&window).looks.len(), 1);
    window.get_by_label("Looks used: 1");
    press(&mut window, "Rise (seen)");
    assert_eq!(exercise(&window).looks.len(), 1);
    // The cross: from the middle of the board with the arrow keys.
    let shape = window.state().session.as_ref().unwrap().view().unwrap().take.stack.shape();
    let label = &format!("Map: Rise of take inject 1, {} by {} pixels", shape.width_px, shape.height_px);
    tab_to(&mut window, label);
    window.run_steps(2);
    for (far, keys) in
        [(part.x_mm - 30.0, [Key::ArrowLeft, Key::ArrowRight]), (part.y_mm - 20.0, [Key::ArrowUp, Key::ArrowDown])]
    {
        let key = keys[usize::from(far > 0.0)];
        for _ in 0..(far.abs() / 5.0).floor() as usize {
            window.key_press_modifiers(Modifiers::SHIFT, key);
            window.run_steps(1);
        }
        for _ in 0..(far.abs() % 5.0 / 0.5).round() as usize {
            window.key_press(key);
            window.run_steps(1);
        }
    }
    window.run_steps(2);
    let cross = exercise(&window).answers.place.expect("a cross");
    assert!(part.distance_mm(cross.x_mm, cross.y_mm) < 0.01, "{cross:?} against {part:?}");
    assert!(window.get_by_label(label).is_focused(), "arrow keys leave the focus where it is");
    press(&mut window, &format!("Name {}", part.designator));
    assert_eq!(exercise(&window).answers.part, part.designator);
    type_into(&mut window, "Your name", "Ida");
    press(&mut window, "Hand in");
    window.get_by_label("100 of 100 points");
    window.get_by_label(&format!("{} is right.", part.designator));
    window.get_by_label("Heat ledger");
    window.get_by_label_contains("Step 1, 0.3 V");
    let handed_in = exercise(&window).handed_in;
    assert_eq!(
        (handed_in.len(), handed_in[0].student.as_str(), handed_in[0].points, handed_in[0].looks),
        (1, "Ida", 100, 1)
    );
    // All of it is on the disk, without being saved by hand.
    common::wait(&mut window, |app| !app.session.as_ref().unwrap().unsaved());
    assert_eq!(CaseFolder::open(&folder).unwrap().case.exercise.unwrap().handed_in, handed_in);
    // And another one is made, as hard, beside it.
    let before = exercise(&window).id;
    press(&mut window, "Try another");
    common::wait(&mut window, |app| {
        app.session.as_ref().is_some_and(|s| s.document.case.exercise.as_ref().is_some_and(|e| e.id != before))
    });
    let next = exercise(&window);
    assert_eq!((next.difficulty, next.answers, next.looks.len()), (Some(Difficulty::Easy), Answers::default(), 0));
    assert_eq!(std::fs::read_dir(place.path()).unwrap().count(), 2);
}

#[test]
fn what_tells_the_answer_stays_shut_until_handing_in() {
    let place = tempfile::tempdir().unwrap();
    let folder = written(place.path());
    let part = answer_of(&folder).parts[0].designator.clone();
    let mut window = opened(&folder, [1440.0, 900.0]);
    let commands = [
        Command::SetStage(Stage::Suspects),
        Command::SetLayer(Layer::Rise),
        Command::SelectSpot(0),
        Command::Measure,
        Command::Pick(joulemark::window::command::Pick::Report),
        Command::BeforeFilming(true),
        Command::CaseLog(true),
    ];
    for command in commands {
        window.state_mut().apply(command.clone());
        window.run_steps(2);
        let said = window.state().screen.said.clone().unwrap_or_default();
        assert!(said.contains("shut until"), "{command:?}: {said}");
        assert!(
            window.query_by_label_contains("Suspect").is_none() && window.query_by_label_contains("Hot spot").is_none()
        );
    }
    assert_eq!((window.state().screen.layer, exercise(&window).looks.len()), (Layer::Frame, 0));
    // The maps that are looked at hold no answers.
    let session = window.state().session.clone().unwrap();
    assert!(session.view().unwrap().located.is_none());
    let maps = session.results.maps.clone().unwrap();
    let located = maps.located.as_ref().unwrap();
    assert!(located.hot_spots.is_empty() && located.answers.is_empty() && located.ledger.is_none());
    assert!(maps.take.timeline.volts.iter().all(Option::is_none));
    // The palette offers nothing that is shut.
    window.state_mut().apply(Command::Palette(true));
    window.run_steps(2);
    assert!(window.query_by_label("Locate again").is_some() && window.query_by_label_contains("Stage:").is_none());
    window.key_press(Key::Escape);
    window.run_steps(2);
    // Where the part is named on the drawing, it is named like any other.
    window.state_mut().apply(Command::Exercise(ExerciseCommand::Tab(Tab::Drawing)));
    window.run_steps(3);
    assert!(window.query_by_label_contains(&format!("{part}: the fault")).is_none());
}

#[test]
fn answers_undo_but_looks_and_hand_ins_do_not() {
    let place = tempfile::tempdir().unwrap();
    let folder = written(place.path());
    let mut window = opened(&folder, [1024.0, 700.0]);
    let place_of = |x_mm: f64| Place { face: "top".into(), x_mm, y_mm: 4.0 };
    let apply = |window: &mut Harness<'static, App>, command| {
        window.state_mut().apply(Command::Exercise(command));
        window.run_steps(2);
    };
    apply(&mut window, ExerciseCommand::Place(place_of(3.0)));
    apply(&mut window, ExerciseCommand::Look(Layer::Z));
    apply(&mut window, ExerciseCommand::Look(Layer::Before));
    apply(&mut window, ExerciseCommand::LookCurve);
    apply(&mut window, ExerciseCommand::LookCurve);
    apply(&mut window, ExerciseCommand::Place(place_of(8.0)));
    assert_eq!(exercise(&window).looks.len(), 2, "the plain picture is free, and so is a curve that was seen");
    window.state_mut().apply(Command::Undo);
    assert_eq!(exercise(&window).answers.place, Some(place_of(3.0)));
    window.state_mut().apply(Command::Undo);
    assert_eq!((exercise(&window).answers.place, exercise(&window).looks.len()), (None, 2));
    window.state_mut().apply(Command::Redo);
    window.state_mut().apply(Command::Redo);
    // Half done is kept, and opens as it was left.
    common::wait(&mut window, |app| !app.session.as_ref().unwrap().unsaved());
    let half = exercise(&window);
    let mut window = opened(&folder, [1024.0, 700.0]);
    assert_eq!(exercise(&window), half);
    apply(&mut window, ExerciseCommand::HandIn);
    assert!(exercise(&window).handed_in.is_empty(), "what is not answered is not handed in");
    let nothing = Answers { rail: RailAnswer::NothingWrong, ..half.answers };
    apply(&mut window, ExerciseCommand::ClassFile("../class.csv".into()));
    apply(&mut window, ExerciseCommand::Answer(Box::new(nothing), "choose that nothing is wrong"));
    apply(&mut window, ExerciseCommand::HandIn);
    window.get_by_label("0 of 100 points");
    window.state_mut().apply(Command::Undo);
    assert_eq!(exercise(&window).handed_in.len(), 1);
    apply(&mut window, ExerciseCommand::Again);
    let again = exercise(&window);
    assert!(!again.open() && again.looks.is_empty() && again.handed_in.len() == 1);
    // The line is with the class; while the exercise is open again nobody reads it.
    let file = place.path().join("class.csv");
    common::wait(&mut window, |app| {
        app.running().next().is_none() && class::read(&file).is_ok_and(|c| c.lines.len() == 1)
    });
    apply(&mut window, ExerciseCommand::Class(Some(file)));
    assert!(window.state().screen.exercise.class.is_none());
    assert!(window.state().screen.said.as_deref().is_some_and(|s| s.contains("hand the exercise in first")));
}

/// A class of three.
pub fn class_file(folder: &Path) -> PathBuf {
    let file = folder.join("class.csv");
    for (student, mm, points) in [("Ida", 0.0, 100), ("Bo", 2.4, 68), ("Mei", 0.0, 92)] {
        let line = Line {
            time: "2026-11-27T10:00:00Z".into(),
            student: student.into(),
            exercise: "K3TQ7A".into(),
            attempt: 1,
            rail: "V5".into(),
            right_rail: "V5".into(),
            within_limits: student != "Bo",
            distance_mm: Some(mm),
            part: if mm > 0.0 { "C4".into() } else { "C5".into() },
            right_part: Some(mm == 0.0),
            looks: 2,
            points,
            found: mm == 0.0,
            ..Line::default()
        };
        class::append(&file, &line).expect("the temporary folder can be written to");
    }
    file
}

#[test]
fn the_instructor_reads_a_class_and_makes_exercises() {
    let place = tempfile::tempdir().unwrap();
    let mut window = common::window(App::default(), [1440.0, 900.0]);
    window.state_mut().apply(Command::Exercise(ExerciseCommand::Class(Some(class_file(place.path())))));
    common::wait(&mut window, |app| app.screen.exercise.class.is_some());
    window.get_by_label_contains("2 of 3 found the fault; median 0.0 mm from it; median 92 points");
    window.get_by_label("C4, wrong");
    let clear = place.path().join("clear.csv");
    window.state_mut().apply(Command::Exercise(ExerciseCommand::ClassCsv(clear.clone())));
    assert_eq!(std::fs::read_to_string(&clear).unwrap().lines().count(), 4);
    window.key_press(Key::Escape);
    window.run_steps(3);
    assert!(window.state().screen.exercise.class.is_none());
    // One is made up from the palette's dialog.
    window.state_mut().apply(Command::Exercise(ExerciseCommand::Make(true)));
    window.run_steps(3);
    window.get_by_label("Open a case first, or let one be made up.");
    window.get_by_label("Made up by the program").click();
    window.run_steps(3);
    window.get_by_label_contains("no protection for an examination");
    let folder = place.path().join("new");
    window.state_mut().apply(Command::Exercise(ExerciseCommand::MakeInto(folder.clone())));
    common::wait(&mut window, |app| app.screen.said.as_deref().is_some_and(|s| s.contains("written to")));
    assert!(CaseFolder::open(&folder).unwrap().case.exercise.is_some());
}

#[test]
fn a_damaged_seal_is_said_in_one_line() {
    let place = tempfile::tempdir().unwrap();
    let folder = written(place.path());
    let mut case = CaseFolder::open(&folder).unwrap();
    case.case.exercise.as_mut().unwrap().sealed.truncate(600);
    case.save().unwrap();
    let mut window = common::window(App::default(), [1440.0, 900.0]);
    window.state_mut().open(vec![folder]);
    common::wait(&mut window, |app| app.session.as_ref().is_some_and(|s| s.results.fault.is_some()));
    window.state_mut().apply(Command::Exercise(ExerciseCommand::Tab(Tab::Recording)));
    window.run_steps(3);
    window.get_by_label_contains("the sealed answer is damaged");
    let answers = Answers { rail: RailAnswer::NothingWrong, ..Answers::default() };
    window.state_mut().apply(Command::Exercise(ExerciseCommand::Answer(Box::new(answers), "answer")));
    window.state_mut().apply(Command::Exercise(ExerciseCommand::HandIn));
    assert!(
        window
            .state()
            .screen
            .fault
            .as_ref()
            .is_some_and(|f| f.message.contains("damaged") && f.message.lines().count() == 1)
    );
    assert!(exercise(&window).handed_in.is_empty());
}
