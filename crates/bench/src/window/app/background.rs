//! Starts work in the background and takes its results in.

use std::{path::PathBuf, sync::Arc};

use joulemark_locate::footprint_curve;

use super::{
    super::{
        command::{Command, Pick},
        compare::CompareScreen,
        desk::DeskCommand,
        document::Edit,
        exercise::ExerciseCommand,
        form::Draft,
        handout::HandoutScreen,
        jobs::{Finished, JobProgress},
        practice,
        screen::{Fault, PartCurve},
        session::{Session, TakeView},
        stage::Stage,
        words,
        work::{self, Outcome},
    },
    App, FILES, LOCATING, LOOKING, OPENING, READING, SAVING,
};
use crate::case::{TakeEntry, shows::Shows};
use joulemark_locate::board::Board;

impl App {
    pub(super) fn cancel_all(&mut self, titles: &[&str]) {
        for id in self.jobs.running().iter().filter(|j| titles.contains(&j.title.as_str())).map(|j| j.id) {
            self.jobs.cancel(id);
        }
    }

    /// Stops work of that title.
    pub(in crate::window) fn stop(&mut self, title: &str) {
        self.cancel_all(&[title]);
    }

    /// Whether work of that title is under way.
    pub(in crate::window) fn is_running(&self, title: &str) -> bool {
        self.jobs.running().iter().any(|j| j.title == title)
    }

    /// The context of the last frame.
    pub(in crate::window) fn context(&self) -> Option<&egui::Context> {
        self.ctx.as_ref()
    }

    /// Starts work in the background.
    pub fn start(&mut self, title: &str, job: impl FnOnce(&JobProgress) -> Outcome + Send + 'static) -> u64 {
        self.jobs.start(self.ctx.as_ref(), title, job)
    }

    /// Opens a case, or puts loose files into the form.
    pub fn open(&mut self, paths: Vec<PathBuf>) {
        let is_case = |p: &PathBuf| {
            p.join(crate::case::CASE_FILE).exists() || p.file_name().is_some_and(|n| n == crate::case::CASE_FILE)
        };
        let is_picture = |p: &PathBuf| {
            let ending = p.extension().and_then(|e| e.to_str()).map(str::to_lowercase);
            ending.is_some_and(|e| ["png", "jpg", "jpeg", "bmp", "webp"].contains(&e.as_str()))
        };
        match paths.as_slice() {
            [] => {}
            [one] if self.screen.drawing.is_some() && self.screen.form.is_none() && is_picture(one) => {
                self.read_photo(one.clone());
            }
            files if self.for_drawing(files) => self.import_files(files.to_vec()),
            [one] if self.screen.form.is_none() && (is_case(one) || !one.exists()) => {
                let path = one.clone();
                self.start(OPENING, move |progress| work::open_case(&path, progress));
            }
            // A case that has a drawing and waits for its first take.
            files if self.screen.form.is_none() && self.session.as_ref().is_some_and(Session::waits_for_take) => {
                self.apply(Command::AddTake(files.to_vec()));
            }
            _ => {
                let mut draft = self.screen.form.take().unwrap_or_default();
                draft.take_in(&paths);
                self.screen.form = Some(draft);
            }
        }
    }

    /// Opens the form for one more take of the open case.
    pub(super) fn add_take(&mut self, files: &[PathBuf]) {
        let Some(session) = &self.session else {
            return;
        };
        if session.board.faces.iter().all(|f| f.parts.is_empty()) {
            self.screen.said = Some("draw the parts first: a take is read against them".into());
            return;
        }
        let mut draft = Draft::for_case(session);
        draft.take_in(files);
        self.screen.form = Some(draft);
    }

    /// The same, for a take that eyes judge.
    pub(super) fn add_plain_take(&mut self, shows: Shows) {
        self.add_take(&[]);
        if let Some(draft) = &mut self.screen.form {
            draft.shows = shows;
            draft.name_by_kind();
        }
    }

