//! The drawing bench: the board drawn over a photo, in millimetres. State here is the screen's; the board itself is
//! part of the undoable document and changes by [`BoardEdit`] only.

pub mod act;
pub mod canvas;
mod edit;
pub mod field;
mod gesture;
pub mod import;
pub mod keys;
pub(super) mod marks;
mod names;
mod numbering;
mod panel;
mod parts;
pub mod photo;
pub mod reading;
pub mod shelf;
mod snap;
pub mod toolbar;
pub mod view;

pub use edit::BoardEdit;
pub use panel::show as show_panel;

use std::collections::BTreeSet;

use joulemark_locate::board::{Board, Face, Part, PartKind};

use self::{gesture::Gesture, view::DrawingView};

/// What a press on the canvas does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tool {
    /// Click or box parts, drag them.
    #[default]
    Select,
    /// Drag a rectangle: a part. A click: one as large as the last.
    Part,
    /// Click the outline's corners.
    Outline,
    /// Click a hole.
    Hole,
    /// Click four corners in the photo.
    Square,
    /// Drag the view.
    Pan,
}

impl Tool {
    /// All, in the order of the toolbar, with their keys.
    pub const ALL: [(Self, &'static str, &'static str); 6] = [
        (Self::Select, "Select", "S"),
        (Self::Part, "Part", "P"),
        (Self::Outline, "Outline", "O"),
        (Self::Hole, "Hole", "H"),
        (Self::Square, "Square up", "Q"),
        (Self::Pan, "Move view", "V"),
    ];

    /// What to do with it.
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Select => "Click a part, or drag a box around several; drag or use the arrows to move them.",
            Self::Part => "Drag a rectangle over each part. A click sets one as large as the last.",
            Self::Outline => "Click the corners; Enter or the first corner closes the outline.",
            Self::Hole => "Click the middle of each hole; a click on a hole takes it away.",
            Self::Square => "Click four corners of a rectangle in the photo, then type its two lengths.",
            Self::Pan => "Drag to move the view; the wheel zooms to the cursor.",
        }
    }
}

/// Sides and middles that parts line up along.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    /// Left edges.
    Left,
    /// Upper edges.
    Top,
    /// Middles, one above the other.
    Column,
    /// Middles, side by side.
    Row,
}

/// What the drawing bench can be asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Draw {
    /// Open it, with a new case when none is there.
    Open,
    /// Back to the map.
    Close,
    /// Choose a design file to take in.
    Import,
    /// Choose where the face is written as SVG.
    ExportSvg,
    /// Choose where the drawing is written as `board.json`.
    ExportJson,
    /// Keep the drawing for the next device of the same kind.
    ToShelf,
    /// Choose a drawing that was kept.
    FromShelf,
    /// Take a tool.
    Tool(Tool),
    /// The kind of the next part, and of the selected ones.
    Kind(PartKind),
    /// The kind after this one.
    NextKind,
    /// The rail of the next part; none for parts on no rail.
    Rail(Option<String>),
    /// The rail after this one.
    NextRail,
    /// A rail that is not there yet.
    NewRail(String),
    /// Go to the field where its name is typed.
    NameRail,
    /// Show a face.
    Face(String),
    /// The face after this one.
    NextFace,
    /// A further face, mirrored behind the one shown.
    AddFace,
    /// Show what lies behind, or hide it.
    Ghost,
    /// Turn the selected parts clockwise.
    Rotate(f64),
    /// Mirror the selected parts about their common middle: left to right, or top to bottom.
    Mirror { left_right: bool },
    /// Line the selected parts up.
    Align(Along),
    /// Take the selected parts out.
    Delete,
    /// Keep the selected parts for pasting.
    Copy,
    /// Put copies in, a little aside.
    Paste,
    /// Copies in rows and columns, centre to centre.
    Array { columns: usize, rows: usize, dx_mm: f64, dy_mm: f64 },
    /// Move the selected parts by grid steps.
    Nudge(f64, f64),
    /// Select these parts, besides those selected or instead.
    Select { parts: Vec<String>, add: bool },
    /// All parts of the face.
    SelectAll,
    /// Parts whose designator or rail contains the text.
    Find(String),
    /// Close the outline, or square the photo up.
    Finish,
    /// Number the selected parts anew by kind, from left to right and top to bottom.
    Renumber,
    /// Draw the outline around all parts, or around the squared-up photo.
    OutlineAround,
    /// Show all of it.
    Fit,
    /// Zoom about the middle.
    Zoom(f32),
}

