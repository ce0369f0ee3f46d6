//! The handout stage within the window: from requests to changes of the lessons, and the presentation.

use egui::ViewportCommand;

use super::{
    super::{
        document::Edit,
        handout::{
            self, Done, HandoutCommand,
            present::{Presenting, Turn},
        },
        stage::Stage,
        work,
    },
    App, LOCATING, OPENING, STEP_PHOTO,
};
use crate::lesson::{Lesson, Shows, outline};

impl App {
    /// Carries out what is asked of the stage.
    pub(super) fn handout(&mut self, command: HandoutCommand) {
        match command {
            HandoutCommand::FromCase => self.lesson_from_case(),
            HandoutCommand::AddThisView => self.add_this_view(),
            HandoutCommand::ReadAgain => self.read_again(),
            HandoutCommand::Present => self.present(),
            HandoutCommand::Turn(turn) => self.turn(turn),
            command => {
                let Some(session) = &self.session else {
                    return;
                };
                if let Some(done) = handout::act(&session.document.case, &mut self.screen.handout, command) {
                    self.change_lessons(done);
                }
            }
        }
    }

    fn change_lessons(&mut self, done: Done) {
        let place = |ctx: &egui::Context| (ctx.memory(|m| m.focused()), ctx.input(|i| i.pointer.press_start_time()));
        let (focused, pressed) = self.ctx.as_ref().map(place).unwrap_or_default();
        let going_on = done.goes_on.then(|| (done.edit.words.clone(), focused, pressed));
        let same = going_on.is_some() && self.screen.handout.going_on == going_on;
        self.screen.handout.going_on = going_on;
        self.with_session_mut(|s| {
            if same {
                s.go_on(Edit::Bench(done.edit));
            } else {
                s.apply(Edit::Bench(done.edit));
            }
        });
        self.settle_handout();
    }

    /// After the lessons changed by whatever way.
    pub(super) fn settle_handout(&mut self) {
        if let Some(session) = &self.session {
            self.screen.handout.settle(&session.document.case);
        }
    }

    /// A lesson of what the case has, to begin with.
    fn lesson_from_case(&mut self) {
        let Some(session) = &self.session else {
            return;
        };
        let case = &session.document.case;
        let lesson = outline::from_case(case, &session.board, handout::seen(session, &session.shown).as_ref());
        let done = handout::add_lesson(case, &mut self.screen.handout, lesson);
        self.change_lessons(done);
        self.screen.stage = Stage::Handout;
    }

    /// What map or drawing show becomes a step, of a new lesson where there is none.
    fn add_this_view(&mut self) {
        let Some(session) = &self.session else {
            return;
        };
        let view = handout::this_view(session, &self.screen);
        if session.document.case.lessons.is_empty() {
            let done = handout::add_lesson(&session.document.case, &mut self.screen.handout, Lesson::default());
            self.change_lessons(done);
        }
        let Some(session) = &self.session else {
            return;
        };
        let add = HandoutCommand::AddStep(view);
        let done = handout::act(&session.document.case, &mut self.screen.handout, add);
        let Some(done) = done else {
            return;
        };
        self.change_lessons(done);
        let lesson = self.session.as_ref().and_then(|s| self.screen.handout.lesson(&s.document.case));
        let name = lesson.map_or("", |l| l.name.as_str());
        self.screen.said = Some(format!("Step {} added to {name}", self.screen.handout.step + 1));
    }

    /// What the picture of the step needs, once more: reading it failed, or it was read and not located.
    fn read_again(&mut self) {
        self.screen.handout.asked.clear();
        self.screen.handout.photos.forget_missing();
        let Some(session) = &self.session else {
            return;
        };
        let step = self.screen.handout.step(&session.document.case);
        let take = step.and_then(|s| s.view.shows.take()).filter(|t| session.views.contains_key(*t)).map(str::to_owned);
        if let Some(take) = take {
            self.read_take(take);
        }
    }

    /// Reads takes and photos that pictures of the lesson need and that are not there yet.
    pub(super) fn read_for_lesson(&mut self) {
        let titles = [LOCATING, OPENING, STEP_PHOTO];
        self.screen.handout.reading = self.jobs.running().iter().any(|j| titles.contains(&j.title.as_str()));
        let Some(session) = self.session.as_ref().filter(|_| self.screen.stage == Stage::Handout) else {
            return;
        };
        let case = &session.document.case;
        for shows in self.screen.handout.needs(case) {
            if let Some(take) = shows.take().filter(|t| session.document.take(t).is_some()) {
                let waits = self.jobs.running().iter().any(|j| j.title == LOCATING || j.title == OPENING);
                if session.views.contains_key(take) || waits || !self.screen.handout.asked.insert(take.to_owned()) {
                    continue;
                }
                let take = take.to_owned();
                self.read_take(take);
                return;
            }
            let Shows::Photo { face, .. } = shows else {
                continue;
            };
            let Some(path) = handout::photo_file(session, &face).filter(|p| !self.screen.handout.photos.tried(p))
            else {
                continue;
            };
            if self.screen.handout.asked.insert(path.display().to_string()) {
                self.start(STEP_PHOTO, move |_| work::load_step_photo(path));
                return;
            }
        }
    }

    fn present(&mut self) {
        self.settle_handout();
        let handout = &mut self.screen.handout;
        let steps = self.session.as_ref().and_then(|s| handout.lesson(&s.document.case)).map_or(0, |l| l.steps.len());
        if steps == 0 {
            self.screen.said = Some("There is no step to present yet".to_owned());
            return;
        }
        handout.presenting = Some(Presenting::default());
        self.screen.stage = Stage::Handout;
        self.whole_screen(true);
    }

    fn whole_screen(&self, on: bool) {
        if let Some(ctx) = &self.ctx {
            ctx.send_viewport_cmd(ViewportCommand::Fullscreen(on));
        }
    }

    fn turn(&mut self, turn: Turn) {
        let handout = &mut self.screen.handout;
        let now = self.ctx.as_ref().map_or(0.0, |c| c.input(|i| i.time));
        let lesson = self.session.as_ref().and_then(|s| handout.lesson(&s.document.case));
        let shown = lesson.zip(handout.presenting.as_mut());
        match shown.and_then(|(lesson, presenting)| presenting.turn(turn, lesson, handout.step, now)) {
            Some(step) => handout.go_to(step),
            None => self.end_presenting(),
        }
    }

    /// Back to the stage, at the step that was shown last.
    pub(super) fn end_presenting(&mut self) {
        if self.screen.handout.presenting.take().is_some() {
            self.whole_screen(false);
        }
    }
}
