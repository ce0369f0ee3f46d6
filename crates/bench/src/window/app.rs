//! The window's state and the only place that carries commands out. Runs without a real window too, for tests.

use std::{path::PathBuf, sync::Arc};

use egui::{CentralPanel, Context, Frame, Panel, Ui, ViewportCommand};

use super::{
    command::{Command, Pick},
    form::Draft,
    jobs::{Finished, Job, Jobs},
    keys,
    map::{self, texture::MapTexture, view::MapView},
    next::next_action,
    panels::{card, dialogs, empty, footer, form, palette, progress, stages, strip, suspects, tools, top_bar},
    screen::{Fault, PaletteState, Screen},
    session::Session,
    stage::Stage,
    words,
    work::{self, Outcome},
};
use crate::theme::{self, NARROW_WIDTH, Palette};

/// Titles of work that is shown with its progress. What is not listed runs quietly.
const OPENING: &str = "Opening";
const LOCATING: &str = "Locating";
const LOOKING: &str = "Looking at the frames";
const PROPOSING: &str = "Looking for the onset";
const SAVING: &str = "Saving";
const PICKING: &str = "File dialog";
const FILES: &str = "Looking at the files";

/// The window.
#[derive(Debug, Default)]
pub struct App {
    /// The open case.
    pub session: Option<Session>,
    /// What the screen shows.
    pub screen: Screen,
    jobs: Jobs<Outcome>,
    /// The map's texture.
    pub texture: MapTexture,
    hottest: Option<((u64, usize), f32)>,
    title: String,
    ctx: Option<Context>,
    /// Whether commands may lose unsaved changes.
    regardless: bool,
    /// Whether the window is about to close.
    leaving: bool,
    /// Holds a simulated practice case while the window is open.
    practice_folder: Option<tempfile::TempDir>,
}

impl App {
    /// An empty window in the default theme.
    pub fn new(ctx: &Context) -> Self {
        let app = Self { ctx: Some(ctx.clone()), ..Self::default() };
        ctx.set_theme(app.screen.bench.theme());
        app
    }

    /// A window that shows a case which is already there.
    pub fn with_session(session: Session) -> Self {
        let mut app = Self::default();
        app.screen.welcome(&session);
        app.session = Some(session);
        app
    }

    /// Work under way that is worth showing.
    pub fn running(&self) -> impl Iterator<Item = &Job> {
        self.jobs.running().iter().filter(|j| j.title != PICKING && j.title != FILES)
    }

    /// What the title bar says: the leading suspect or the selection, the case, the program.
    pub fn title(&self) -> String {
        let Some(session) = &self.session else {
            return "Joulemark".to_owned();
        };
        let selection = &self.screen.selection;
        let mut said = Vec::new();
        if let Some(view) = session.view() {
            if let Some(part) = &selection.part {
                let share = selection
                    .spot
                    .and_then(|s| view.answer(s))
                    .and_then(|a| a.suspects.iter().find(|s| s.part == *part))
                    .map(|s| format!(" {}", words::percent(s.probability)));
                said.push(format!("{part}{}", share.unwrap_or_default()));
            }
            if let Some(spot) = selection.spot {
                said.push(format!("hot spot {}", spot + 1));
            }
        }
        said.push(session.document.case.name.clone());
        said.push("Joulemark".to_owned());
        said.join(" \u{2013} ")
    }

    /// One frame.
    pub fn ui(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        self.ctx = Some(ctx.clone());
        for finished in self.jobs.poll() {
            self.take_in(finished);
        }
        let mut commands = Vec::new();
        self.screen.narrow = ui.available_width() < NARROW_WIDTH;
        self.screen.hover_next = Default::default();
        dropped(&ctx, &mut commands);
        keys::read(&ctx, &self.screen, &mut commands);
        self.regions(ui, &mut commands);
        let session = self.session.as_ref();
        if let Some(mut draft) = self.screen.form.take() {
            let busy = self.jobs.running().iter().any(|j| j.title != PICKING && j.title != FILES);
            form::show(ui, &mut draft, busy, &mut commands);
            self.screen.form = Some(draft);
        }
        hovering(ui);
        palette::show(ui, session, &mut self.screen, &mut commands);
        dialogs::path(ui, &mut self.screen.path, &mut commands);
        dialogs::show(ui, &self.screen, &mut commands);
        self.check_form();
        if self.screen.hover != self.screen.hover_next {
            self.screen.hover = self.screen.hover_next.clone();
            ctx.request_repaint();
        }
        if !commands.is_empty() {
            ctx.request_repaint();
        }
        for command in commands {
            self.apply(command);
        }
        let title = self.title();
        if title != self.title {
            ctx.send_viewport_cmd(ViewportCommand::Title(title.clone()));
            self.title = title;
        }
    }

