//! The handout stage: lessons of the case, their steps, marks on what a step shows, presenting them to a class. A mark is
//! kept in millimetres of the board or pixels of the recording, never in points of the screen.

mod act;
mod canvas;
mod empty;
mod export;
mod gesture;
pub mod keys;
mod lessons;
mod marks;
mod names;
pub mod paint;
mod picture;
pub mod present;
mod preview;
mod shows;
mod snapshot;
mod sources;
mod step;
mod toolbar;

pub use act::{Done, act, add_lesson};
pub use export::HandoutFile;
pub use names::{mark_name, place_words};
pub use snapshot::this_view;

use std::collections::HashSet;

use egui::{CentralPanel, Frame, Panel, Ui};

use super::{command::Command, screen::Screen, session::Session};
use crate::{
    case::Case,
    lesson::{Anchored, Lesson, Mark, Plays, Shows, Space, Step, View, Zoom, mark::Style},
    theme::{self, Palette},
};
use gesture::Gesture;
use picture::Picture;
use present::{Presenting, Turn};
pub(super) use sources::{Photos, photo_file, seen};

/// What the hands do on the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Tool {
    /// Select and move.
    #[default]
    Select,
    /// A number with words.
    Callout,
    /// An arrow.
    Arrow,
    /// An ellipse.
    Loop,
    /// Words.
    Text,
    /// A line with its length.
    Measure,
    /// Dim everything else.
    Dim,
}

impl Tool {
    /// All, with their keys.
    pub const ALL: [(Self, &'static str); 7] = [
        (Self::Select, "S"),
        (Self::Callout, "N"),
        (Self::Arrow, "A"),
        (Self::Loop, "O"),
        (Self::Text, "T"),
        (Self::Measure, "R"),
        (Self::Dim, "U"),
    ];

    /// Its name.
    pub fn words(self) -> &'static str {
        match self {
            Self::Select => "Select",
            Self::Callout => "Callout",
            Self::Arrow => "Arrow",
            Self::Loop => "Loop",
            Self::Text => "Text",
            Self::Measure => "Measuring line",
            Self::Dim => "Dim the surroundings",
        }
    }

    /// Its name within a sentence.
    pub fn in_sentence(self) -> &'static str {
        match self {
            Self::Select => "select",
            Self::Callout => "callout",
            Self::Arrow => "arrow",
            Self::Loop => "loop",
            Self::Text => "text",
            Self::Measure => "measuring line",
            Self::Dim => "dimming",
        }
    }

    /// How it is used.
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Select => {
                "Click a mark to select it; drag it, or its handles, to move it. Drag beside marks to move the view."
            }
            Self::Callout => "Press at the place that is meant and drag to where the number is to stand.",
            Self::Arrow => "Drag from the tail to the thing that is meant.",
            Self::Loop => "Drag from one corner of the loop to the other.",
            Self::Text => "Click where the words begin; type them on the right.",
            Self::Measure => "Drag from one end to the other.",
            Self::Dim => "Drag over what stays bright, from corner to corner.",
        }
    }
}

/// What the places of new marks are measured in, where a view has both.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum StaysOn {
    /// The board, in millimetres.
    #[default]
    Board,
    /// The picture of the recording, in pixels.
    Picture,
}

/// What the screen knows about the stage.
#[derive(Debug, Default)]
pub struct HandoutScreen {
    /// The lesson shown, by its place in the case.
    pub lesson: usize,
    /// The step shown, by its place in the lesson.
    pub step: usize,
    /// The selected mark of the step.
    pub mark: Option<usize>,
    /// The tool in hand.
    pub tool: Tool,
    /// What new marks are measured in.
    pub stays_on: StaysOn,
    /// How new marks are drawn.
    pub style: Style,
    /// The place of the selected mark that has the keyboard; arrows move it alone.
    handle: Option<usize>,
    /// Whether the picture or something on it has the keyboard.
    pub(super) on_picture: bool,
    /// A drag under way.
    gesture: Option<Gesture>,
    /// A closer look at the step's picture; no part of the step.
    pub look: Option<Zoom>,
    /// Whether the text is shown as the class will see it.
    pub previewing: bool,
    /// The lesson shown to a class.
    pub presenting: Option<Presenting>,
    /// Whether the selected mark is to get the keyboard.
    pub focus_mark: bool,
    /// What the last change of words or numbers was and where it was made; the next one like it goes on with it.
    pub(super) going_on: Option<GoingOn>,
    /// Photos that steps show.
    pub(super) photos: Photos,
    /// Takes and photos that were asked for by themselves, so that what cannot be read is tried once.
    pub(super) asked: HashSet<String>,
    /// Whether what is handed out leaves the answers out.
    pub without_answers: bool,
    /// Whether something that a picture needs is being read.
    pub(super) reading: bool,
    /// What the step shows, drawn.
    pub(super) picture: Picture,
}