    /// Reads what the form says: a new case, or a take of the open one.
    pub(super) fn read_form(&mut self, draft: Draft) {
        match (&draft.into, &self.session) {
            (None, _) => {
                self.start(OPENING, move |progress| work::open_draft(&draft, progress));
            }
            (Some(into), Some(session)) if into.serial == session.serial => {
                let (serial, document, board) = (session.serial, session.document.clone(), Arc::clone(&session.board));
                let folder = session.folder.clone();
                self.start(OPENING, move |progress| {
                    work::add_take(serial, folder.as_deref(), &draft, &document, &board, progress)
                });
            }
            // The case that the take was meant for is no longer open.
            (Some(_), _) => self.screen.form = None,
        }
    }

    /// Puts a take that was read into its case, where it is shown.
    fn take_added(&mut self, serial: u64, (entry, rail, view): (TakeEntry, String, TakeView), fault: Option<Fault>) {
        let Some(session) = self.session.as_mut().filter(|s| s.serial == serial) else {
            return;
        };
        let (name, words) = (entry.name.clone(), format!("add take {}", entry.name));
        let index = session.document.case.takes.len();
        let edits = vec![Edit::AddTake { index, entry: Box::new(entry) }, Edit::Rail(rail)];
        session.apply(Edit::Several { words, edits });
        session.views.insert(name.clone(), Arc::new(view));
        session.shown = name;
        self.screen.form = None;
        self.screen.welcome(session);
        self.screen.fault = fault;
        self.close_drawing();
    }

    /// Opens the bundled practice case.
    pub fn open_practice(&mut self) {
        self.start(OPENING, |progress| work::open_practice(progress));
    }

    pub(super) fn show_take(&mut self, name: String) {
        let Some(session) = &mut self.session else {
            return;
        };
        session.shown = name;
        if session.view().is_some() {
            let session = session.clone();
            self.screen.welcome(&session);
        } else {
            self.locate();
        }
    }

    /// Locates the shown take again, reading it again where its onset or law changed.
    pub(super) fn locate(&mut self) {
        if let Some(session) = &self.session {
            let name = session.shown.clone();
            self.cancel_all(&[LOCATING]);
            self.read_take(name);
        }
    }

    /// Reads a take and locates it.
    pub(super) fn read_take(&mut self, name: String) {
        let Some(session) = &self.session else {
            return;
        };
        let (folder, document) = (session.folder.clone(), session.document.clone());
        let (board, serial) = (Arc::clone(&session.board), session.serial);
        let read = session.views.get(&name).zip(document.take(&name)).and_then(|(view, entry)| {
            let same = view.inputs.inject_from == entry.inject_from && view.inputs.counts == entry.counts;
            same.then(|| Arc::clone(&view.take))
        });
        self.start(LOCATING, move |progress| {
            match work::view_take(folder.as_deref(), &document, &board, &name, read, progress) {
                Ok((view, fault)) => Outcome::Viewed(serial, Box::new(view), fault),
                Err(error) => Outcome::Failed(work::fault("Could not read the take", &error)),
            }
        });
    }

    pub(super) fn save(&mut self) {
        let Some(session) = &self.session else {
            return;
        };
        match session.folder.clone() {
            Some(folder) => self.save_in(folder),
            None => self.apply(Command::Pick(Pick::SaveCase)),
        }
    }

    /// Saves the case into a folder.
    pub fn save_in(&mut self, folder: PathBuf) {
        if let Some(session) = &self.session {
            let (mut case, serial) = (session.document.case.clone(), session.serial);
            let (mut board, mut drawn) = (Arc::clone(&session.board), session.drawn());
            // What belongs to a case that moves to another folder is copied from the old one.
            if let Some(old) = session.folder.as_ref().filter(|old| **old != folder) {
                case.lie_in(old);
                let photos = |board: &Board| board.faces.iter().any(|f| f.photo.is_some());
                drawn |= photos(&board);
                for photo in Arc::make_mut(&mut board).faces.iter_mut().filter_map(|f| f.photo.as_mut()) {
                    photo.file = old.join(&photo.file).to_string_lossy().into_owned();
                }
            }
            self.start(SAVING, move |progress| work::save(serial, folder, case, board, drawn, progress));
        }
    }

