//! Carries the commands of the student's desk out, and takes the answers of its background work in.

use std::{path::PathBuf, sync::Arc};

use super::{
    Answer, ExerciseCommand, Feedback, Results, Tab,
    class::ClassShown,
    is_plain, make,
    work::{self, Done, Prepared},
};
use crate::{
    case::{
        clock,
        exercise::{Answers, Exercise, HandIn, Look, Place},
    },
    exercise::{
        class::{self as class_file, Line},
        score,
    },
    window::{
        app::App,
        bench_edit::{BenchEdit, BenchPart},
        command::Command,
        document::Edit,
        play::Playing,
        screen::{Fault, Layer, Range},
        work::{Outcome, fault},
    },
};
use joulemark_locate::{board::Part, footprint_curve};

/// Title of the work, as it is shown.
const PREPARING: &str = "Working out the maps";
const MAKING: &str = "Making the exercise";
const COLLECTING: &str = "Class file";
/// What is kept by itself runs quietly.
pub const KEEPING: &str = "Keeping your answers";
/// Side of the square over which a curve is taken, in millimetres.
const CURVE_MM: f64 = 1.0;

impl App {
    fn exercise_now(&self) -> Option<&Exercise> {
        self.session.as_ref()?.document.case.exercise.as_ref()
    }

    /// Carries a command of the desk out.
    pub fn exercise(&mut self, command: ExerciseCommand) {
        match command {
            ExerciseCommand::Tab(tab) => {
                self.screen.exercise.tab = tab;
                self.screen.exercise.playing = None;
            }
            ExerciseCommand::Answer(answers, words) => self.answer(*answers, words),
            ExerciseCommand::Place(place) => self.put_cross(place),
            ExerciseCommand::Step(by_mm) => self.step_cross(by_mm),
            ExerciseCommand::Look(layer) => self.look(layer),
            ExerciseCommand::LookCurve => self.look_at_curve(),
            ExerciseCommand::Play(on) => self.play(on),
            ExerciseCommand::HandIn => self.hand_in(),
            ExerciseCommand::Again => self.work_again(),
            ExerciseCommand::Another => self.try_another(),
            ExerciseCommand::ClassFile(file) => self.change_exercise(|e| e.class = file.trim().to_owned()),
            ExerciseCommand::Make(open) => self.screen.exercise.make = open.then(make::MakeDraft::default),
            ExerciseCommand::MakeInto(folder) => self.make_exercise(folder),
            ExerciseCommand::Class(file) => self.show_class(file),
            ExerciseCommand::ClassCsv(file) => self.write_class(file),
        }
    }

    fn answer(&mut self, answers: Answers, words: &str) {
        if self.exercise_now().is_none_or(Exercise::open) {
            return;
        }
        let part = BenchPart::Answers(Box::new(answers));
        self.apply(Command::Edit(Edit::Bench(BenchEdit { words: words.to_owned(), record: None, part })));
    }

    fn put_cross(&mut self, place: Place) {
        let Some(exercise) = self.exercise_now() else { return };
        let answers = Answers { place: Some(place), ..exercise.answers.clone() };
        self.answer(answers, "put the cross");
    }

    /// The cross begins in the middle of the face.
    fn step_cross(&mut self, [dx, dy]: [f64; 2]) {
        let Some((session, exercise)) = self.session.as_ref().zip(self.exercise_now()) else { return };
        let on_drawing = self.screen.exercise.face.clone().filter(|_| self.screen.exercise.tab == Tab::Drawing);
        let Some(face) = on_drawing.or_else(|| session.face().map(|f| f.name.clone())) else { return };
        let mut place = exercise.answers.place.clone().filter(|p| p.face == face).unwrap_or_else(|| {
            let corners = session.board.face(&face).map(|f| f.outline.clone()).unwrap_or_default();
            let middle = |i: usize| corners.iter().map(|c| c[i]).sum::<f64>() / corners.len().max(1) as f64;
            Place { face, x_mm: middle(0), y_mm: middle(1) }
        });
        place.x_mm += dx;
        place.y_mm += dy;
        self.put_cross(place);
    }

    /// Changes what does not undo: looks that were used, answers that were handed in.
    fn change_exercise(&mut self, change: impl FnOnce(&mut Exercise)) {
        if let Some(session) = &mut self.session {
            session.change_exercise(change);
        }
    }

