//! The student's desk: what is shown in place of the stages when the open case is an exercise. Readings, drawing, recording
//! and lining up are open; whatever the program knows stays shut until the exercise is handed in.

mod act;
mod answers;
pub mod class;
mod feedback;
mod field;
pub mod gate;
mod keys;
pub mod make;
mod marks;
mod pane;
mod readings;
mod recording;
mod task;
pub mod work;

pub use act::KEEPING;
pub use keys::{KEYS, read as read_keys};

use std::{collections::BTreeMap, path::PathBuf, sync::Arc};

use egui::{Align, CentralPanel, Frame, Layout, Panel, Ui};
use joulemark_locate::{FootprintCurve, Located};

use super::{
    command::Command,
    lining,
    map::texture::MapTexture,
    play::Playing,
    screen::{Layer, Screen},
    session::{Session, TakeView},
};
use crate::{
    case::exercise::{Answers, Exercise, Place},
    exercise::{Answer, Score},
    theme::{self, Palette},
};

/// What the middle shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tab {
    /// What is asked.
    #[default]
    Task,
    /// The meter's readings.
    Readings,
    /// The drawing.
    Drawing,
    /// The take.
    Recording,
}

impl Tab {
    /// All, in the order of the work, with their keys.
    pub const ALL: [(Self, &str, egui::Key); 4] = [
        (Self::Task, "Task", egui::Key::Num1),
        (Self::Readings, "Readings", egui::Key::Num2),
        (Self::Drawing, "Drawing", egui::Key::Num3),
        (Self::Recording, "Recording", egui::Key::Num4),
    ];
}

/// What the desk can ask for.
#[derive(Clone, Debug, PartialEq)]
pub enum ExerciseCommand {
    /// Show this in the middle.
    Tab(Tab),
    /// Answer so; the words are for undo.
    Answer(Box<Answers>, &'static str),
    /// Put the cross somewhere.
    Place(Place),
    /// Move the cross by so many millimetres.
    Step([f64; 2]),
    /// Show a layer; one that was not seen before costs a look unless it is a plain one.
    Look(Layer),
    /// Show the curve at the cross, for a look unless it was seen.
    LookCurve,
    /// Play the recording, or stop.
    Play(bool),
    /// Hand in.
    HandIn,
    /// Work on the same exercise again.
    Again,
    /// Another exercise as hard as this one.
    Another,
    /// Where hand-ins are collected; empty for nowhere.
    ClassFile(String),
    /// Open the dialog that makes exercises, or close it.
    Make(bool),
    /// Make an exercise as the dialog says, into a folder.
    MakeInto(PathBuf),
    /// Show a class file, or close it.
    Class(Option<PathBuf>),
    /// Write the class in clear.
    ClassCsv(PathBuf),
}

/// State of the desk.
#[derive(Debug, Default)]
pub struct ExerciseScreen {
    /// Whether the open case is an exercise; found out each frame.
    pub here: bool,
    /// What the middle shows.
    pub tab: Tab,
    /// The face on the drawing; the filmed one where nobody chose.
    pub face: Option<String>,
    /// Fields being typed in, by name.
    typed: BTreeMap<&'static str, String>,
    /// The recording, while it plays.
    playing: Option<Playing>,
    /// The curve that was looked at last.
    curve: Option<(Place, FootprintCurve)>,
    /// Whether arrow keys move the cross; found out each frame.
    on_canvas: bool,
    /// Session and change that were kept last, so that what cannot be saved is not tried for ever.
    kept: Option<(u64, u64)>,
    /// The dialog that makes exercises, when open.
    pub make: Option<make::MakeDraft>,
    /// A class file, when open.
    pub class: Option<class::ClassShown>,
}

/// What is known of an exercise in the open session.
#[derive(Clone, Debug, Default)]
pub struct Results {
    /// The maps to look at: the take as it is shown, with nothing in it that tells a hot spot or a suspect.
    pub maps: Option<Arc<TakeView>>,
    /// What the program found; shown after handing in.
    pub located: Option<Arc<Located>>,
    /// Why there is neither.
    pub fault: Option<String>,
    /// The score of what was handed in last.
    pub feedback: Option<Arc<Feedback>>,
}

/// A score with the answer that it stands on.
#[derive(Clone, Debug)]
pub struct Feedback {
    /// What is right.
    pub answer: Answer,
    /// The points.
    pub score: Score,
}

/// Lets those who listen hear it whenever it changes.
fn aloud(ui: &Ui, response: &egui::Response) {
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_live(egui::accesskit::Live::Polite));
}

/// Layers that cost nothing: the recording as it is.
pub fn is_plain(layer: Layer) -> bool {
    matches!(layer, Layer::Frame | Layer::Before)
}

/// Draws the desk in place of the stages.
pub fn show(
    ui: &mut Ui,
    session: &Session,
    screen: &mut Screen,
    textures: &mut [MapTexture; 2],
    busy: bool,
    out: &mut Vec<Command>,
) {
    let Some(exercise) = &session.document.case.exercise else { return };
    let p = Palette::of(ui);
    let bar = Frame::new().fill(p.panel).inner_margin(theme::margin());
    screen.exercise.on_canvas = false;
    let width = if screen.narrow { 324.0 } else { 372.0 };
    Panel::right("exercise").frame(bar).exact_size(width).resizable(false).show(ui, |ui| {
        match session.results.feedback.as_ref().filter(|_| exercise.open()) {
            Some(feedback) => feedback::show(ui, session, exercise, feedback, busy, out),
            None => answers::show(ui, session, exercise, screen, out),
        }
    });
    if let Some(view) = session.view().cloned().filter(|_| screen.lining.is_some()) {
        CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
            lining::show(ui, session, &view, screen, &mut textures[0], out);
        });
        return;
    }
    CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
        Panel::top("exercise tabs").frame(bar).show(ui, |ui| tabs(ui, exercise, screen, out));
        match screen.exercise.tab {
            Tab::Task => task::show(ui, &exercise.task),
            Tab::Readings => readings::show(ui, session),
            Tab::Drawing => pane::drawing(ui, session, screen, out),
            Tab::Recording => recording::show(ui, session, exercise, screen, textures, out),
        }
    });
}

fn tabs(ui: &mut Ui, exercise: &Exercise, screen: &Screen, out: &mut Vec<Command>) {
    ui.horizontal(|ui| {
        for (tab, words, key) in Tab::ALL {
            let chosen = ui.selectable_label(screen.exercise.tab == tab, words);
            if chosen.on_hover_text(format!("Key {}", key.symbol_or_name())).clicked() {
                out.push(Command::Exercise(ExerciseCommand::Tab(tab)));
            }
        }
        // In sight wherever a look may be asked for.
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let looks = ui.label(format!("Looks used: {}", exercise.looks.len()));
            aloud(ui, &looks);
        });
    });
}