    /// Looks at the form's files when their paths changed.
    pub(super) fn check_form(&mut self) {
        let Some(draft) = &mut self.screen.form else {
            return;
        };
        draft.settle();
        let wanted = [draft.log.clone(), draft.board.clone(), draft.pairs.clone()];
        let frames = draft.frames.clone();
        let known = draft.frames_found.as_ref().is_some_and(|(path, _)| *path == frames);
        let looking = |title: &str| self.jobs.running().iter().any(|j| j.title == title);
        let (files, look) = (
            draft.files_found.looked_at != wanted && !looking(FILES),
            !known && !frames.trim().is_empty() && std::path::Path::new(frames.trim()).exists() && !looking(LOOKING),
        );
        if files {
            self.start(FILES, move |_| work::look_at_files(wanted));
        }
        if look {
            self.start(LOOKING, move |progress| work::look_at_frames(frames, progress));
        }
    }

    /// Reads the curve over the selected part, once per take and part.
    pub(super) fn read_part(&mut self) {
        let (Some(part), Some(session)) = (&self.screen.selection.part, &self.session) else {
            return;
        };
        let Some(view) = session.view() else {
            return;
        };
        let of = (view.serial, part.clone());
        let known = self.screen.part_curve.as_ref().is_some_and(|c| c.of == of);
        if known || self.jobs.running().iter().any(|j| j.title == READING) {
            return;
        }
        let found = view.alignment.clone().zip(session.board.part(part).map(|(_, p)| p.clone()));
        let here = session.face().is_some_and(|f| f.parts.iter().any(|p| p.designator == *part));
        let Some((alignment, drawn)) = found.filter(|_| here) else {
            // What lies behind is not seen: it has no curve of its own.
            self.screen.part_curve = Some(PartCurve { of, curve: None });
            return;
        };
        let take = Arc::clone(&view.take);
        self.start(READING, move |_| {
            let curve = footprint_curve(&take, &alignment, &drawn);
            Outcome::PartRead(PartCurve { of, curve })
        });
    }

    /// Takes the result of work in. Cancelled work changes nothing.
    pub(super) fn take_in(&mut self, finished: Finished<Outcome>) {
        let Some(outcome) = finished.result else {
            self.screen.fault = Some(Fault {
                title: format!("{} stopped", finished.title),
                message: "an internal error ended it; what was there is kept, please report the file that caused it"
                    .into(),
                action: None,
            });
            return;
        };
        if finished.cancelled {
            if let Outcome::Frames(path, _) = outcome
                && let Some(draft) = &mut self.screen.form
            {
                draft.frames_found = Some((path, Err("Reading was cancelled; change the path to try again.".into())));
            }
            self.screen.said = Some(format!("{}: cancelled, nothing was changed", finished.title));
            return;
        }
        match outcome {
            Outcome::Simulated(session, fault, place) => {
                self.opened(*session, fault);
                self.practice_folder = Some(place);
            }
            Outcome::Opened(session, fault) => self.opened(*session, fault),
            Outcome::Library(page) => self.library_found(page),
            Outcome::LibraryPictures(pictures) => self.library_pictures(pictures),
            Outcome::Compared(serial, compared) => {
                if let Some(session) = self.session.as_mut().filter(|s| s.serial == serial) {
                    session.keep_compared(*compared);
                }
            }
            Outcome::Viewed(serial, view, fault) => {
                if let Some(session) = self.session.as_mut().filter(|s| s.serial == serial) {
                    let shown = session.shown == view.take.name;
                    if let Some(located) = &view.located {
                        session.journal.note(format!("take {} located: {}", view.take.name, words::in_short(located)));
                    }
                    session.views.insert(view.take.name.clone(), Arc::new(*view));
                    if shown {
                        let stage = self.screen.stage;
                        let (map, frame) = (self.screen.map, self.screen.frame);
                        self.screen.welcome(session);
                        (self.screen.stage, self.screen.map) = (stage, map);
                        if frame < session.view().map_or(0, |v| v.take.timeline.len()) {
                            self.screen.frame = frame;
                        }
                    }
                    self.screen.fault = fault;
                }
            }
            Outcome::TakeAdded(serial, added, fault) => self.take_added(serial, *added, fault),
            Outcome::PartRead(curve) => self.screen.part_curve = Some(curve),
            Outcome::Frames(path, found) => self.with_draft(|d| d.frames_found = Some((path, found))),
            Outcome::Files(found) => self.with_draft(|d| d.files_found = found),
            Outcome::Proposed(proposal) => self.with_draft(|d| d.proposal = Some(proposal)),
            Outcome::NoDialog(pick) => self.screen.path = Some((pick, String::new())),
            Outcome::Picked(pick @ Pick::Handout(_), Some(path)) if path.extension().is_none() => {
                // An ending that is added makes it a file that the dialog has not asked about.
                if !self.would_replace(pick, Some(&path)) {
                    self.picked(pick, Some(path));
                }
            }
            Outcome::Picked(Pick::SaveCase, path) if self.would_replace(Pick::SaveCase, path.as_deref()) => {}
            Outcome::Picked(pick, path) => self.picked(pick, path),
            Outcome::Saved(serial, folder, case, board) => {
                if let Some(session) = self.session.as_mut().filter(|s| s.serial == serial) {
                    // Only what saving itself changes is taken over: the user may have gone on editing.
                    session.saved_in(folder, *case, board);
                }
            }
            Outcome::StepPhoto(path, loaded) => self.screen.handout.photos.put(path, loaded.map(|l| *l)),
            Outcome::Photo(loaded) => self.photo_read(*loaded),
            Outcome::Design(found) => self.design_read(*found),
            Outcome::Shelved(found) => self.shelf_read(found),
            Outcome::FromShelf(board) => self.take_from_shelf(*board),
            Outcome::Exercise(done) => self.exercise_done(done),
            Outcome::Done(words) if words.is_empty() => {}
            Outcome::Done(words) => self.screen.said = Some(words),
            Outcome::LinedUp(serial, answer) => self.lined_up(serial, *answer),
            Outcome::Failed(fault) => self.screen.fault = Some(fault),
        }
    }

