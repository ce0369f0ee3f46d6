//! Design files for the drawing: what was asked for, what was found, and the edit that takes it in.

use std::{
    fs,
    path::{Path, PathBuf},
    sync::Arc,
};

use joulemark_locate::board::Board;

use super::BoardEdit;
use crate::{
    board_files::{
        self, Choices, Design, FileKind, MOST_BYTES, Side,
        centroid::{Columns, Table, guess_unit},
        merge::{MergeOptions, Merged, merge},
        units::UnitGuess,
    },
    case::BadInput,
};

/// What the user states about the files.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wish {
    /// The files, read as one design.
    pub files: Vec<PathBuf>,
    /// Against the guesses.
    pub choices: Choices,
    /// Which side of the design the face in hand is.
    pub side: Side,
    /// Take every net as a rail, not only those with names of supplies.
    pub every_net: bool,
}

/// The dialog's state.
#[derive(Clone, Debug)]
pub struct Import {
    /// The face in hand.
    pub face: String,
    /// What is asked for.
    pub wish: Wish,
    /// What was found, perhaps for the wish before; `None` while the files are read for the first time.
    pub found: Option<Arc<Found>>,
}

/// The header of a centroid list.
#[derive(Clone, Debug)]
pub struct List {
    /// Column names.
    pub header: Vec<String>,
    /// What each holds, as guessed or stated.
    pub columns: Columns,
    /// The unit and why.
    pub unit: UnitGuess,
}

/// What the files hold.
#[derive(Debug)]
pub struct Found {
    /// The wish that it answers.
    pub wish: Wish,
    /// Format of each file, where it is known.
    pub formats: Vec<Option<FileKind>>,
    /// The list among them.
    pub list: Option<List>,
    /// The design and what taking it in would do, or one line.
    pub design: Result<(Design, Merged), String>,
}

/// What the dialog asks for.
#[derive(Clone, Debug, PartialEq)]
pub enum ImportCommand {
    /// Read again with other choices.
    Wish(Box<Wish>),
    /// Take it into the drawing.
    Take,
    /// Leave everything as it was.
    Cancel,
}

/// Endings of design files; a file with another ending is found by its content once it is read.
pub const ENDINGS: [&str; 20] = [
    "csv", "tsv", "txt", "pos", "xy", "mnt", "ipc", "d356", "356", "net", "gbr", "ger", "gko", "gm1", "gtl", "pho",
    "art", "svg", "dxf", "gm",
];

/// Whether the name is that of a design file.
pub fn is_design(path: &Path) -> bool {
    let ending = path.extension().and_then(|e| e.to_str()).map(str::to_lowercase);
    ending.is_some_and(|e| ENDINGS.contains(&e.as_str()))
}

/// Where the design's sides go: the face in hand is one of them, what lies behind it the other.
pub fn options(board: &Board, face: &str, wish: &Wish) -> MergeOptions {
    let behind = board.face(face).and_then(|f| f.through.as_ref()).map(|t| t.face.clone());
    let usual = if wish.side == Side::Top { "bottom" } else { "top" };
    let other = behind.unwrap_or_else(|| if face == usual { "behind".to_owned() } else { usual.to_owned() });
    let (top, bottom) = if wish.side == Side::Top { (face.to_owned(), other) } else { (other, face.to_owned()) };
    MergeOptions { top, bottom, supplies_only: !wish.every_net }
}

/// The side that a face is by its name.
pub fn side_of(face: &str) -> Side {
    if face.to_lowercase().contains("bottom") { Side::Bottom } else { Side::Top }
}

/// Reads the files and tries the result on the board.
pub fn find(board: &Board, face: &str, wish: Wish) -> Found {
    let (mut formats, mut list) = (Vec::new(), None);
    let read = read_all(&wish, &mut formats, &mut list);
    let design = read.map_err(|e| super::super::work::fault("", &e).message).and_then(|design| {
        let merged = merge(board, &design, &options(board, face, &wish))?;
        Ok((design, merged))
    });
    Found { wish, formats, list, design }
}

fn read_all(wish: &Wish, formats: &mut Vec<Option<FileKind>>, list: &mut Option<List>) -> anyhow::Result<Design> {
    let mut designs = Vec::new();
    for file in &wish.files {
        let size = fs::metadata(file).map_err(|e| BadInput::unreadable(file, &e))?.len();
        if size > MOST_BYTES as u64 {
            let problem = format!("{} MiB is too large for a design file", size >> 20);
            return Err(BadInput::at(file, "", problem, "check the path"));
        }
        let bytes = fs::read(file).map_err(|e| BadInput::unreadable(file, &e))?;
        let kind = FileKind::of(file, &bytes);
        formats.push(kind);
        if kind == Some(FileKind::Centroid) {
            // Found before reading, so that wrong columns can be changed in the dialog that shows the error.
            let table = Table::parse(file, &bytes)?;
            let columns = wish.choices.columns.clone().unwrap_or_else(|| Columns::guess(&table));
            let unit = guess_unit(&table, &columns);
            *list = Some(List { header: table.header, columns, unit });
        }
        designs.push(board_files::read(file, &bytes, &wish.choices)?);
    }
    Ok(Design::join(designs))
}

/// The one edit that takes the design in, or why it cannot be.
///
/// # Errors
/// One line.
pub fn edit(board: &Board, import: &Import) -> Result<(BoardEdit, String), String> {
    let found = import.found.as_ref().filter(|f| f.wish == import.wish).ok_or("the files are still being read")?;
    let (design, _) = found.design.as_ref().map_err(Clone::clone)?;
    // The board may have changed since the files were read.
    let merged = merge(board, design, &options(board, &import.face, &import.wish))?;
    let words = format!("import {}", names(&import.wish.files));
    let said = format!("Imported {}", names(&import.wish.files));
    Ok((BoardEdit::Whole { words, board: Box::new(merged.board) }, said))
}

/// The files by name.
pub fn names(files: &[PathBuf]) -> String {
    let name = |f: &PathBuf| f.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    files.iter().map(name).collect::<Vec<_>>().join(", ")
}
