use super::{
    super::{Change, StaysOn, Tool},
    *,
};
use crate::lesson::{Anchored, Mark, Shows, Space, Step, View, What, mark::Style, place::Placing};

/// Two points a pixel; a millimetre is four pixels, and the face begins at pixel 8.
struct Flat;

impl Placing for Flat {
    fn place(&self, space: &Space, [x, y]: Anchored) -> Option<[f32; 2]> {
        match space {
            Space::Frame(_) => Some([2.0 * x as f32, 2.0 * y as f32]),
            Space::Board(face) if face == "top" => Some([2.0 * (8.0 + 4.0 * x) as f32, 2.0 * (8.0 + 4.0 * y) as f32]),
            _ => None,
        }
    }

    fn anchor(&self, space: &Space, [x, y]: [f32; 2]) -> Option<Anchored> {
        let px = [f64::from(x) / 2.0, f64::from(y) / 2.0];
        match space {
            Space::Frame(_) => Some(px),
            Space::Board(face) if face == "top" => Some(px.map(|v| (v - 8.0) / 4.0)),
            _ => None,
        }
    }

    fn space(&self) -> Space {
        Space::Board("top".into())
    }

    fn rect(&self) -> [f32; 4] {
        [0.0, 0.0, 400.0, 300.0]
    }

    fn words_size(&self) -> f32 {
        10.0
    }

    fn words_width(&self, text: &str, size: f32) -> f32 {
        0.5 * size * text.len() as f32
    }
}

fn arrow(x: f64) -> Mark {
    let what = What::Arrow { from: [x, 1.0], to: [x + 2.0, 2.0] };
    Mark { space: Space::Board("top".into()), what, style: Style::default(), reveal: 0 }
}

fn case() -> Case {
    let step = |title: &str, marks| Step { title: title.into(), marks, ..Step::default() };
    let steps = vec![step("one", vec![arrow(0.0), arrow(5.0)]), step("two", Vec::new())];
    Case { lessons: vec![Lesson { name: "Heat".into(), steps, ..Lesson::default() }], ..Case::default() }
}

/// Carries commands out and returns the lessons after each change, with what it was called.
fn run(case: &mut Case, screen: &mut HandoutScreen, commands: Vec<HandoutCommand>) -> Vec<String> {
    let mut words = Vec::new();
    for command in commands {
        if let Some(done) = act(case, screen, command) {
            words.push(done.edit.words.clone());
            done.edit.apply(case);
        }
        screen.settle(case);
    }
    words
}

fn titles(case: &Case) -> Vec<&str> {
    case.lessons[0].steps.iter().map(|s| s.title.as_str()).collect()
}

#[test]
fn lessons_are_made_named_copied_and_deleted() {
    let (mut case, mut screen) = (case(), HandoutScreen { step: 1, ..HandoutScreen::default() });
    let said = run(
        &mut case,
        &mut screen,
        vec![
            HandoutCommand::DuplicateLesson,
            HandoutCommand::Rename("Heat".into()),
            HandoutCommand::New,
            HandoutCommand::Rename("  ".into()),
            HandoutCommand::Lesson(0),
            HandoutCommand::DeleteLesson,
        ],
    );
    let wanted = ["copy lesson Heat", "rename lesson Heat, copy", "add lesson Lesson", "delete lesson Heat"];
    assert_eq!(said, wanted);
    let names: Vec<&str> = case.lessons.iter().map(|l| l.name.as_str()).collect();
    assert_eq!(names, ["Heat 2", "Lesson"], "names stay apart");
    assert_eq!((screen.lesson, screen.step), (0, 0));
}

#[test]
fn steps_are_added_after_the_one_shown_moved_copied_and_deleted() {
    let (mut case, mut screen) = (case(), HandoutScreen::default());
    let drawing = View { shows: Shows::Drawing { face: "top".into(), rail: None }, ..View::default() };
    run(&mut case, &mut screen, vec![HandoutCommand::AddStep(drawing)]);
    assert_eq!((titles(&case), screen.step), (vec!["one", "Drawing", "two"], 1));
    let said = run(
        &mut case,
        &mut screen,
        vec![
            HandoutCommand::MoveStep(1),
            HandoutCommand::MoveStep(1),
            HandoutCommand::DuplicateStep,
            HandoutCommand::DeleteStep,
            HandoutCommand::StepBy(-9),
            HandoutCommand::DeleteStep,
        ],
    );
    assert_eq!(said, ["move step 2 to 3", "copy step 3", "delete step 4", "delete step 1"]);
    assert_eq!((titles(&case), screen.step), (vec!["two", "Drawing"], 0));
}