/// A change that goes on: its words, the field that has the keyboard, and when the pointer went down.
pub(super) type GoingOn = (String, Option<egui::Id>, Option<f64>);

/// What the stage can ask for.
#[derive(Clone, Debug, PartialEq)]
pub enum HandoutCommand {
    /// Begin a lesson without steps.
    New,
    /// Begin a lesson with what the case has to show.
    FromCase,
    /// Show a lesson.
    Lesson(usize),
    /// Give the lesson another name.
    Rename(String),
    /// What the lesson teaches.
    About(String),
    /// Copy the lesson.
    DuplicateLesson,
    /// Take the lesson away.
    DeleteLesson,
    /// Show a step.
    Step(usize),
    /// Go so many steps on, or back.
    StepBy(isize),
    /// Add a step after the one shown.
    AddStep(View),
    /// Add a step of what map or drawing show at present.
    AddThisView,
    /// Move the step so many places on, or back.
    MoveStep(isize),
    /// Copy the step.
    DuplicateStep,
    /// Take the step away.
    DeleteStep,
    /// Change the step.
    Change(Change),
    /// Make the closer look part of the step.
    KeepLook,
    /// Look closer at the picture, or as the step says.
    Look(Option<Zoom>),
    /// Zoom about the middle.
    ZoomBy(f32),
    /// Take a tool.
    Tool(Tool),
    /// Select a mark, or none.
    Select(Option<usize>),
    /// Add a mark.
    Add(Mark),
    /// Add a mark of a tool's kind in the middle of the view.
    AddInMiddle(Tool),
    /// Put a mark in place of another; the words say what was done to it. Changes of words and numbers go on.
    Mark { index: usize, mark: Box<Mark>, doing: &'static str, goes_on: bool },
    /// Move the selected mark, or one of its places, by so many points of the screen.
    Nudge { place: Option<usize>, by: [f32; 2] },
    /// Measure the selected mark in something else.
    StaysOn(StaysOn),
    /// Copy the selected mark.
    DuplicateMark,
    /// Take the selected mark away.
    DeleteMark,
    /// Move the selected mark so many places over the others, or under them.
    Raise(isize),
    /// Let the marks of the step appear one by one, or all at once.
    InTurn(bool),
    /// Show the text as the class will see it, or to be written.
    Preview(bool),
    /// Hand out without the answers, or with them.
    WithoutAnswers(bool),
    /// Read again what the step's picture needs.
    ReadAgain,
    /// Show the lesson to a class, from the step shown.
    Present,
    /// While presenting.
    Turn(Turn),
}

/// A change of a step.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Its heading.
    Title(String),
    /// What is said.
    Text(String),
    /// What is shown.
    Shows(Shows),
    /// The part that is shown.
    Zoom(Option<Zoom>),
    /// Ends of the colour scale.
    Range(Option<(f32, f32)>),
    /// Whether the marks of the step before stay.
    KeepsEarlier(bool),
    /// What is played.
    Plays(Option<Plays>),
}

