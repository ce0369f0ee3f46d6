//! What the screen shows: selection, hover, zoom, layer, frame, theme, open dialogs. Nothing here belongs to the case.

use std::path::PathBuf;

use joulemark_locate::FootprintCurve;
use serde::{Deserialize, Serialize};

use super::{
    command::{Command, Pick},
    compare::CompareScreen,
    desk::DeskScreen,
    drawing::{Drawing, import::Import, shelf::ShelfScreen, view::DrawingView},
    exercise::ExerciseScreen,
    form::Draft,
    handout::HandoutScreen,
    lining::Lining,
    map::view::MapView,
    panels::{device::DeviceDraft, shop::ShopDraft},
    plan::PlanScreen,
    readings::ReadingsScreen,
    session::Session,
    stage::Stage,
    survey::SurveyScreen,
};
use crate::case::intervention::Doing;
pub use crate::layer::Layer;
use crate::theme::ramp::ColourScale;

/// From where to where the layer is coloured.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Range {
    /// As the layer suggests.
    #[default]
    Auto,
    /// Two values by hand.
    Between(f32, f32),
    /// Two shares of the layer's pixels, in percent: so many lie below.
    Percentiles(f32, f32),
}

/// A second layer over the first.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Over {
    /// Which.
    pub layer: Layer,
    /// How much of it is seen, 0 to 1.
    pub share: f32,
    /// Whether it is the clearer the higher its value, so that the first layer stays in sight where there is nothing.
    pub by_value: bool,
}

/// What lights up in all regions.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Selection {
    /// A hot spot, by index.
    pub spot: Option<usize>,
    /// A part, by designator.
    pub part: Option<String>,
    /// A rail, by name.
    pub rail: Option<String>,
}

impl Selection {
    /// Whether nothing is selected.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// Dark or light.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Bench {
    /// For a dark room, where thermal pictures are usually taken.
    #[default]
    Dark,
    /// For daylight.
    Light,
}

impl Bench {
    /// The egui theme.
    pub fn theme(self) -> egui::Theme {
        match self {
            Self::Dark => egui::Theme::Dark,
            Self::Light => egui::Theme::Light,
        }
    }
}

/// A fault that the user has to see.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// What could not be done: "Could not open the case".
    pub title: String,
    /// One line: file, place, remedy.
    pub message: String,
    /// What can be done about it.
    pub action: Option<(String, Command)>,
}

/// Text fields that are committed when left.
#[derive(Clone, Debug, Default)]
pub struct Fields {
    /// Lead resistance being typed.
    pub lead_ohms: Option<String>,
    /// Who is at the bench, being typed.
    pub by: Option<String>,
    /// Case name being typed.
    pub name: Option<String>,
    /// Onset being typed.
    pub inject_from: Option<usize>,
}

/// What the picture measures over a part.
#[derive(Clone, Debug)]
pub struct PartCurve {
    /// Number of the view, and the part.
    pub of: (u64, String),
    /// Its curve; `None` where the part lies outside the picture.
    pub curve: Option<FootprintCurve>,
}

/// The palette's state.
#[derive(Clone, Debug, Default)]
pub struct PaletteState {
    /// What is typed.
    pub text: String,
    /// The highlighted entry.
    pub at: usize,
}

