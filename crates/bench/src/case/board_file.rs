//! The board drawing: `board.ron` or `board.json`.

use std::{
    fs,
    path::{Component, Path, PathBuf},
};

use joulemark_locate::board::Board;

use super::{BadInput, atomic, notation};

/// Reads and checks a board drawing.
pub fn read(file: &Path) -> anyhow::Result<Board> {
    let board: Board = notation::read(file)?;
    board.check().map_err(|e| BadInput::at(file, e.place, e.problem, e.remedy))?;
    Ok(board)
}

/// Reads a board drawing that may be unfinished: an outline may be missing, a rail unlisted.
pub fn read_unfinished(file: &Path) -> anyhow::Result<Board> {
    notation::read(file)
}

/// Folder of earlier drawings within a case.
pub const HISTORY: &str = "board-history";

/// Writes a drawing into a case folder and keeps the one that was there under a number in [`HISTORY`]. Returns its path
/// within the folder: `wanted` where that lies inside, else `board.ron`.
///
/// # Errors
/// When it cannot be written; the old drawing is whole then.
pub fn write_in(folder: &Path, wanted: &Path, board: &Board) -> anyhow::Result<PathBuf> {
    let inside = wanted.strip_prefix(folder).unwrap_or(wanted);
    let plain = inside.components().all(|c| matches!(c, Component::Normal(_)));
    let named = plain && inside.extension().is_some_and(|e| e == "ron" || e == "json");
    let relative = if named { inside.to_owned() } else { PathBuf::from("board.ron") };
    let file = folder.join(&relative);
    let json = relative.extension().is_some_and(|e| e == "json");
    let text = if json { serde_json::to_string_pretty(board)? + "\n" } else { notation::to_ron(board)? };
    if let Ok(old) = fs::read(&file)
        && old != text.as_bytes()
    {
        let history = folder.join(HISTORY);
        fs::create_dir_all(&history).map_err(|e| BadInput::unwritable(&history, &e))?;
        let ending = if json { "json" } else { "ron" };
        let free = (1..).map(|n| history.join(format!("{n:04}.{ending}"))).find(|p| !p.exists());
        if let Some(kept) = free {
            atomic::write(&kept, &old).map_err(|e| BadInput::unwritable(&kept, &e))?;
        }
    }
    atomic::write(&file, text.as_bytes()).map_err(|e| BadInput::unwritable(&file, &e))?;
    Ok(relative)
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

#[cfg(test)]
mod tests {
    use joulemark_locate::board::Face;

    use super::*;

    #[test]
    fn earlier_drawings_are_kept() {
        let folder = tempfile::tempdir().unwrap();
        let board = |name: &str| Board { name: name.into(), faces: vec![Face::default()], ..Board::default() };
        for wanted in ["board.ron", "board.json"] {
            for name in ["one", "two", "two", "three"] {
                let relative = write_in(folder.path(), Path::new(wanted), &board(name)).unwrap();
                assert_eq!(relative, Path::new(wanted));
            }
            assert_eq!(read_unfinished(&folder.path().join(wanted)).unwrap().name, "three");
            let ending = wanted.rsplit('.').next().unwrap();
            let kept = |n: usize| folder.path().join(HISTORY).join(format!("{n:04}.{ending}"));
            assert_eq!(read_unfinished(&kept(1)).unwrap().name, "one");
            assert_eq!(read_unfinished(&kept(2)).unwrap().name, "two");
            assert!(!kept(3).exists(), "writing the same again keeps nothing twice");
        }
    }

    #[test]
    fn a_drawing_from_elsewhere_is_written_into_the_case() {
        let folder = tempfile::tempdir().unwrap();
        for wanted in ["", "/no/such/place/board.ron", "../up.ron"] {
            let relative = write_in(folder.path(), Path::new(wanted), &Board::default()).unwrap();
            assert_eq!(relative, Path::new("board.ron"), "{wanted}");
        }
    }
}
