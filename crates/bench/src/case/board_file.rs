//! The board drawing: `board.ron` or `board.json`.

use std::path::Path;

use joulemark_locate::board::Board;

use super::{BadInput, notation};

/// Reads and checks a board drawing.
pub fn read(file: &Path) -> anyhow::Result<Board> {
    let board: Board = notation::read(file)?;
    board.check().map_err(|e| BadInput::at(file, e.place, e.problem, e.remedy))?;
    Ok(board)
}

/// Refuses a rail that the board does not have.
pub fn check_rail(file: &Path, board: &Board, rail: &str) -> anyhow::Result<()> {
    if board.rail(rail).is_some() {
        return Ok(());
    }
    let known = list(board.rails.iter().map(|r| r.name.as_str()));
    let problem = if rail.is_empty() { "no rail was named".to_owned() } else { format!("rail '{rail}' is not there") };
    Err(BadInput::at(file, "rails", problem, format!("its rails are {known}")))
}

/// The face in the picture: the one asked for, or the only one, or the first with a warning.
pub fn choose_face(file: &Path, board: &Board, asked: Option<&str>) -> anyhow::Result<(String, Option<String>)> {
    match asked {
        Some(name) if board.face(name).is_some() => Ok((name.to_owned(), None)),
        Some(name) => {
            let known = list(board.faces.iter().map(|f| f.name.as_str()));
            Err(BadInput::at(file, "faces", format!("face '{name}' is not there"), format!("its faces are {known}")))
        }
        None => {
            // A checked board has at least one face.
            let first = board.faces.first().map(|f| f.name.clone()).unwrap_or_default();
            let warning = (board.faces.len() > 1).then(|| {
                let known = list(board.faces.iter().map(|f| f.name.as_str()));
                format!("face '{first}' is assumed to be in the picture, of {known}: state it with --face")
            });
            Ok((first, warning))
        }
    }
}

fn list<'a>(names: impl Iterator<Item = &'a str>) -> String {
    let joined = names.collect::<Vec<_>>().join(", ");
    if joined.is_empty() { "none".to_owned() } else { joined }
}
