//! What the stage can ask for.

use super::{StaysOn, Tool, present::Turn};
use crate::lesson::{Mark, Plays, Shows, View, Zoom};

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