#[test]
fn another_picture_drops_what_belonged_to_the_one_before() {
    let (mut case, mut screen) = (case(), HandoutScreen::default());
    let map = |take: &str, frame| Shows::Map {
        take: take.into(),
        layer: crate::layer::Layer::Frame,
        frame,
        outlines: false,
        answer: false,
    };
    let zoom = Some(crate::lesson::Zoom { middle: [1.0, 2.0], across: 3.0 });
    let step = &mut case.lessons[0].steps[0];
    step.view = View { shows: map("a", 3), zoom, range: Some((0.0, 1.0)) };
    step.plays = Some(crate::lesson::Plays { from: 0, to: 5, speed: 1.0 });
    let put = |shows| HandoutCommand::Change(Change::Shows(shows));
    run(&mut case, &mut screen, vec![put(map("a", 4))]);
    assert_eq!(case.lessons[0].steps[0].view, View { shows: map("a", 4), zoom, range: Some((0.0, 1.0)) });
    run(&mut case, &mut screen, vec![put(Shows::Words)]);
    let step = &case.lessons[0].steps[0];
    assert_eq!((step.view.zoom, step.view.range, step.plays), (None, None, None));
}

#[test]
fn marks_are_selected_ordered_copied_deleted_and_appear_in_turn() {
    let (mut case, mut screen) = (case(), HandoutScreen::default());
    let said = run(
        &mut case,
        &mut screen,
        vec![
            HandoutCommand::Select(Some(0)),
            HandoutCommand::Raise(1),
            HandoutCommand::Raise(1),
            HandoutCommand::InTurn(true),
            HandoutCommand::DuplicateMark,
            HandoutCommand::Select(Some(0)),
            HandoutCommand::DeleteMark,
            HandoutCommand::DeleteMark,
        ],
    );
    let wanted =
        ["bring forward arrow 1", "let the marks of step 1 appear one by one", "add arrow 3", "delete arrow 1"];
    assert_eq!(said, wanted);
    let marks = &case.lessons[0].steps[0].marks;
    assert_eq!(marks.iter().map(|m| m.reveal).collect::<Vec<_>>(), [2, 2]);
    assert_eq!(screen.mark, None);
}

#[test]
fn a_drag_becomes_places_that_stay() {
    let board = Space::Board("top".into());
    // (16, 16) points are pixel 8, that is 0 mm; (96, 56) points are pixels 48, 28, that is 10 and 5 mm.
    let drag = [[16.0, 16.0], [96.0, 56.0]];
    let made = |tool| from_points(tool, &board, &Flat, drag, 4).unwrap();
    assert_eq!(made(Tool::Arrow), What::Arrow { from: [0.0, 0.0], to: [10.0, 5.0] });
    assert_eq!(made(Tool::Measure), What::Measure { from: [0.0, 0.0], to: [10.0, 5.0] });
    assert_eq!(made(Tool::Loop), What::Loop { middle: [5.0, 2.5], half: [5.0, 2.5] });
    assert_eq!(made(Tool::Dim), What::Dim { middle: [5.0, 2.5], half: [5.0, 2.5] });
    let callout = What::Callout { at: [0.0, 0.0], label: [10.0, 5.0], number: 4, text: String::new() };
    assert_eq!(made(Tool::Callout), callout);
    assert!(from_points(Tool::Select, &board, &Flat, drag, 4).is_none());
    assert!(from_points(Tool::Arrow, &Space::Board("bottom".into()), &Flat, drag, 4).is_none());
}

#[test]
fn arrow_keys_move_by_points_of_the_screen() {
    // 8 points are 1 mm.
    let moved = nudged(&arrow(3.0), &Flat, None, [8.0, -4.0]).unwrap();
    assert_eq!(moved.what, What::Arrow { from: [4.0, 0.5], to: [6.0, 1.5] });
    let tip = nudged(&arrow(3.0), &Flat, Some(1), [8.0, -4.0]).unwrap();
    assert_eq!(tip.what, What::Arrow { from: [3.0, 1.0], to: [6.0, 1.5] });
    let elsewhere = Mark { space: Space::Board("bottom".into()), ..arrow(3.0) };
    assert_eq!(nudged(&elsewhere, &Flat, None, [8.0, 0.0]), None);
}

#[test]
fn a_mark_can_be_measured_in_the_other_space_without_moving() {
    let frame = Space::Frame("inject 1".into());
    let ring = What::Loop { middle: [5.0, 2.5], half: [2.0, 1.0] };
    for what in [arrow(3.0).what, ring] {
        let mark = Mark { what, ..arrow(3.0) };
        let there = marks::measured_in(&mark, &Flat, frame.clone()).unwrap();
        let seen = |m: &Mark| m.what.places().iter().map(|p| Flat.place(&m.space, *p).unwrap()).collect::<Vec<_>>();
        assert_eq!(seen(&there), seen(&mark));
        let back = marks::measured_in(&there, &Flat, mark.space.clone()).unwrap();
        assert_eq!(back, mark);
    }
}

#[test]
fn a_new_mark_is_measured_as_asked_where_the_view_has_that() {
    let shows = Shows::Curve { take: "inject 1".into(), at_px: [0.0, 0.0], fit: false };
    let view = View { shows, ..View::default() };
    assert_eq!(space(&view, &Flat, StaysOn::Board), Space::Board("top".into()));
    assert_eq!(space(&view, &Flat, StaysOn::Picture), Space::Frame("inject 1".into()));
    let drawing = View { shows: Shows::Drawing { face: "top".into(), rail: None }, ..View::default() };
    assert_eq!(space(&drawing, &Flat, StaysOn::Picture), Space::Board("top".into()));
}