    fn look(&mut self, layer: Layer) {
        let Some(exercise) = self.exercise_now() else { return };
        if !is_plain(layer) && !exercise.open() && !exercise.has_seen(layer) {
            self.change_exercise(|e| e.looks.push(Look::Layer(layer)));
        }
        (self.screen.layer, self.screen.range, self.screen.range_kept) = (layer, Range::Auto, false);
    }

    fn look_at_curve(&mut self) {
        let Some((session, exercise)) = self.session.as_ref().zip(self.exercise_now()) else { return };
        let handed_in = exercise.handed_in.last().filter(|_| exercise.open());
        let Some(place) = handed_in.map_or(&exercise.answers, |h| &h.answers).place.clone() else { return };
        let Some((view, alignment)) = session.view().and_then(|v| Some((v, v.alignment.as_ref()?))) else { return };
        let square =
            Part { x_mm: place.x_mm, y_mm: place.y_mm, width_mm: CURVE_MM, height_mm: CURVE_MM, ..Part::default() };
        let Some(curve) = footprint_curve(&view.take, alignment, &square) else {
            self.screen.said = Some("the cross lies outside the picture".to_owned());
            return;
        };
        let look = Look::Curve(place.clone());
        if !exercise.open() && !exercise.looks.contains(&look) {
            self.change_exercise(|e| e.looks.push(look));
        }
        self.screen.exercise.curve = Some((place, curve));
    }

    fn play(&mut self, on: bool) {
        let view = self.session.as_ref().and_then(|s| s.view()).filter(|_| on);
        let started = view.zip(self.context()).map(|(view, ctx)| {
            let time_s = &view.take.timeline.time_s;
            let (first, last) = (time_s.first().copied().unwrap_or(0.0), time_s.len().saturating_sub(1));
            // From the end it starts afresh.
            let from_s = time_s.get(self.screen.frame).filter(|_| self.screen.frame < last).map_or(0.0, |t| t - first);
            Playing::Since { clock_s: ctx.input(|i| i.time), from_s }
        });
        self.screen.exercise.playing = started;
    }

    fn hand_in(&mut self) {
        let by = self.screen.by.clone();
        let Some(session) = &mut self.session else { return };
        let Some(exercise) = session.document.case.exercise.clone() else { return };
        if exercise.open() || !exercise.answers.missing().is_empty() {
            return;
        }
        let folder = session.folder.clone().unwrap_or_default();
        let answer = match Answer::open(&exercise, &folder) {
            Ok(answer) => answer,
            Err(error) => {
                self.screen.fault = Some(fault("Could not score the exercise", &error));
                return;
            }
        };
        let looks = u32::try_from(exercise.looks.len()).unwrap_or(u32::MAX);
        let score = score(&exercise.answers, looks, &answer);
        let hand_in =
            HandIn { time: clock::now(), student: by, answers: exercise.answers, looks, points: score.points };
        let attempt = exercise.handed_in.len() + 1;
        let line = Line::of(&exercise.id, attempt, &hand_in, &score, &answer);
        session.change_exercise(|e| {
            e.handed_in.push(hand_in);
            e.again = false;
        });
        session.results.feedback = Some(Arc::new(Feedback { answer, score }));
        self.screen.exercise.playing = None;
        self.screen.exercise.tab = Tab::Recording;
        if self.session.as_ref().is_some_and(|s| s.results.maps.is_some()) {
            (self.screen.layer, self.screen.range) = (Layer::Rise, Range::Auto);
        }
        if !exercise.class.is_empty() {
            let file = folder.join(&exercise.class);
            self.start(COLLECTING, move |_| work::collect(&file, &line));
        }
    }

    fn work_again(&mut self) {
        self.change_exercise(|e| {
            e.again = true;
            e.looks.clear();
        });
        if let Some(session) = &mut self.session {
            session.results.feedback = None;
        }
        (self.screen.layer, self.screen.range) = (Layer::Frame, Range::Auto);
        self.screen.exercise.curve = None;
        self.answer(Answers::default(), "begin again");
    }

