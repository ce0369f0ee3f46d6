//! The only place that carries commands out.

use std::path::Path;

use egui::ViewportCommand;

use super::{
    super::{
        command::{Command, Pick},
        drawing::Draw,
        exercise,
        lining::LiningCommand,
        map::{self, texture, view::MapView},
        panels::{device::DeviceDraft, shop::ShopDraft},
        screen::{Fault, PaletteState, Range},
        session::Session,
        stage::Stage,
        work,
    },
    App, PICKING, PROPOSING,
};

impl App {
    /// Carries a command out.
    pub fn apply(&mut self, command: Command) {
        self.screen.said = None;
        if let Some(why) = exercise::gate::refuses(self.session.as_ref(), &command) {
            self.screen.said = Some(why.to_owned());
            return;
        }
        if self.would_lose(&command) {
            return;
        }
        match command {
            Command::Regardless(command) => {
                self.regardless = true;
                self.apply(*command);
                self.regardless = false;
            }
            Command::Edit(edit) if self.refuses(&edit) => {}
            Command::Edit(edit) => {
                self.with_session_mut(|s| s.apply(edit));
                self.settle_drawing();
                self.settle_handout();
            }
            Command::Draw(draw) => self.draw(draw),
            Command::NewDrawing(name) => self.new_drawing(&name),
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
            Command::StepFrame(by) if self.comparing() => self.step_compared(by),
            Command::Fit if self.comparing() => self.screen.compare.view = None,
            Command::Compare(command) => self.compare(command),
            Command::Exercise(command) => self.exercise(command),
            Command::Handout(command) => self.handout(command),
            Command::Desk(command) => self.desk(command),
            Command::StepFrame(by) => {
                let at = i64::try_from(self.screen.frame).unwrap_or(i64::MAX).saturating_add(by).max(0);
                self.screen.frame = usize::try_from(at).unwrap_or(usize::MAX).min(self.last_frame());
            }
            Command::SetStage(stage) => {
                self.screen.stage = stage;
                self.screen.desk = None;
                // A stage is about the map.
                self.close_drawing();
                self.screen.survey = None;
            }
            Command::SetLayer(layer) => {
                (self.screen.layer, self.screen.liked) = (layer, layer);
                // Another quantity: the old ends mean nothing for it.
                (self.screen.range, self.screen.range_kept) = (Range::Auto, false);
            }
            Command::SetScale(scale) => self.screen.scale = scale,
            Command::SetRange(range) => self.screen.range = range,
            Command::KeepRange(keep) => {
                if let Some(view) = self.session.as_ref().and_then(Session::view).filter(|_| keep) {
                    // What is kept are the ends themselves, so that takes compare.
                    let (low, high) = texture::range(&self.screen, view);
                    self.screen.range = Range::Between(low, high);
                }
                self.screen.range_kept = keep;
            }
            Command::SetOver(over) => (self.screen.over, self.screen.liked_over) = (over, over),
            Command::Fit => self.screen.map = None,
            Command::Zoom(factor) => self.zoom(factor),
            Command::ShowPart(part) if self.screen.drawing.is_some() => self.draw(Draw::Find(part)),
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
                // The desktop's own dialog has asked already.
                if !self.would_replace(pick, path.as_deref()) {
                    self.picked(pick, path);
                }
            }
            Command::Open(paths) => self.open(paths),
            Command::OpenPractice => self.open_practice(),
            Command::NewCase(draft) => self.screen.form = Some(*draft),
            Command::AddTake(files) => self.add_take(&files),
            Command::AddPlainTake(shows) => self.add_plain_take(shows),
            Command::CloseForm => self.screen.form = None,
            Command::ProposeOnset => {
                if let Some(draft) = self.screen.form.clone() {
                    self.start(PROPOSING, move |progress| work::propose_onset(&draft, progress));
                }
            }
            Command::LocateForm => {
                if let Some(draft) = self.screen.form.clone() {
                    self.read_form(draft);
                }
            }
            Command::Locate if self.session.as_ref().is_some_and(|s| s.document.case.exercise.is_some()) => {
                self.prepare_exercise();
            }
            Command::Locate => self.locate(),
            Command::Cancel(id) => self.jobs.cancel(id),
            Command::Save => self.save(),
            Command::Fault(fault) => self.screen.fault = Some(*fault),
            Command::DismissFault => self.screen.fault = None,
            Command::Import(command) => self.import(command),
            Command::Shelf(command) => self.shelf(command),
            Command::Lining(command) => self.line_up(command),
            Command::ShowCautions(open) => self.screen.cautions_open = open,
            Command::By(name) => self.set_by(&name),
            Command::CaseLog(open) => self.screen.log_shown = open,
            Command::Device => self.screen.device = self.session.as_ref().map(DeviceDraft::of),
            Command::SetDevice(draft) => self.set_device(*draft),
            Command::Shop => self.screen.shop = Some(ShopDraft::of(&self.remembered().shop)),
            Command::SetShop(draft) => {
                self.remember(|s| s.shop = draft.shop());
            }
            Command::AskDone(what, part) => self.screen.doing = Some((what, part)),
            Command::BeforeFilming(open) => {
                self.screen.stage = if open { Stage::Capture } else { self.screen.stage };
                self.screen.plan.ready_shown = open;
            }
            command @ (Command::Readings(_)
            | Command::Plan(_)
            | Command::Measure
            | Command::Survey(_)
            | Command::Acknowledge(..)
            | Command::NewConnection
            | Command::Did(..)) => self.hands(command),
            Command::Quit => {
                self.close_log();
                self.leaving = true;
                if let Some(ctx) = &self.ctx {
                    ctx.send_viewport_cmd(ViewportCommand::Close);
                }
            }
        }
    }

    /// Asks before unsaved changes are lost.
    pub(super) fn would_lose(&mut self, command: &Command) -> bool {
        let leaves = matches!(
            command,
            Command::Open(_)
                | Command::OpenPractice
                | Command::NewDrawing(_)
                | Command::Quit
                | Command::Pick(Pick::Case)
        );
        let makes_case = self.screen.form.as_ref().is_some_and(|d| d.into.is_none());
        let leaves = leaves || (makes_case && *command == Command::LocateForm);
        let leaves = leaves && !matches!(command, Command::Open(paths) if self.for_drawing(paths));
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

    /// Asks before a file or another case is replaced by what is written.
    pub(super) fn would_replace(&mut self, pick: Pick, path: Option<&Path>) -> bool {
        let Some(path) = path.filter(|_| !self.regardless) else {
            return false;
        };
        let own = self.session.as_ref().and_then(|s| s.folder.as_deref()) == Some(path);
        let there = match pick {
            Pick::ExportSvg
            | Pick::ExportJson
            | Pick::Report
            | Pick::LibraryCsv(_)
            | Pick::LibraryPlots
            | Pick::ClassCsv => path.exists(),
            Pick::Handout(kind) => kind.named(path).exists(),
            Pick::SaveCase => !own && path.join(crate::case::CASE_FILE).exists(),
            _ => false,
        };
        if there {
            let command = Command::Typed(pick, Some(path.to_owned()));
            self.screen.fault = Some(Fault {
                title: "There is one already".to_owned(),
                message: format!("{} is there already; replace it, or choose another name", path.display()),
                action: Some(("Replace it".to_owned(), Command::Regardless(Box::new(command)))),
            });
        }
        there
    }

    /// Whether the window may close now; asks when changes would be lost.
    pub fn may_close(&mut self) -> bool {
        if !self.leaving && self.session.as_ref().is_some_and(Session::unsaved) {
            self.apply(Command::Quit);
            return false;
        }
        self.close_log();
        true
    }

    pub(super) fn with_session_mut(&mut self, change: impl FnOnce(&mut Session)) {
        if let Some(session) = &mut self.session {
            change(session);
        }
    }

    pub(super) fn time_travel(&mut self, travel: fn(&mut Session) -> Option<String>, said: &str) {
        self.screen.fields = Default::default();
        if let Some(words) = self.session.as_mut().and_then(travel) {
            self.screen.said = Some(format!("{said}: {words}"));
            self.screen.handout.going_on = None;
            self.settle_drawing();
            self.settle_handout();
        }
    }

    pub(super) fn last_frame(&self) -> usize {
        self.session.as_ref().and_then(Session::view).map_or(0, |v| v.take.timeline.len().saturating_sub(1))
    }

    pub(super) fn select_part(&mut self, part: String) {
        let spot = self.session.as_ref().and_then(Session::view).and_then(|v| v.suspect(&part)).map(|(spot, _)| spot);
        if spot.is_some() {
            self.screen.selection.spot = spot;
        }
        self.screen.selection.part = Some(part);
    }

    pub(super) fn show_part(&mut self, part: String) {
        if let (Some(view), Some(canvas)) = (self.session.as_ref().and_then(Session::view), self.screen.canvas) {
            self.screen.map = map::zoom_to_part(view, &part, canvas).or(self.screen.map);
        }
        self.select_part(part);
    }

    pub(super) fn zoom(&mut self, factor: f32) {
        let (Some(view), Some(canvas)) = (self.session.as_ref().and_then(Session::view), self.screen.canvas) else {
            return;
        };
        let shape = view.take.stack.shape();
        let mut at = self.screen.map.unwrap_or_else(|| MapView::fit(shape, canvas.size()));
        at.zoom(factor, canvas.center(), canvas, shape);
        self.screen.map = Some(at);
    }

    /// Esc: the innermost thing that is open or running.
    pub(super) fn back_out(&mut self) {
        let screen = &mut self.screen;
        if screen.fault.take().is_some()
            || screen.palette.take().is_some()
            || screen.path.take().is_some()
            || screen.import.take().is_some()
            || screen.shelf.take().is_some()
            || screen.readings.paste.take().is_some()
            || screen.doing.take().is_some()
            || screen.device.take().is_some()
            || screen.shop.take().is_some()
            || screen.exercise.make.take().is_some()
            || screen.exercise.class.take().is_some()
            || screen.desk.take().is_some()
            || std::mem::take(&mut screen.log_shown)
            || std::mem::take(&mut screen.keys_shown)
        {
            return;
        }
        if let Some(lining) = &mut self.screen.lining {
            // The point that waits goes first, then the screen.
            let command = if lining.pending.is_some() { LiningCommand::RemoveLast } else { LiningCommand::Done };
            self.line_up(command);
            return;
        }
        if let Some(id) = self.running().map(|j| j.id).last() {
            self.jobs.cancel(id);
        } else if self.screen.form.take().is_none() {
            if let Some(drawing) = &mut self.screen.drawing {
                drawing.back_out();
                return;
            }
            if self.screen.stage == Stage::Handout && self.screen.handout.back_out() {
                return;
            }
            if self.screen.refused.take().is_some() {
                return;
            }
            if self.screen.survey.take().is_some() {
                return;
            }
            if self.screen.selection.part.take().is_some() || self.screen.selection.rail.take().is_some() {
                return;
            }
            self.screen.selection = Default::default();
        }
    }
}