/// State of the screen.
#[derive(Debug, Default)]
pub struct Screen {
    /// The stage whose tools are shown.
    pub stage: Stage,
    /// What is selected.
    pub selection: Selection,
    /// What is under the pointer; collected while drawing, shown in the next frame.
    pub hover: Selection,
    /// Hover collected so far in this frame.
    pub hover_next: Selection,
    /// Zoom and pan; `None` fits the picture.
    pub map: Option<MapView>,
    /// Where the map was drawn last.
    pub canvas: Option<egui::Rect>,
    /// The picture point under the pointer.
    pub pointer_px: Option<[f64; 2]>,
    /// What the map shows.
    pub layer: Layer,
    /// Its colours.
    pub scale: ColourScale,
    /// Its range.
    pub range: Range,
    /// Whether layer and range stay when another take is shown.
    pub range_kept: bool,
    /// A second layer over it.
    pub over: Option<Over>,
    /// The layer and the second layer that the user chose last, for the next take.
    pub liked: Layer,
    /// See [`Self::liked`].
    pub liked_over: Option<Over>,
    /// Grid and show-behind of the drawing bench, as they were last.
    pub grid_mm: Option<f64>,
    /// See [`Self::grid_mm`].
    pub ghost: bool,
    /// The selected part's curve in the take shown, once it was read.
    pub part_curve: Option<PartCurve>,
    /// The current frame.
    pub frame: usize,
    /// Dark or light.
    pub bench: Bench,
    /// Whether the window is narrow; found out each frame.
    pub narrow: bool,
    /// The command palette, when open.
    pub palette: Option<PaletteState>,
    /// A fault to be seen.
    pub fault: Option<Fault>,
    /// A path being typed where the desktop has no file dialog.
    pub path: Option<(Pick, String)>,
    /// The import dialog, when open.
    pub import: Option<Import>,
    /// The shelf's dialog, when open.
    pub shelf: Option<ShelfScreen>,
    /// The new-case form, when open.
    pub form: Option<Draft>,
    /// The drawing bench, when open.
    pub drawing: Option<Drawing>,
    /// The lining-up screen, when open.
    pub lining: Option<Lining>,
    /// Whether the keyboard help is open.
    pub keys_shown: bool,
    /// The file dialog's last folder.
    pub last_folder: Option<PathBuf>,
    /// A short word about what was just done ("Undone: set the rail to V5").
    pub said: Option<String>,
    /// Fields being typed in.
    pub fields: Fields,
    /// Whether all cautions are spelled out, not only those of the stage.
    pub cautions_open: bool,
    /// Why something was refused at the cautions, one line.
    pub refused: Option<String>,
    /// Who is at the bench; empty when nobody said.
    pub by: String,
    /// Whether the case log is open.
    pub log_shown: bool,
    /// What was done to which part, while its dialog is open.
    pub doing: Option<(Doing, String)>,
    /// Which device it is, while its dialog is open.
    pub device: Option<DeviceDraft>,
    /// The shop's letterhead, while its dialog is open.
    pub shop: Option<ShopDraft>,
    /// The readings stage.
    pub readings: ReadingsScreen,
    /// The injection plan.
    pub plan: PlanScreen,
    /// The shop's library, when open.
    pub desk: Option<DeskScreen>,
    /// The repair check.
    pub compare: CompareScreen,
    /// The handout stage.
    pub handout: HandoutScreen,
    /// The millivolt survey, when open.
    pub survey: Option<SurveyScreen>,
    /// The student's desk, and what instructors make and collect.
    pub exercise: ExerciseScreen,
    /// Zoom of a face that is only looked at, with the face and session that it is of.
    pub face_view: Option<((String, u64), DrawingView)>,
}

impl Screen {
    /// The curve of the selected part in a view, once it was read.
    pub fn curve_of_part(&self, serial: u64) -> Option<(&str, &FootprintCurve)> {
        let known = self.part_curve.as_ref().filter(|c| c.of.0 == serial && self.part_selected(&c.of.1))?;
        Some((known.of.1.as_str(), known.curve.as_ref()?))
    }

    /// A spot that is selected, or else hovered.
    pub fn lit_spot(&self) -> Option<usize> {
        self.hover.spot.or(self.selection.spot)
    }

    /// Whether a part is selected.
    pub fn part_selected(&self, designator: &str) -> bool {
        self.selection.part.as_deref() == Some(designator)
    }

    /// Whether a part is under the pointer somewhere.
    pub fn part_hovered(&self, designator: &str) -> bool {
        self.hover.part.as_deref() == Some(designator)
    }

    /// After a case was opened or located: the strongest hot spot is selected, everything else starts afresh.
    pub fn welcome(&mut self, session: &Session) {
        let view = session.view();
        self.selection = Selection::default();
        self.hover = Selection::default();
        self.map = None;
        self.fields = Fields::default();
        self.refused = None;
        let located = view.and_then(|v| v.located.as_ref());
        let kept = self.range_kept && (located.is_some() || !self.layer.needs_answer());
        if !kept {
            (self.range, self.range_kept) = (Range::Auto, false);
            self.layer = if located.is_some() { self.liked } else { Layer::Frame };
        }
        self.over = self.liked_over.filter(|_| located.is_some());
        self.frame = view.map_or(0, |v| v.take.timeline.injecting.iter().rposition(|&on| on).unwrap_or(0));
        self.selection.spot = located.filter(|l| !l.hot_spots.is_empty()).map(|_| 0);
        self.stage = match located {
            Some(l) if l.hot_spots.is_empty() => Stage::HotSpots,
            Some(_) => Stage::Suspects,
            None => Stage::Capture,
        };
    }
}