impl HandoutScreen {
    /// The lesson shown.
    pub fn lesson<'a>(&self, case: &'a Case) -> Option<&'a Lesson> {
        case.lessons.get(self.lesson)
    }

    /// The step shown.
    pub fn step<'a>(&self, case: &'a Case) -> Option<&'a Step> {
        self.lesson(case)?.steps.get(self.step)
    }

    /// The selected mark.
    pub fn mark<'a>(&self, case: &'a Case) -> Option<&'a Mark> {
        self.step(case)?.marks.get(self.mark?)
    }

    /// After the lessons changed by whatever way: what is shown is something that is there.
    pub fn settle(&mut self, case: &Case) {
        self.lesson = self.lesson.min(case.lessons.len().saturating_sub(1));
        let steps = self.lesson(case).map_or(0, |l| l.steps.len());
        self.step = self.step.min(steps.saturating_sub(1));
        let marks = self.step(case).map_or(0, |s| s.marks.len());
        self.mark = self.mark.filter(|&m| m < marks);
        if steps == 0 {
            self.presenting = None;
        }
    }

    /// Takes and faces of photos that pictures of the lesson need: of the step shown, and of all while presenting.
    pub(super) fn needs(&self, case: &Case) -> Vec<Shows> {
        let steps = self.lesson(case).map_or(&[][..], |l| &l.steps);
        let shown = |i: usize| self.presenting.is_some() || i == self.step;
        steps.iter().enumerate().filter(|(i, _)| shown(*i)).map(|(_, s)| s.view.shows.clone()).collect()
    }

    /// Shows another step: a closer look and a selection are of the one before.
    pub(super) fn go_to(&mut self, step: usize) {
        if self.step != step {
            (self.mark, self.look, self.gesture) = (None, None, None);
        }
        self.step = step;
    }

    /// Where a place lies on the screen, while a picture shows it.
    pub fn on_screen(&self, space: &Space, at: Anchored) -> Option<egui::Pos2> {
        self.picture.placing()?.place(space, at).map(Into::into)
    }

    /// How often a picture was drawn.
    pub fn drawn(&self) -> u64 {
        self.picture.rebuilds
    }

    /// Esc: the innermost thing. False when there was nothing.
    pub fn back_out(&mut self) -> bool {
        if self.presenting.take().is_some() || self.gesture.take().is_some() {
            return true;
        }
        if self.tool != Tool::Select {
            self.tool = Tool::Select;
            return true;
        }
        self.mark.take().is_some() || self.look.take().is_some()
    }
}

/// The window at this stage: lessons and steps on the left, the picture in the middle, the step on the right.
pub fn regions(ui: &mut Ui, session: &Session, screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let bar = Frame::new().fill(p.panel).inner_margin(theme::margin());
    if session.document.case.lessons.is_empty() {
        CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| empty::no_lesson(ui, session, out));
        return;
    }
    let (left, right) = if screen.narrow { (212.0, 268.0) } else { (256.0, 324.0) };
    Panel::left("lessons").frame(bar).exact_size(left).resizable(false).show(ui, |ui| {
        lessons::show(ui, session, &mut screen.handout, out);
    });
    let step = screen.handout.step(&session.document.case).is_some();
    if step {
        Panel::right("step").frame(bar).exact_size(right).resizable(false).show(ui, |ui| {
            step::show(ui, session, &mut screen.handout, out);
        });
    }
    CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
        if step {
            Panel::top("handout tools").frame(bar).show(ui, |ui| toolbar::show(ui, session, &screen.handout, out));
            canvas::show(ui, session, screen, out);
        } else {
            empty::no_step(ui, out);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn esc_backs_out_one_thing_at_a_time() {
        let mut screen = HandoutScreen { tool: Tool::Arrow, mark: Some(1), ..HandoutScreen::default() };
        assert!(screen.back_out());
        assert_eq!((screen.tool, screen.mark), (Tool::Select, Some(1)));
        assert!(screen.back_out());
        assert_eq!(screen.mark, None);
        assert!(!screen.back_out());
    }

    #[test]
    fn what_is_shown_is_there_after_lessons_went() {
        let mut screen = HandoutScreen { lesson: 2, step: 5, mark: Some(3), ..HandoutScreen::default() };
        let lesson = Lesson { steps: vec![Step::default(); 2], ..Lesson::default() };
        screen.settle(&Case { lessons: vec![lesson], ..Case::default() });
        assert_eq!((screen.lesson, screen.step, screen.mark), (0, 1, None));
    }
}
