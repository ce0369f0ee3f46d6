//! The window's state and one frame of it. Runs without a real window too, for tests.

mod apply;
mod background;
mod bench;
mod compare;
mod desk;
mod files;
mod handout;
mod hands;
mod material;
mod record;

use std::path::PathBuf;

use egui::{CentralPanel, Context, Frame, Panel, Ui, ViewportCommand};

use super::{
    command::Command,
    compare::{self as comparison, DifferenceTexture},
    desk as library_desk,
    drawing::photo::Underlay,
    exercise, handout as lessons,
    jobs::{Job, Jobs},
    journal::LogWork,
    keys, lining,
    map::{self, texture::MapTexture},
    next::next_action,
    panels::{
        self, before_filming, card, case_log, cautions, dialogs, doing, empty, footer, form, palette, progress, stages,
        strip, suspects, tools, top_bar,
    },
    plan, readings,
    screen::Screen,
    session::Session,
    stage::Stage,
    survey, words,
    work::Outcome,
};
use crate::{
    case::settings,
    library::Place,
    shelf::Shelf,
    theme::{self, NARROW_WIDTH, Palette},
};

/// Titles of work that is shown with its progress. What is not listed runs quietly.
const OPENING: &str = "Opening";
const LOCATING: &str = "Locating";
const LOOKING: &str = "Looking at the frames";
const PROPOSING: &str = "Looking for the onset";
const SAVING: &str = "Saving";
const PICKING: &str = "File dialog";
const FILES: &str = "Looking at the files";
const DESIGN: &str = "Reading the design files";
const SHELF: &str = "Looking on the shelf";
const EXPORTING: &str = "Writing the drawing";
const READING: &str = "Reading the part";
const COMPARING: &str = "Comparing";
const REPORT: &str = "Writing the report";
const LIBRARY: &str = "Shop library";
const PICTURES: &str = "Small pictures";
const MATERIAL: &str = "Writing the handout";
const STEP_PHOTO: &str = "Photo of a step";