    fn try_another(&mut self) {
        let Some((session, exercise)) = self.session.as_ref().zip(self.exercise_now()) else { return };
        let beside = session.folder.as_ref().and_then(|f| f.parent()).map(PathBuf::from);
        let difficulty = exercise.difficulty.unwrap_or_default();
        // The class stays the same wherever the new folder lies.
        let class = session.folder.as_ref().filter(|_| !exercise.class.is_empty()).map(|f| f.join(&exercise.class));
        let class = class.map(|c| std::path::absolute(&c).unwrap_or(c).display().to_string()).unwrap_or_default();
        self.start(MAKING, move |progress| work::another(beside, difficulty, &class, progress));
    }

    fn make_exercise(&mut self, folder: PathBuf) {
        let draft = self.screen.exercise.make.take().unwrap_or_default();
        let from = self.session.as_ref().and_then(|s| s.folder.clone());
        if from.is_none() && !draft.made_up {
            self.screen.said = Some("save the case first".to_owned());
            return;
        }
        let from = from.filter(|_| !draft.made_up);
        self.start(MAKING, move |progress| work::make_into(from, &draft, &folder, progress));
    }

    fn show_class(&mut self, file: Option<PathBuf>) {
        let Some(file) = file else {
            self.screen.exercise.class = None;
            return;
        };
        if self.exercise_now().is_some_and(|e| !e.open()) {
            // Lines of others tell the answer.
            self.screen.said = Some("hand the exercise in first: the class's results tell the answer".to_owned());
            return;
        }
        self.start(COLLECTING, move |_| work::read_class(file));
    }

    fn write_class(&mut self, file: PathBuf) {
        let Some(Ok(class)) = self.screen.exercise.class.as_ref().map(|c| c.class.as_ref()) else { return };
        self.screen.said = Some(match class_file::export(class, &file) {
            Ok(()) => format!("written to {}", file.display()),
            Err(error) => format!("{error:#}"),
        });
    }

    /// After a case was opened, and after it was lined up anew: works out the maps, and scores what was handed in.
    pub(in crate::window) fn prepare_exercise(&mut self) {
        let Some(session) = &mut self.session else { return };
        let Some(exercise) = &session.document.case.exercise else { return };
        let folder = session.folder.clone().unwrap_or_default();
        session.results = Results::default();
        if let Some(last) = exercise.handed_in.last().filter(|_| exercise.open()) {
            match Answer::open(exercise, &folder) {
                Ok(answer) => {
                    let score = score(&last.answers, last.looks, &answer);
                    session.results.feedback = Some(Arc::new(Feedback { answer, score }));
                }
                Err(error) => self.screen.fault = Some(fault("Could not read the exercise", &error)),
            }
        }
        let Some(take) = session.view().map(|v| Arc::clone(&v.take)) else { return };
        let (serial, document, board) = (session.serial, session.document.clone(), Arc::clone(&session.board));
        self.stop(PREPARING);
        self.start(PREPARING, move |progress| work::prepare(serial, &folder, &document, &board, take, progress));
    }

    /// What the work came to.
    pub(in crate::window) fn exercise_done(&mut self, done: Done) {
        match done {
            Done::Prepared(serial, prepared) => {
                let Some(session) = self.session.as_mut().filter(|s| s.serial == serial) else { return };
                let Prepared { plain, told } = *prepared;
                session.views.insert(plain.take.name.clone(), Arc::new(plain));
                match told {
                    Ok((maps, located)) => {
                        session.results.maps = Some(Arc::new(maps));
                        session.results.located = Some(located);
                    }
                    Err(why) => session.results.fault = Some(why),
                }
            }
            Done::Class(file, class) => self.screen.exercise.class = Some(ClassShown { file, class }),
        }
    }

    /// Saves a half-done exercise whenever something changed; what cannot be saved is said once.
    pub(in crate::window) fn keep_exercise(&mut self) {
        let Some(session) = self.session.as_ref().filter(|s| s.document.case.exercise.is_some()) else { return };
        let at = (session.serial, session.changes());
        let Some(folder) = session.folder.clone().filter(|_| session.unsaved()) else { return };
        if self.screen.exercise.kept == Some(at) || self.is_running(KEEPING) {
            return;
        }
        self.screen.exercise.kept = Some(at);
        let (case, board, serial) = (session.document.case.clone(), Arc::clone(&session.board), session.serial);
        self.start(KEEPING, move |progress| {
            match crate::window::work::save(serial, folder, case, board, false, progress) {
                Outcome::Failed(Fault { message, .. }) => Outcome::Done(format!("not kept: {message}")),
                saved => saved,
            }
        });
    }
}