/// State of the bench. Nothing of it is saved.
#[derive(Clone, Debug)]
pub struct Drawing {
    /// The face shown.
    pub face: String,
    /// The tool in hand.
    pub tool: Tool,
    /// Kind of the next part.
    pub kind: PartKind,
    /// Rail of the next part.
    pub rail: Option<String>,
    /// Size of the next part set by a click.
    pub size_mm: [f64; 2],
    /// Selected parts.
    pub selected: BTreeSet<String>,
    /// Zoom and pan; `None` fits the face.
    pub view: Option<DrawingView>,
    /// Grid spacing; zero is no grid.
    pub grid_mm: f64,
    /// Whether what lies behind is shown.
    pub ghost: bool,
    /// Diameter of the next hole.
    pub hole_mm: f64,
    /// Corners clicked so far: millimetres of an outline, pixels of a photo.
    pub points: Vec<[f64; 2]>,
    /// The two lengths typed for squaring up: upper side, left side.
    pub lengths: [String; 2],
    /// What is being dragged.
    pub gesture: Option<Gesture>,
    /// Text fields that keep what is typed.
    pub typed: Typed,
    clipboard: Vec<Part>,
    canvas: Option<egui::Rect>,
}

/// Texts being typed in the panel.
#[derive(Clone, Debug)]
pub struct Typed {
    /// Finds parts.
    pub find: String,
    /// Name of a new rail.
    pub rail: String,
    /// Whether the field for it, or for the first length of the photo, is to be typed into next.
    pub focus: bool,
    /// Why a name was not given.
    pub refused: Option<String>,
    /// Columns, rows, and both distances of an array.
    pub array: (usize, usize, f64, f64),
}

impl Drawing {
    /// The bench for a face, ready for its next step: parts once there is an outline or a photo.
    pub fn new(face: &str) -> Self {
        Self {
            face: face.to_owned(),
            tool: Tool::Part,
            kind: PartKind::Capacitor,
            rail: None,
            size_mm: [1.6, 0.8],
            selected: BTreeSet::new(),
            view: None,
            grid_mm: 0.1,
            ghost: false,
            hole_mm: 3.2,
            points: Vec::new(),
            lengths: Default::default(),
            gesture: None,
            typed: Typed {
                find: String::new(),
                rail: String::new(),
                focus: false,
                refused: None,
                array: (3, 1, 3.0, 3.0),
            },
            clipboard: Vec::new(),
            canvas: None,
        }
    }

    /// The face shown.
    pub fn face<'a>(&self, board: &'a Board) -> Option<&'a Face> {
        board.face(&self.face)
    }

    /// Where the canvas was drawn last.
    pub fn canvas(&self) -> Option<egui::Rect> {
        self.canvas
    }

    /// The view in force on a canvas.
    pub fn view_on(&self, board: &Board, canvas: egui::Rect) -> DrawingView {
        self.view.unwrap_or_else(|| DrawingView::fit(self.face(board), canvas.size()))
    }

    /// The selected parts of the face shown.
    pub fn chosen<'a>(&self, board: &'a Board) -> Vec<&'a Part> {
        let parts = self.face(board).into_iter().flat_map(|f| &f.parts);
        parts.filter(|p| self.selected.contains(&p.designator)).collect()
    }

    /// Esc: the drag, then the corners, then the selection, then the tool.
    pub fn back_out(&mut self) {
        if self.gesture.take().is_some() {
            return;
        }
        if !self.points.is_empty() {
            self.points.clear();
        } else if !self.selected.is_empty() {
            self.selected.clear();
        } else {
            self.tool = Tool::Select;
        }
    }

    /// After the board changed: a face that went away is left, parts that went away are no longer selected.
    pub fn settle(&mut self, board: &Board) {
        if self.face(board).is_none() {
            self.face = board.faces.first().map(|f| f.name.clone()).unwrap_or_default();
            self.view = None;
        }
        if let Some(face) = self.face(board) {
            self.selected.retain(|s| face.parts.iter().any(|p| p.designator == *s));
        }
        if self.rail.as_ref().is_some_and(|r| board.rail(r).is_none()) {
            self.rail = None;
        }
    }
}