    fn regions(&mut self, ui: &mut Ui, out: &mut Vec<Command>) {
        let p = Palette::of(ui);
        let bar = Frame::new().fill(p.panel).inner_margin(theme::margin());
        let narrow = self.screen.narrow;
        Panel::top("top").frame(bar).exact_size(44.0).show(ui, |ui| {
            top_bar::show(ui, self.session.as_ref(), &self.screen, out);
        });
        let shown: Vec<&Job> = self.running().collect();
        if !shown.is_empty() {
            let frame = Frame::new().fill(p.raised).inner_margin(theme::margin());
            Panel::top("progress").frame(frame).show(ui, |ui| progress::show(ui, &shown, out));
        }
        let busy = !shown.is_empty();
        let column = Frame::new().fill(p.panel).inner_margin(egui::Margin::symmetric(6, 8));
        Panel::left("stages").frame(column).exact_size(stages::width(narrow)).resizable(false).show(ui, |ui| {
            stages::show(ui, self.session.as_ref(), &self.screen, out);
        });
        let Some(session) = &self.session else {
            CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| empty::no_case(ui, busy, out));
            return;
        };
        let view = session.view().cloned();
        let hottest = view.as_ref().and_then(|v| hottest(&mut self.hottest, v, self.screen.frame));
        let width = if narrow { 272.0 } else { 312.0 };
        Panel::right("answers").frame(bar).exact_size(width).resizable(false).show(ui, |ui| {
            let next = next_action(session, busy);
            Panel::bottom("next")
                .frame(Frame::new().inner_margin(egui::Margin { top: 8, ..Default::default() }))
                .show(ui, |ui| suspects::next_button(ui, next.as_ref(), out));
            CentralPanel::default().frame(Frame::new()).show(ui, |ui| {
                card::show(ui, session, &mut self.screen, hottest, out);
                theme::hairline(ui);
                egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                    card::cautions(ui, session, &self.screen, out);
                    match &view {
                        Some(view) => suspects::show(ui, session, view, &mut self.screen, out),
                        None => {
                            ui.label("Suspects appear once a take is read and located.");
                        }
                    }
                });
            });
        });
        if let Some(view) = &view {
            Panel::bottom("strip").frame(bar).exact_size(strip::height(narrow)).resizable(false).show(ui, |ui| {
                strip::show(ui, view, &mut self.screen, out);
            });
        }
        CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
            Panel::top("tools").frame(bar).show(ui, |ui| tools::show(ui, Some(session), &mut self.screen, out));
            let Some(view) = &view else {
                empty::no_take(ui, session, busy, out);
                return;
            };
            Panel::bottom("footer").frame(bar).show(ui, |ui| {
                footer::show(ui, view, &mut self.screen, &self.texture, out);
            });
            map::show(ui, session, view, &mut self.screen, &mut self.texture, out);
        });
    }

    /// Carries a command out.
    pub fn apply(&mut self, command: Command) {
        self.screen.said = None;
        if self.would_lose(&command) {
            return;
        }
        match command {
            Command::Regardless(command) => {
                self.regardless = true;
                self.apply(*command);
                self.regardless = false;
            }
            Command::Edit(edit) => self.with_session_mut(|s| s.apply(edit)),
            Command::Undo => self.time_travel(Session::undo, "Undone"),
            Command::Redo => self.time_travel(Session::redo, "Done again"),
            Command::SelectSpot(spot) => {
                self.screen.selection.spot = Some(spot);
                self.screen.selection.part = None;
            }
            Command::SelectPart(part) => self.select_part(part),
            Command::SelectSuspect { spot, part } => {
                self.screen.selection.spot = Some(spot);
                self.screen.selection.part = Some(part);
            }
            Command::SelectRail(rail) => {
                let same = self.screen.selection.rail.as_ref() == Some(&rail);
                self.screen.selection.rail = (!same).then_some(rail);
            }
            Command::BackOut => self.back_out(),
            Command::SetFrame(frame) => self.screen.frame = frame.min(self.last_frame()),
            Command::StepFrame(by) => {
                let at = i64::try_from(self.screen.frame).unwrap_or(i64::MAX).saturating_add(by).max(0);
                self.screen.frame = usize::try_from(at).unwrap_or(usize::MAX).min(self.last_frame());
            }
            Command::SetStage(stage) => {
                self.screen.stage = stage;
                // The cautions belong where the hands are.
                let read = self.session.as_ref().is_none_or(|s| s.document.cautions_read);
                self.screen.cautions_open = stage == Stage::Injection && !read;
            }
            Command::SetLayer(layer) => {
                self.screen.layer = layer;
                self.screen.range = None;
            }
            Command::SetScale(scale) => self.screen.scale = scale,
            Command::SetRange(range) => self.screen.range = range,
            Command::Fit => self.screen.map = None,
            Command::Zoom(factor) => self.zoom(factor),
            Command::ShowPart(part) => self.show_part(part),
            Command::SetBench(bench) => {
                self.screen.bench = bench;
                if let Some(ctx) = &self.ctx {
                    ctx.set_theme(bench.theme());
                }
            }
            Command::Palette(open) => self.screen.palette = open.then(PaletteState::default),
            Command::Keys(open) => self.screen.keys_shown = open,
            Command::ShowTake(name) => self.show_take(name),
            Command::Pick(pick) => {
                let start = self.screen.last_folder.clone();
                self.start(PICKING, move |_| work::pick(pick, start));
            }
            Command::Typed(pick, path) => {
                self.screen.path = None;
                self.picked(pick, path);
            }
            Command::Open(paths) => self.open(paths),
            Command::OpenPractice => self.open_practice(),
            Command::NewCase(draft) => self.screen.form = Some(*draft),
            Command::CloseForm => self.screen.form = None,
            Command::ProposeOnset => {
                if let Some(draft) = self.screen.form.clone() {
                    self.start(PROPOSING, move |progress| work::propose_onset(&draft, progress));
                }
            }
            Command::LocateForm => {
                if let Some(draft) = self.screen.form.clone() {
                    self.start(OPENING, move |progress| work::open_draft(&draft, progress));
                }
            }
            Command::Locate => self.locate(),
            Command::Cancel(id) => self.jobs.cancel(id),
            Command::Save => self.save(),
            Command::Fault(fault) => self.screen.fault = Some(*fault),
            Command::DismissFault => self.screen.fault = None,
            Command::ShowCautions(open) => self.screen.cautions_open = open,
            Command::Quit => {
                self.leaving = true;
                if let Some(ctx) = &self.ctx {
                    ctx.send_viewport_cmd(ViewportCommand::Close);
                }
            }
        }
    }

    /// Asks before unsaved changes are lost.
    fn would_lose(&mut self, command: &Command) -> bool {
        let leaves = matches!(
            command,
            Command::Open(_) | Command::OpenPractice | Command::LocateForm | Command::Quit | Command::Pick(Pick::Case)
        );
        let Some(session) = self.session.as_ref().filter(|s| leaves && !self.regardless && s.unsaved()) else {
            return false;
        };
        self.screen.fault = Some(Fault {
            title: "Changes are not saved".to_owned(),
            message: format!(
                "{} has changes that are not saved; save them first, or go on without them",
                session.document.case.name
            ),
            action: Some(("Go on without saving".to_owned(), Command::Regardless(Box::new(command.clone())))),
        });
        true
    }

    /// Whether the window may close now; asks when changes would be lost.
    pub fn may_close(&mut self) -> bool {
        if !self.leaving && self.session.as_ref().is_some_and(Session::unsaved) {
            self.apply(Command::Quit);
            return false;
        }
        true
    }

    fn with_session_mut(&mut self, change: impl FnOnce(&mut Session)) {
        if let Some(session) = &mut self.session {
            change(session);
        }
    }

    fn time_travel(&mut self, travel: fn(&mut Session) -> Option<String>, said: &str) {
        self.screen.fields = Default::default();
        if let Some(words) = self.session.as_mut().and_then(travel) {
            self.screen.said = Some(format!("{said}: {words}"));
        }
    }

    fn last_frame(&self) -> usize {
        self.session.as_ref().and_then(Session::view).map_or(0, |v| v.take.timeline.len().saturating_sub(1))
    }

    fn select_part(&mut self, part: String) {
        let spot = self.session.as_ref().and_then(Session::view).and_then(|v| v.suspect(&part)).map(|(spot, _)| spot);
        if spot.is_some() {
            self.screen.selection.spot = spot;
        }
        self.screen.selection.part = Some(part);
    }

    fn show_part(&mut self, part: String) {
        if let (Some(view), Some(canvas)) = (self.session.as_ref().and_then(Session::view), self.screen.canvas) {
            self.screen.map = map::zoom_to_part(view, &part, canvas).or(self.screen.map);
        }
        self.select_part(part);
    }

    fn zoom(&mut self, factor: f32) {
        let (Some(view), Some(canvas)) = (self.session.as_ref().and_then(Session::view), self.screen.canvas) else {
            return;
        };
        let shape = view.take.stack.shape();
        let mut at = self.screen.map.unwrap_or_else(|| MapView::fit(shape, canvas.size()));
        at.zoom(factor, canvas.center(), canvas, shape);
        self.screen.map = Some(at);
    }

    /// Esc: the innermost thing that is open or running.
    fn back_out(&mut self) {
        let screen = &mut self.screen;
        if screen.fault.take().is_some()
            || screen.palette.take().is_some()
            || screen.path.take().is_some()
            || std::mem::take(&mut screen.keys_shown)
        {
            return;
        }
        if let Some(id) = self.running().map(|j| j.id).last() {
            self.jobs.cancel(id);
        } else if self.screen.form.take().is_none() {
            if self.screen.selection.part.take().is_some() || self.screen.selection.rail.take().is_some() {
                return;
            }
            self.screen.selection = Default::default();
        }
    }

    fn cancel_all(&mut self, titles: &[&str]) {
        for id in self.jobs.running().iter().filter(|j| titles.contains(&j.title.as_str())).map(|j| j.id) {
            self.jobs.cancel(id);
        }
    }

    /// Starts work in the background.
    pub fn start(
        &mut self,
        title: &str,
        job: impl FnOnce(&super::jobs::JobProgress) -> Outcome + Send + 'static,
    ) -> u64 {
        self.jobs.start(self.ctx.as_ref(), title, job)
    }

    /// Opens a case, or puts loose files into the form.
    pub fn open(&mut self, paths: Vec<PathBuf>) {
        let is_case = |p: &PathBuf| {
            p.join(crate::case::CASE_FILE).exists() || p.file_name().is_some_and(|n| n == crate::case::CASE_FILE)
        };
        match paths.as_slice() {
            [] => {}
            [one] if self.screen.form.is_none() && (is_case(one) || !one.exists()) => {
                let path = one.clone();
                self.start(OPENING, move |progress| work::open_case(&path, progress));
            }
            _ => {
                let mut draft = self.screen.form.take().unwrap_or_default();
                draft.take_in(&paths);
                self.screen.form = Some(draft);
            }
        }
    }

    /// Opens the bundled practice case.
    pub fn open_practice(&mut self) {
        self.start(OPENING, |progress| work::open_practice(progress));
    }

    fn show_take(&mut self, name: String) {
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
    fn locate(&mut self) {
        let Some(session) = &self.session else {
            return;
        };
        let (folder, document) = (session.folder.clone(), session.document.clone());
        let (board, name, serial) = (Arc::clone(&session.board), session.shown.clone(), session.serial);
        let read = session.view().zip(document.take(&name)).and_then(|(view, entry)| {
            let same = view.inputs.inject_from == entry.inject_from && view.inputs.counts == entry.counts;
            same.then(|| Arc::clone(&view.take))
        });
        self.cancel_all(&[LOCATING]);
        self.start(LOCATING, move |progress| {
            match work::view_take(folder.as_deref(), &document, &board, &name, read, progress) {
                Ok((view, fault)) => Outcome::Viewed(serial, Box::new(view), fault),
                Err(error) => Outcome::Failed(work::fault("Could not read the take", &error)),
            }
        });
    }

    fn save(&mut self) {
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
            let (case, serial) = (session.document.case.clone(), session.serial);
            self.start(SAVING, move |progress| work::save(serial, folder, case, progress));
        }
    }

    /// Looks at the form's files when their paths changed.
    fn check_form(&mut self) {
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

    /// Takes the result of work in. Cancelled work changes nothing.
    fn take_in(&mut self, finished: Finished<Outcome>) {
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
            Outcome::Viewed(serial, view, fault) => {
                if let Some(session) = self.session.as_mut().filter(|s| s.serial == serial) {
                    let shown = session.shown == view.take.name;
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
            Outcome::Frames(path, found) => self.with_draft(|d| d.frames_found = Some((path, found))),
            Outcome::Files(found) => self.with_draft(|d| d.files_found = found),
            Outcome::Proposed(proposal) => self.with_draft(|d| d.proposal = Some(proposal)),
            Outcome::NoDialog(pick) => self.screen.path = Some((pick, String::new())),
            Outcome::Picked(pick, path) => self.picked(pick, path),
            Outcome::Saved(serial, folder, case) => {
                if let Some(session) = self.session.as_mut().filter(|s| s.serial == serial) {
                    // Only what saving itself changes is taken over: the user may have gone on editing.
                    session.saved_in(folder, *case);
                }
            }
            Outcome::Failed(fault) => self.screen.fault = Some(fault),
        }
    }

    fn opened(&mut self, session: Session, fault: Option<Fault>) {
        self.cancel_all(&[LOCATING, OPENING]);
        self.screen.form = None;
        self.screen.last_folder = session.folder.as_ref().and_then(|f| f.parent()).map(PathBuf::from);
        self.screen.welcome(&session);
        self.session = Some(session);
        self.screen.fault = fault;
    }

    fn with_draft(&mut self, change: impl FnOnce(&mut Draft)) {
        if let Some(draft) = &mut self.screen.form {
            change(draft);
            draft.settle();
        }
    }

    fn picked(&mut self, pick: Pick, path: Option<PathBuf>) {
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
        }
    }
}

