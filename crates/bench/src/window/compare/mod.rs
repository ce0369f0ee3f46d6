//! The repair check in the window: a take before and a take after, in board millimetres, with zoom, colours and time in
//! common. The verdict comes from the engine; nothing is worked out here.

mod act;
mod canvas;
mod controls;
mod curves;
mod picture;
mod verdict;
pub mod work;

pub use act::{edit, pair};
pub use controls::show as show_controls;
pub use curves::show as show_curves;
pub use picture::DifferenceTexture;
pub use verdict::show as show_verdict;

use std::sync::Arc;

use egui::Ui;
use joulemark_locate::{FootprintCurve, repair_check::RepairCheck};

use super::{
    command::Command,
    drawing::view::DrawingView,
    map::texture::MapTexture,
    panels::strip::nearest,
    screen::Screen,
    session::{Session, TakeView},
};

/// Two takes that were compared.
#[derive(Clone, Debug)]
pub struct Compared {
    /// The take before.
    pub before: Arc<TakeView>,
    /// The take after.
    pub after: Arc<TakeView>,
    /// What came out.
    pub check: Arc<RepairCheck>,
    /// The rise at the site in either take, frame by frame.
    pub curves: [Option<FootprintCurve>; 2],
    /// How often the document had changed when it was made.
    pub changes: u64,
}

impl Compared {
    /// Names of both takes.
    pub fn names(&self) -> (&str, &str) {
        (&self.before.take.name, &self.after.take.name)
    }

    /// The moment that current is switched on in a take, in its own time.
    fn onset_s(view: &TakeView) -> f64 {
        let timeline = &view.take.timeline;
        timeline.first_injected().and_then(|f| timeline.time_s.get(f)).copied().unwrap_or(0.0)
    }

    /// The frame of a take at a time since current was switched on.
    fn frame_at(view: &TakeView, since_onset_s: f64) -> usize {
        nearest(&view.take.timeline.time_s, since_onset_s + Self::onset_s(view))
    }

    /// From when to when both takes show something, since current was switched on.
    pub fn span_s(&self) -> (f64, f64) {
        let ends = |view: &TakeView| {
            let (times, onset) = (&view.take.timeline.time_s, Self::onset_s(view));
            (times.first().copied().unwrap_or(0.0) - onset, times.last().copied().unwrap_or(0.0) - onset)
        };
        let (b, a) = (ends(&self.before), ends(&self.after));
        (b.0.min(a.0), b.1.max(a.1))
    }
}

/// How two takes are laid beside or over each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum How {
    /// Before on the left, after on the right.
    #[default]
    SideBySide,
    /// One place, a line that is dragged over it.
    Wipe,
    /// One place, in turns.
    Blink,
    /// Before less after.
    Difference,
}

impl How {
    /// All, in the order of the chooser.
    pub const ALL: [Self; 4] = [Self::SideBySide, Self::Wipe, Self::Blink, Self::Difference];

    /// Its name.
    pub fn words(self) -> &'static str {
        match self {
            Self::SideBySide => "Side by side",
            Self::Wipe => "Wipe",
            Self::Blink => "Blink",
            Self::Difference => "Difference",
        }
    }
}

/// What the screen knows about the comparison.
#[derive(Clone, Debug)]
pub struct CompareScreen {
    /// The take before; the case's own choice when `None`.
    pub before: Option<String>,
    /// The take after.
    pub after: Option<String>,
    /// How both are laid out.
    pub how: How,
    /// Whether the frame at the time cursor is shown instead of the rise at the end.
    pub at_time: bool,
    /// The time cursor, in seconds since current was switched on.
    pub since_onset_s: f64,
    /// Where the wipe's line stands, as a share of the canvas.
    pub wipe: f32,
    /// Whether the take after is in sight while blinking.
    pub after_in_sight: bool,
    /// Whether blinking goes on by itself.
    pub blinking: bool,
    /// When it changed last, in the window's time.
    pub blinked_at: f64,
    /// Zoom and pan; `None` fits the board.
    pub view: Option<DrawingView>,
    /// The takes that were tried last, and how often the document had changed: a failure is not repeated by itself.
    pub tried: Option<(String, String, u64)>,
    /// The lead's words below the signature, being typed.
    pub note: String,
}

impl Default for CompareScreen {
    fn default() -> Self {
        Self {
            before: None,
            after: None,
            how: How::default(),
            at_time: false,
            since_onset_s: 0.0,
            wipe: 0.5,
            after_in_sight: false,
            blinking: true,
            blinked_at: 0.0,
            view: None,
            tried: None,
            note: String::new(),
        }
    }
}

/// What the stage can ask for.
#[derive(Clone, Debug, PartialEq)]
pub enum CompareCommand {
    /// The take before.
    Before(String),
    /// The take after.
    After(String),
    /// How both are laid out.
    How(How),
    /// Show the rise at the end, or the moment at the time cursor.
    AtTime(bool),
    /// Move the time cursor.
    Time(f64),
    /// Show the other one, and stop blinking by itself.
    Other,
    /// Blink by itself, or no longer.
    Blink(bool),
    /// Fit the board.
    Fit,
    /// Work it out.
    Run,
    /// Put the verdict on record.
    Record,
    /// Sign the case off, with a word.
    SignOff(String),
    /// Take the signature back.
    Unsign,
}

/// The middle of the window at the repair check.
pub fn show(
    ui: &mut Ui,
    session: &Session,
    screen: &mut Screen,
    textures: &mut [MapTexture; 2],
    difference: &mut DifferenceTexture,
    busy: bool,
    out: &mut Vec<Command>,
) {
    match session.compared() {
        Some(compared) => canvas::show(ui, session, compared, screen, textures, difference, out),
        None => canvas::nothing_yet(ui, session, &screen.compare, busy, out),
    }
}