/// The window.
#[derive(Debug, Default)]
pub struct App {
    /// The open case.
    pub session: Option<Session>,
    /// What the screen shows.
    pub screen: Screen,
    jobs: Jobs<Outcome>,
    /// Reads and writes the case log.
    log_work: Jobs<LogWork>,
    /// Where who is at the bench is remembered; nowhere when `None`.
    pub settings_file: Option<PathBuf>,
    /// The map's textures: the layer, and a second one over it.
    pub textures: [MapTexture; 2],
    /// The difference of two takes.
    difference: DifferenceTexture,
    /// The photo below the drawing.
    underlay: Underlay,
    /// Where drawings are kept; the user's own shelf when `None`.
    pub own_shelf: Option<Shelf>,
    /// The shop's library; the user's own when `None`.
    pub own_library: Option<Place>,
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
        let mut app = Self { ctx: Some(ctx.clone()), settings_file: settings::file(), ..Self::default() };
        app.screen.by = app.settings_file.as_deref().map(settings::load).unwrap_or_default().at_the_bench;
        ctx.set_theme(app.screen.bench.theme());
        app
    }

    /// A window that shows a case which is already there.
    pub fn with_session(session: Session) -> Self {
        let mut app = Self::default();
        app.screen.welcome(&session);
        app.session = Some(session);
        app.open_log();
        app
    }

    /// Work under way that is worth showing.
    pub fn running(&self) -> impl Iterator<Item = &Job> {
        self.jobs
            .running()
            .iter()
            .filter(|j| ![PICKING, FILES, READING, PICTURES, STEP_PHOTO, exercise::KEEPING].contains(&j.title.as_str()))
    }

    /// What the title bar says: the leading suspect or the selection, the case, the program.
    pub fn title(&self) -> String {
        let Some(session) = &self.session else {
            return "Joulemark".to_owned();
        };
        let selection = &self.screen.selection;
        let mut said = Vec::new();
        if let Some(drawing) = &self.screen.drawing {
            said.push(format!("Drawing {}", drawing.face));
        } else if self.screen.lining.is_some() {
            said.push("Lining up".to_owned());
        }
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
        self.keep_log();
        let mut commands = Vec::new();
        self.screen.narrow = ui.available_width() < NARROW_WIDTH;
        self.screen.hover_next = Default::default();
        dropped(&ctx, &mut commands);
        self.screen.exercise.here = self.session.as_ref().is_some_and(|s| s.document.case.exercise.is_some());
        keys::read(&ctx, &self.screen, &mut commands);
        self.regions(ui, &mut commands);
        let session = self.session.as_ref();
        if let Some(mut draft) = self.screen.form.take() {
            let busy = self.jobs.running().iter().any(|j| j.title != PICKING && j.title != FILES);
            form::show(ui, &mut draft, busy, &mut commands);
            self.screen.form = Some(draft);
        }
        hovering(ui, self.screen.drawing.is_some());
        palette::show(ui, session, &mut self.screen, &mut commands);
        exercise::make::show(ui, session, &mut self.screen, &mut commands);
        panels::import::show(ui, &self.screen.import, &mut commands);
        panels::shelf::show(ui, &mut self.screen.shelf, &mut commands);
        dialogs::path(ui, &mut self.screen.path, &mut commands);
        readings::show_paste(ui, session, &mut self.screen, &mut commands);
        doing::show(ui, session, &mut self.screen, &mut commands);
        panels::device::show(ui, &mut self.screen, &mut commands);
        panels::shop::show(ui, &mut self.screen, &mut commands);
        case_log::show(ui, session, &mut self.screen, &mut commands);
        dialogs::show(ui, &self.screen, &mut commands);
        self.check_form();
        self.keep_exercise();
        self.compare_by_itself();
        self.read_for_lesson();
        self.read_part();
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
        if let Some(session) = self.session.as_ref().filter(|_| self.screen.handout.presenting.is_some()) {
            CentralPanel::default().frame(Frame::new()).show(ui, |ui| {
                lessons::present::show(ui, session, &mut self.screen, out);
            });
            return;
        }
        Panel::top("top").frame(bar).exact_size(44.0).show(ui, |ui| {
            top_bar::show(ui, self.session.as_ref(), &self.screen, out);
        });
        let shown: Vec<&Job> = self.running().collect();
        if !shown.is_empty() {
            let frame = Frame::new().fill(p.raised).inner_margin(theme::margin());
            Panel::top("progress").frame(frame).show(ui, |ui| progress::show(ui, &shown, out));
        }
        let busy = !shown.is_empty();
        if let Some(class) = &self.screen.exercise.class {
            exercise::class::show(ui, class, out);
            return;
        }
        if self.screen.exercise.here
            && self.screen.desk.is_none()
            && let Some(session) = &self.session
        {
            exercise::show(ui, session, &mut self.screen, &mut self.textures, busy, out);
            return;
        }
        let column = Frame::new().fill(p.panel).inner_margin(egui::Margin::symmetric(6, 8));
        Panel::left("stages").frame(column).exact_size(stages::width(narrow)).resizable(false).show(ui, |ui| {
            stages::show(ui, self.session.as_ref(), &self.screen, out);
        });
        if let Some(desk) = &mut self.screen.desk {
            library_desk::show(ui, desk, narrow, busy, out);
            return;
        }
        let Some(session) = &self.session else {
            CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| empty::no_case(ui, busy, out));
            return;
        };
        if let Some(mut drawing) = self.screen.drawing.take() {
            bench::regions(ui, session, &mut drawing, &mut self.screen, &mut self.underlay, out);
            self.screen.drawing = Some(drawing);
            return;
        }
        if self.screen.stage == Stage::Handout && self.screen.lining.is_none() {
            lessons::regions(ui, session, &mut self.screen, out);
            return;
        }
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
                cautions::show(ui, session, &mut self.screen, out);
                egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
                    if self.screen.stage == Stage::Readings {
                        readings::ranking(ui, session, &mut self.screen, out);
                        return;
                    }
                    if self.screen.stage == Stage::RepairCheck {
                        comparison::show_verdict(ui, session, &mut self.screen, out);
                        return;
                    }
                    panels::part::show(ui, session, &self.screen, out);
                    match &view {
                        Some(view) => suspects::show(ui, session, view, &mut self.screen, out),
                        None => {
                            ui.label("Suspects appear once a take is read and located.");
                        }
                    }
                });
            });
        });
        if self.screen.stage == Stage::Injection && session.document.case.takes.is_empty() {
            plan::without_take(ui, session, &mut self.screen, out);
            return;
        }
        if self.screen.stage == Stage::Readings {
            if self.screen.survey.is_some() {
                survey::show(ui, session, &mut self.screen, out);
            } else {
                readings::show(ui, session, &mut self.screen, out);
            }
            return;
        }
        let lining_up = self.screen.lining.is_some();
        if self.screen.stage == Stage::RepairCheck && !lining_up {
            if let Some(compared) = session.compared() {
                Panel::bottom("strip").frame(bar).exact_size(strip::height(narrow)).resizable(false).show(ui, |ui| {
                    comparison::show_curves(ui, compared, &self.screen, out);
                });
            }
            CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
                Panel::top("tools").frame(bar).show(ui, |ui| {
                    comparison::show_controls(ui, session, &self.screen, out);
                });
                comparison::show(ui, session, &mut self.screen, &mut self.textures, &mut self.difference, busy, out);
            });
            return;
        }
        if let Some(view) = view.as_ref().filter(|_| !lining_up) {
            Panel::bottom("strip").frame(bar).exact_size(strip::height(narrow)).resizable(false).show(ui, |ui| {
                strip::show(ui, view, &session.judged().watch, &mut self.screen, out);
            });
        }
        CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
            if let Some(view) = view.as_ref().filter(|_| lining_up) {
                lining::show(ui, session, view, &mut self.screen, &mut self.textures[0], out);
                return;
            }
            if self.screen.stage == Stage::Injection {
                let height = plan::height(ui.available_height());
                Panel::top("plan").frame(bar).exact_size(height).resizable(false).show(ui, |ui| {
                    plan::show(ui, session, &mut self.screen, out);
                });
            } else {
                Panel::top("tools").frame(bar).show(ui, |ui| tools::show(ui, Some(session), &mut self.screen, out));
            }
            if self.screen.plan.ready_shown && self.screen.stage == Stage::Capture {
                Panel::top("before filming").frame(bar).show(ui, |ui| before_filming::show(ui, session, out));
            }
            let Some(view) = &view else {
                empty::no_take(ui, session, busy, out);
                return;
            };
            Panel::bottom("footer").frame(bar).show(ui, |ui| {
                footer::show(ui, view, &mut self.screen, &self.textures[0], out);
            });
            let _ = map::show(ui, session, view, &mut self.screen, &mut self.textures, out);
        });
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
fn hovering(ui: &Ui, drawing: bool) {
    if ui.input(|i| i.raw.hovered_files.is_empty()) {
        return;
    }
    let layer = egui::LayerId::new(egui::Order::Tooltip, egui::Id::unique("dropping"));
    let painter = ui.ctx().layer_painter(layer);
    let screen = ui.ctx().content_rect();
    painter.rect_filled(screen, 0.0, egui::Color32::from_black_alpha(170));
    let words = if drawing {
        "Drop a photo or design files for the drawing"
    } else {
        "Drop a case folder to open it, or files to make a new case"
    };
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