/// Kinds in the order of the chooser.
pub const KINDS: [PartKind; 14] = [
    PartKind::Capacitor,
    PartKind::Resistor,
    PartKind::Inductor,
    PartKind::Ferrite,
    PartKind::Fuse,
    PartKind::Ic,
    PartKind::Module,
    PartKind::Transistor,
    PartKind::Diode,
    PartKind::Connector,
    PartKind::Crystal,
    PartKind::TestPoint,
    PartKind::Shield,
    PartKind::Other,
];

/// Everything that has a key, in words; the keyboard help and the command palette list it.
pub fn listed() -> Vec<(String, &'static str, Draw)> {
    let mut all: Vec<(String, &'static str, Draw)> =
        Tool::ALL.iter().map(|&(tool, words, key)| (format!("Tool: {words}"), key, Draw::Tool(tool))).collect();
    let more: [(&str, &str, Draw); 29] = [
        ("Turn the selected parts by 90\u{b0}", "R", Draw::Rotate(90.0)),
        ("Turn the selected parts by 15\u{b0}", "Shift+R", Draw::Rotate(15.0)),
        ("Mirror left to right", "M", Draw::Mirror { left_right: true }),
        ("Mirror top to bottom", "Shift+M", Draw::Mirror { left_right: false }),
        ("Align left edges", "A", Draw::Align(Along::Left)),
        ("Align upper edges", "Shift+A", Draw::Align(Along::Top)),
        ("Align middles in a column", "B", Draw::Align(Along::Column)),
        ("Align middles in a row", "Shift+B", Draw::Align(Along::Row)),
        ("Copy the selected parts", "Ctrl+C", Draw::Copy),
        ("Paste", "Ctrl+V", Draw::Paste),
        ("Duplicate to the right", "D", Draw::Array { columns: 2, rows: 1, dx_mm: 0.0, dy_mm: 0.0 }),
        ("Delete the selected parts", "Delete", Draw::Delete),
        ("Select all parts of this face", "Ctrl+A", Draw::SelectAll),
        ("Number the selected parts anew", "U", Draw::Renumber),
        ("Next kind of part", "K", Draw::NextKind),
        ("Next rail", "L", Draw::NextRail),
        ("New rail", "Shift+L", Draw::NameRail),
        ("Next face", "N", Draw::NextFace),
        ("Add a face behind this one", "Shift+N", Draw::AddFace),
        ("Show what lies behind, or hide it", "T", Draw::Ghost),
        ("Close the outline or square the photo up", "Enter", Draw::Finish),
        ("Outline around the drawing", "Shift+O", Draw::OutlineAround),
        ("Fit the drawing", "F", Draw::Fit),
        ("Import drawing", "I", Draw::Import),
        ("Export drawing: this face as SVG", "E", Draw::ExportSvg),
        ("Export drawing: board.json", "Shift+E", Draw::ExportJson),
        ("From the shelf", "G", Draw::FromShelf),
        ("Put on the shelf", "Shift+G", Draw::ToShelf),
        ("Leave the drawing", "W", Draw::Close),
    ];
    all.extend(more.map(|(words, key, draw)| (words.to_owned(), key, draw)));
    all
}
