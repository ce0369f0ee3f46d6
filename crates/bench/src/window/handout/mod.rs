//! The handout stage: lessons of the case, their steps, marks on what a step shows, presenting them to a class. A mark is
//! kept in millimetres of the board or pixels of the recording, never in points of the screen.

mod act;
mod canvas;
mod command;
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
mod tool;
mod toolbar;

pub use act::{Done, act, add_lesson};
pub use command::{Change, HandoutCommand};
pub use export::HandoutFile;
pub use names::{mark_name, place_words};
pub use snapshot::this_view;
pub use tool::Tool;

use std::collections::HashSet;

use egui::{CentralPanel, Frame, Panel, Ui};

use super::{command::Command, screen::Screen, session::Session};
use crate::{
    case::Case,
    lesson::{Anchored, Lesson, Mark, Shows, Space, Step, Zoom, mark::Style},
    theme::{self, Palette},
};
use gesture::Gesture;
use picture::Picture;
use present::Presenting;
pub(super) use sources::{Photos, photo_file, seen};

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
