//! The drawing bench within the window: its regions, its requests, its photo.

use std::{path::PathBuf, sync::Arc};

use egui::{CentralPanel, Frame, Panel, Ui};
use joulemark_locate::board::{Board, Face};

use super::{
    super::{
        command::Command,
        document::{Document, Edit},
        drawing::{
            self, BoardEdit, Draw, Drawing, Tool, act, canvas,
            photo::{self, Loaded, Underlay},
            toolbar,
        },
        screen::Screen,
        session::Session,
        work,
    },
    App,
};
use crate::{
    case::Case,
    theme::{self, Palette},
};

/// Title of reading a photo.
const PHOTO: &str = "Reading the photo";

/// The bench takes the middle and the right; stages and bars stay.
pub(super) fn regions(
    ui: &mut Ui,
    session: &Session,
    drawing: &mut Drawing,
    screen: &mut Screen,
    underlay: &mut Underlay,
    out: &mut Vec<Command>,
) {
    let p = Palette::of(ui);
    let bar = Frame::new().fill(p.panel).inner_margin(theme::margin());
    let width = if screen.narrow { 272.0 } else { 312.0 };
    Panel::right("drawing panel").frame(bar).exact_size(width).resizable(false).show(ui, |ui| {
        drawing::show_panel(ui, session, drawing, out);
    });
    CentralPanel::default().frame(Frame::new().fill(p.canvas)).show(ui, |ui| {
        Panel::top("drawing tools").frame(bar).show(ui, |ui| toolbar::show(ui, &session.board, drawing, out));
        canvas::show(ui, session, drawing, screen, underlay, out);
    });
}

/// A case without takes and without a drawing.
fn new_case(name: &str) -> Session {
    let name = if name.is_empty() { "New case" } else { name };
    let case = Case { name: name.to_owned(), ..Case::default() };
    Session::new(None, Document { case, ..Document::default() }, Arc::new(empty_board()))
}

impl App {
    /// Carries out what is asked of the bench.
    pub(super) fn draw(&mut self, draw: Draw) {
        match draw {
            Draw::Open => self.open_drawing(),
            Draw::Close => self.close_drawing(),
            Draw::Import | Draw::ExportSvg | Draw::ExportJson | Draw::ToShelf | Draw::FromShelf => self.file(&draw),
            draw => {
                self.open_drawing();
                let (Some(session), Some(drawing)) = (&mut self.session, &mut self.screen.drawing) else {
                    return;
                };
                if let Some(edit) = act::act(&session.board, drawing, draw) {
                    session.apply(Edit::Board(edit));
                }
                self.settle_drawing();
            }
        }
    }

    /// A case without a drawing, or no case at all, gets an empty face to draw on.
    pub(super) fn open_drawing(&mut self) {
        if self.screen.drawing.is_some() {
            return;
        }
        if self.session.is_none() {
            self.session = Some(new_case(""));
        }
        let Some(session) = &mut self.session else {
            return;
        };
        if session.board.faces.is_empty() {
            let face = Face { name: "top".to_owned(), ..Face::default() };
            session.apply(Edit::Board(BoardEdit::AddFace { index: 0, face: Box::new(face) }));
        }
        let face = session.face().or_else(|| session.board.faces.first()).map(|f| f.name.clone()).unwrap_or_default();
        let mut drawing = Drawing::new(&face);
        drawing.grid_mm = self.screen.grid_mm.unwrap_or(drawing.grid_mm);
        drawing.ghost = self.screen.ghost;
        drawing.rail = session.board.rail(&session.document.case.rail).map(|r| r.name.clone());
        // An empty face begins with its outline: parts have to lie on something.
        if session.board.face(&face).is_some_and(|f| f.outline.is_empty() && f.parts.is_empty()) {
            drawing.tool = Tool::Outline;
        }
        // What is lit on the map is what is to be looked at here.
        if let Some(part) = &self.screen.selection.part {
            (drawing.selected, drawing.tool) = ([part.clone()].into(), Tool::Select);
        }
        self.screen.drawing = Some(drawing);
        self.settle_drawing();
    }

    /// Back to the map; the bench opens the next time as it was left.
    pub(super) fn close_drawing(&mut self) {
        if let Some(drawing) = self.screen.drawing.take() {
            (self.screen.grid_mm, self.screen.ghost) = (Some(drawing.grid_mm), drawing.ghost);
        }
    }

    /// A new case beside the files of any other, which begins with its drawing.
    pub(super) fn new_drawing(&mut self, name: &str) {
        self.opened(new_case(name.trim()), None);
        self.open_drawing();
    }

    /// After the board changed by whatever way.
    pub(super) fn settle_drawing(&mut self) {
        let (Some(session), Some(drawing)) = (&self.session, &mut self.screen.drawing) else {
            return;
        };
        drawing.settle(&session.board);
        // A part that was moved covers other pixels.
        self.screen.part_curve = None;
        let file = drawing.face(&session.board).and_then(|f| f.photo.as_ref()).map(|p| p.file.clone());
        let Some(path) = file.map(|f| session.beside_drawing(&f)) else {
            return;
        };
        let asked = self.underlay.path() == Some(&path) || self.underlay.asked.as_ref() == Some(&path);
        if !asked {
            self.underlay.asked = Some(path.clone());
            self.start(PHOTO, move |_| work::load_photo(&path));
        }
    }

    /// Reads a photo that was chosen for the face shown.
    pub fn read_photo(&mut self, path: PathBuf) {
        self.open_drawing();
        let path = std::path::absolute(&path).unwrap_or(path);
        self.underlay.chosen = Some(path.clone());
        self.start(PHOTO, move |_| work::load_photo(&path));
    }

    /// Takes a photo in; one that was chosen for the face is placed on it, ready to be squared up.
    pub(super) fn photo_read(&mut self, loaded: Loaded) {
        let chosen = self.underlay.chosen.take_if(|c| *c == loaded.path);
        let placed = photo::unsquared(loaded.path.display().to_string(), loaded.size_px);
        self.underlay.set(loaded);
        let (Some(session), Some(drawing)) = (&mut self.session, &mut self.screen.drawing) else {
            return;
        };
        if chosen.is_some() {
            session.apply(Edit::Board(BoardEdit::Photo { face: drawing.face.clone(), photo: Some(placed) }));
            (drawing.tool, drawing.view) = (Tool::Square, None);
            drawing.points.clear();
        }
    }
}

fn empty_board() -> Board {
    let face = Face { name: "top".to_owned(), ..Face::default() };
    Board { name: "New board".to_owned(), faces: vec![face], rails: Vec::new() }
}