    pub(super) fn opened(&mut self, session: Session, fault: Option<Fault>) {
        self.cancel_all(&[LOCATING, OPENING]);
        self.screen.form = None;
        self.screen.desk = None;
        self.screen.compare = CompareScreen::default();
        self.end_presenting();
        self.screen.handout = HandoutScreen::default();
        self.close_drawing();
        if let Some(beside) = session.folder.as_ref().and_then(|f| f.parent()) {
            self.screen.last_folder = Some(beside.to_path_buf());
        }
        self.close_log();
        self.screen.welcome(&session);
        if session.folder.as_deref().is_some_and(practice::is_lesson) {
            self.screen.stage = Stage::Handout;
        }
        self.session = Some(session);
        self.open_log();
        self.screen.fault = fault;
        self.screen.exercise = Default::default();
        self.prepare_exercise();
    }

    pub(super) fn with_draft(&mut self, change: impl FnOnce(&mut Draft)) {
        if let Some(draft) = &mut self.screen.form {
            change(draft);
            draft.settle();
        }
    }

    pub(super) fn picked(&mut self, pick: Pick, path: Option<PathBuf>) {
        let Some(path) = path else {
            return;
        };
        self.screen.last_folder = path.parent().map(PathBuf::from);
        let text = path.display().to_string();
        match pick {
            Pick::Case => self.open(vec![path]),
            Pick::SaveCase => self.save_in(path),
            Pick::FramesFile | Pick::FramesFolder => self.with_draft(|d| d.frames = text),
            Pick::Log => self.with_draft(|d| d.log = text),
            Pick::Board => self.with_draft(|d| d.board = text),
            Pick::Pairs => self.with_draft(|d| d.pairs = text),
            Pick::Photo => self.read_photo(path),
            Pick::Design => self.import_files(vec![path]),
            Pick::DesignToo => self.import_too(path),
            Pick::ExportSvg | Pick::ExportJson => self.export(pick, path),
            Pick::BenchCard => self.print_card(path),
            Pick::Report => self.write_report(path),
            Pick::Handout(kind) => self.write_handout(kind, &path),
            Pick::LibraryFolder => self.apply(Command::Desk(DeskCommand::Folder(path))),
            Pick::LibraryCsv(what) => self.apply(Command::Desk(DeskCommand::Export(what, path))),
            Pick::MakeExercise => self.apply(Command::Exercise(ExerciseCommand::MakeInto(path))),
            Pick::ClassFile => self.apply(Command::Exercise(ExerciseCommand::Class(Some(path)))),
            Pick::ClassCsv => self.apply(Command::Exercise(ExerciseCommand::ClassCsv(path))),
            Pick::LibraryPlots => self.apply(Command::Desk(DeskCommand::ExportPlots(path))),
        }
    }
}