/// The hottest value of a frame, found once per frame and not once per repaint.
fn hottest(memo: &mut Option<((u64, usize), f32)>, view: &super::session::TakeView, frame: usize) -> Option<f32> {
    if !map::readout::absolute(view) || frame >= view.take.stack.shape().frames {
        return None;
    }
    let key = (view.serial, frame);
    if let Some((k, value)) = memo
        && *k == key
    {
        return Some(*value);
    }
    let value = view.take.stack.frame(frame).iter().copied().filter(|v| v.is_finite()).fold(f32::MIN, f32::max);
    *memo = Some((key, value));
    Some(value)
}

/// Says what dropping will do while files hover over the window.
fn hovering(ui: &Ui) {
    if ui.input(|i| i.raw.hovered_files.is_empty()) {
        return;
    }
    let layer = egui::LayerId::new(egui::Order::Tooltip, egui::Id::unique("dropping"));
    let painter = ui.ctx().layer_painter(layer);
    let screen = ui.ctx().content_rect();
    painter.rect_filled(screen, 0.0, egui::Color32::from_black_alpha(170));
    let words = "Drop a case folder to open it, or files to make a new case";
    painter.text(screen.center(), egui::Align2::CENTER_CENTER, words, theme::large(), theme::OVER_MAP);
}

/// Files dropped onto the window.
fn dropped(ctx: &Context, out: &mut Vec<Command>) {
    let paths: Vec<PathBuf> = ctx.input(|i| {
        i.raw.dropped_files.iter().map(|f| f.path().to_owned()).filter(|p| !p.as_os_str().is_empty()).collect()
    });
    if !paths.is_empty() {
        out.push(Command::Open(paths));
    }
}
