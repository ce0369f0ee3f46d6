//! Drawings from design files, into files, to the shelf and from it.

use std::{
    fs,
    path::{Path, PathBuf},
    sync::Arc,
};

use joulemark_locate::board::Board;

use super::{
    super::{
        command::{Command, Pick},
        document::Edit,
        drawing::{
            BoardEdit, Draw,
            import::{self, Found, Import, ImportCommand, Wish},
            shelf::{ShelfCommand, ShelfScreen, Shelved},
        },
        work::{self, Outcome},
    },
    App, DESIGN, EXPORTING, SHELF,
};
use crate::{board_files::export, case::BadInput, shelf::Shelf};

impl App {
    /// What the bench's file menu asks for.
    pub(super) fn file(&mut self, draw: &Draw) {
        self.open_drawing();
        match draw {
            Draw::Import => self.apply(Command::Pick(Pick::Design)),
            Draw::ExportSvg => self.apply(Command::Pick(Pick::ExportSvg)),
            Draw::ExportJson => self.apply(Command::Pick(Pick::ExportJson)),
            Draw::ToShelf => self.put_on_shelf(),
            Draw::FromShelf => self.shelf(ShelfCommand::Open),
            _ => {}
        }
    }

    /// Whether dropped files are for the drawing in hand.
    pub(super) fn for_drawing(&self, paths: &[PathBuf]) -> bool {
        let bench = self.screen.drawing.is_some() && self.screen.form.is_none();
        bench && !paths.is_empty() && paths.iter().all(|p| import::is_design(p))
    }

    /// Reads design files for the face in hand and opens the dialog.
    pub fn import_files(&mut self, files: Vec<PathBuf>) {
        self.open_drawing();
        let Some(drawing) = &self.screen.drawing else {
            return;
        };
        let wish = Wish { files, side: import::side_of(&drawing.face), ..Wish::default() };
        self.screen.import = Some(Import { face: drawing.face.clone(), wish, found: None });
        self.read_design();
    }

    /// One more file of the same design.
    pub(super) fn import_too(&mut self, file: PathBuf) {
        if let Some(import) = &mut self.screen.import {
            import.wish.files.push(file);
            self.read_design();
        }
    }

    fn read_design(&mut self) {
        let (Some(session), Some(import)) = (&self.session, &self.screen.import) else {
            return;
        };
        let (board, face, wish) = (Arc::clone(&session.board), import.face.clone(), import.wish.clone());
        self.start(DESIGN, move |_| Outcome::Design(Box::new(import::find(&board, &face, wish))));
    }

    /// Takes what was read into the dialog, unless it asks for something else by now.
    pub(super) fn design_read(&mut self, found: Found) {
        if let Some(import) = self.screen.import.as_mut().filter(|i| i.wish == found.wish) {
            import.found = Some(Arc::new(found));
        }
    }

    /// Carries out what the import dialog asks for.
    pub(super) fn import(&mut self, command: ImportCommand) {
        match command {
            ImportCommand::Cancel => self.screen.import = None,
            ImportCommand::Wish(wish) => {
                if let Some(import) = &mut self.screen.import {
                    import.wish = *wish;
                    self.read_design();
                }
            }
            ImportCommand::Take => {
                let (Some(session), Some(import)) = (&mut self.session, &self.screen.import) else {
                    return;
                };
                // What cannot be taken in is said in the dialog, whose button is off then.
                if let Ok((edit, said)) = import::edit(&session.board, import) {
                    session.apply(Edit::Board(edit));
                    self.screen.import = None;
                    self.show_whole();
                    self.screen.said = Some(said);
                }
            }
        }
    }

    /// After the board became another one: all of it is shown.
    fn show_whole(&mut self) {
        self.settle_drawing();
        if let Some(drawing) = &mut self.screen.drawing {
            drawing.selected.clear();
            drawing.points.clear();
            (drawing.view, drawing.gesture) = (None, None);
        }
    }

