//! Lining up: point pairs clicked in the picture and on the drawing by turns, with a loupe, live residuals, refinement
//! on the board's own edges, and ways to judge the result.
//!
//! Pairs live in the case's document, so every pair undoes by itself; what is kept here belongs to the screen only.

mod apply;
mod controls;
mod drawing;
pub mod keys;
mod loupe;
mod picture;
pub mod work;

use egui::{CentralPanel, Frame, Panel, Rect, Ui};
use joulemark_locate::{
    align::{Alignment, PointPair, Refinement},
    board::Face,
};

use super::{
    command::Command,
    drawing::view::{DrawingView, UiFromBoard},
    map::{outline::Drawn, texture::MapTexture, view::MapView},
    screen::Screen,
    session::{Session, TakeView},
};
use crate::theme::{self, Palette};

/// Which of the two panes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Side {
    /// The thermal picture.
    #[default]
    Picture,
    /// The drawing of the face.
    Drawing,
}

/// How the drawing lies over the picture, for judging.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Look {
    /// Lines only.
    #[default]
    Lines,
    /// Drawn left of a line that is moved.
    Wipe,
    /// Parts filled, more or less.
    Opacity,
    /// On and off, twice a second.
    Blink,
}

impl Look {
    /// All, in the order of the chooser, with their keys.
    pub const ALL: [(Self, &str, egui::Key); 4] = [
        (Self::Lines, "Lines", egui::Key::I),
        (Self::Wipe, "Wipe", egui::Key::W),
        (Self::Opacity, "Opacity", egui::Key::O),
        (Self::Blink, "Blink", egui::Key::B),
    ];
}

/// What a view asks for.
#[derive(Clone, Debug, PartialEq)]
pub enum LiningCommand {
    /// Line the shown take up.
    Open,
    /// Leave, the pairs as they are, and locate again where they changed.
    Done,
    /// A point, in pixels or millimetres.
    Point(Side, [f64; 2]),
    /// Take the pending point back, or else the last pair.
    RemoveLast,
    /// Remove a pair.
    Remove(usize),
    /// Remove all pairs.
    Clear,
    /// Move the mapping onto the board's own edges.
    Refine,
    /// Take the pairs of another take over, if the camera did not move.
    TakeOver(String),
    /// Lay the drawing over the picture in another way.
    Look(Look),
    /// Move the wipe or the opacity by this share.
    Shift(f32),
    /// Move the crosshair of the pane whose turn it is: pixels, or steps of half a millimetre.
    Step([f64; 2]),
    /// Jump to the next corner of the drawing, or the one before.
    Corner(i64),
    /// Set the point at the crosshair.
    Set,
    /// Give the turn to a pane.
    Turn(Side),
}

/// A fit and what it was made from.
#[derive(Clone, Debug)]
pub struct Fit {
    pairs: Vec<PointPair>,
    refined: Option<Refinement>,
    serial: u64,
    /// The mapping, or why there is none.
    pub alignment: Result<Alignment, String>,
    /// The drawing in the picture.
    drawn: Drawn,
}

/// State of the lining-up screen.
#[derive(Clone, Debug, Default)]
pub struct Lining {
    /// A point that waits for its other half.
    pub pending: Option<(Side, [f64; 2])>,
    /// Whose turn it is.
    pub turn: Side,
    /// Crosshairs for the keyboard, picture and drawing; shown once moved.
    pub cursor: [Option<[f64; 2]>; 2],
    /// The way of judging.
    pub look: Look,
    /// Place of the wipe, share of the pane's width.
    pub wipe: f32,
    /// Opacity of the parts.
    pub opacity: f32,
    /// What was done last, or why it was not.
    pub said: Option<String>,
    /// Zoom of the drawing; `None` fits it.
    view: Option<DrawingView>,
    /// Where the panes were drawn last: picture and drawing.
    pub canvas: [Option<Rect>; 2],
    /// The pairs when the screen was opened, and what was refined from them.
    pairs_before: (Vec<PointPair>, Option<Refinement>),
    /// Memory of the fit.
    pub fit: Option<Fit>,
}

impl Lining {
    /// Fits again when the pairs changed.
    fn update(&mut self, session: &Session, view: &TakeView) {
        let Some(entry) = session.document.take(&session.shown) else { return };
        let same = |f: &Fit| f.pairs == entry.pairs && f.refined == entry.refined && f.serial == view.serial;
        if self.fit.as_ref().is_some_and(same) {
            return;
        }
        let alignment = Alignment::of(&entry.pairs, entry.refined.as_ref()).map_err(|e| e.to_string());
        let face = session.board.face(&entry.face);
        let drawn = match (&alignment, face) {
            (Ok(alignment), Some(face)) => Drawn::project(&session.board, face, alignment),
            _ => Drawn::default(),
        };
        let (pairs, refined) = (entry.pairs.clone(), entry.refined.clone());
        self.fit = Some(Fit { pairs, refined, serial: view.serial, alignment, drawn });
    }

    /// Whether the mapping follows the board's edges rather than the pairs alone.
    pub fn refined(&self) -> bool {
        self.fit.as_ref().is_some_and(|f| f.refined.is_some() && f.alignment.is_ok())
    }

    /// The mapping, when there is one.
    pub fn alignment(&self) -> Option<&Alignment> {
        self.fit.as_ref()?.alignment.as_ref().ok()
    }

    /// Where a point of a pane is on screen.
    pub fn on_screen(&self, side: Side, at: [f64; 2], screen: &Screen, session: &Session) -> Option<egui::Pos2> {
        match side {
            Side::Picture => {
                let canvas = self.canvas[0]?;
                let shape = session.view()?.take.stack.shape();
                let view = screen.map.unwrap_or_else(|| MapView::fit(shape, canvas.size()));
                Some(super::map::view::UiFromImage::new(&view, canvas).to_ui(at))
            }
            Side::Drawing => {
                let canvas = self.canvas[1]?;
                {
                    let view = self.view.unwrap_or_else(|| DrawingView::fit(session.face(), canvas.size()));
                    Some(UiFromBoard::new(&view, canvas).to_ui(at))
                }
            }
        }
    }

    /// The other half of a pending point, as the mapping so far has it.
    fn predicted(&self) -> Option<(Side, [f64; 2])> {
        let (side, [x, y]) = self.pending?;
        let alignment = self.alignment()?;
        let at = nalgebra::Point2::new(x, y);
        let (other, p) = match side {
            Side::Picture => (Side::Drawing, alignment.to_board(at)),
            Side::Drawing => (Side::Picture, alignment.to_image(at)),
        };
        Some((other, [p.x, p.y]))
    }
}

/// Corners that points snap to: the outline's and the parts'.
fn corners(face: &Face) -> Vec<[f64; 2]> {
    let parts = face.parts.iter().flat_map(|p| joulemark_locate::board::Footprint::from(p).corners_mm());
    face.outline.iter().copied().chain(parts.map(|p| [p.x, p.y])).collect()
}

/// Draws the screen.
pub fn show(
    ui: &mut Ui,
    session: &Session,
    view: &TakeView,
    screen: &mut Screen,
    texture: &mut MapTexture,
    out: &mut Vec<Command>,
) {
    let Some(mut lining) = screen.lining.take() else { return };
    lining.update(session, view);
    let bar = Frame::new().fill(Palette::of(ui).panel).inner_margin(theme::margin());
    Panel::top("lining top").frame(bar).show(ui, |ui| controls::top(ui, session, &mut lining, out));
    Panel::bottom("lining pairs").frame(bar).show(ui, |ui| controls::pairs(ui, session, &lining, out));
    CentralPanel::default().frame(Frame::new().fill(Palette::of(ui).canvas)).show(ui, |ui| {
        let whole = ui.available_rect_before_wrap();
        let (left, right) = whole.split_left_right_at_fraction(0.5);
        let (left, right) = (left.with_max_x(left.max.x - 2.0), right.with_min_x(right.min.x + 2.0));
        picture::show(ui, left, session, view, screen, &mut lining, texture, out);
        drawing::show(ui, right, session, &mut lining, out);
    });
    screen.lining = Some(lining);
}