    /// Writes the drawing, or the face in hand as SVG.
    pub fn export(&mut self, pick: Pick, path: PathBuf) {
        let Some(session) = &self.session else {
            return;
        };
        let board = Arc::clone(&session.board);
        let face = self.screen.drawing.as_ref().map(|d| d.face.clone()).unwrap_or_default();
        self.start(EXPORTING, move |_| match write(pick, &path, &board, &face) {
            Ok(words) => Outcome::Done(words),
            Err(error) => Outcome::Failed(work::fault("Could not export the drawing", &error)),
        });
    }

    fn shelf_folder(&self) -> anyhow::Result<Shelf> {
        self.own_shelf.clone().map_or_else(Shelf::of_user, Ok)
    }

    fn put_on_shelf(&mut self) {
        let Some(session) = &self.session else {
            return;
        };
        let (shelf, mut board) = (self.shelf_folder(), (*session.board).clone());
        // Photos are of one device and lie in its case.
        board.faces.iter_mut().for_each(|f| f.photo = None);
        self.start(SHELF, move |_| match shelf.and_then(|s| s.save(&board)) {
            Ok(saved) => {
                let already = if saved.written { "is" } else { "was already" };
                Outcome::Done(format!("{} {already} on the shelf, version {}", board.name, saved.version))
            }
            Err(error) => Outcome::Failed(work::fault("Could not put the drawing on the shelf", &error)),
        });
    }

    pub(super) fn shelf_read(&mut self, found: Result<Shelved, String>) {
        if let Some(screen) = &mut self.screen.shelf {
            screen.found = Some(found);
        }
    }

    /// Carries out what the shelf's dialog asks for.
    pub(super) fn shelf(&mut self, command: ShelfCommand) {
        match command {
            ShelfCommand::Cancel => self.screen.shelf = None,
            ShelfCommand::Open => {
                self.screen.shelf = Some(ShelfScreen::default());
                let shelf = self.shelf_folder();
                self.start(SHELF, move |_| {
                    let listed = shelf.and_then(|s| s.list());
                    Outcome::Shelved(listed.map_err(|e| work::fault("", &e).message))
                });
            }
            ShelfCommand::Take { id, version } => {
                self.screen.shelf = None;
                let shelf = self.shelf_folder();
                if self.screen.form.is_some() {
                    match shelf {
                        Ok(shelf) => {
                            self.with_draft(|d| d.board = shelf.file(&id, version).display().to_string());
                        }
                        Err(error) => self.screen.fault = Some(work::fault("Could not find the shelf", &error)),
                    }
                    return;
                }
                self.start(SHELF, move |_| match shelf.and_then(|s| s.load(&id, Some(version))) {
                    Ok(board) => Outcome::FromShelf(Box::new(board)),
                    Err(error) => Outcome::Failed(work::fault("Could not take the drawing from the shelf", &error)),
                });
            }
        }
    }

    /// The drawing from the shelf instead of the present one.
    pub(super) fn take_from_shelf(&mut self, board: Board) {
        self.open_drawing();
        let Some(session) = &mut self.session else {
            return;
        };
        let said = format!("{} taken from the shelf", board.name);
        let words = format!("take {} from the shelf", board.name);
        session.apply(Edit::Board(BoardEdit::Whole { words, board: Box::new(board) }));
        self.show_whole();
        self.screen.said = Some(said);
    }
}

fn write(pick: Pick, path: &Path, board: &Board, face: &str) -> anyhow::Result<String> {
    let text = if pick == Pick::ExportSvg {
        let missing = || BadInput::flag("export", format!("there is no face {face}"), "choose a face");
        export::svg(board, board.face(face).ok_or_else(missing)?)
    } else {
        export::board_json(board)?
    };
    fs::write(path, text).map_err(|e| BadInput::unwritable(path, &e))?;
    Ok(format!("Written: {}", path.display()))
}
