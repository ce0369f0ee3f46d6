//! Opening and saving a case folder.

use std::path::{Path, PathBuf};

use joulemark_locate::board::Board;
use serde::Deserialize;

use super::{
    BadInput, CASE_FILE, Case, TakeEntry, VERSION,
    bad_input::read_text_and_bytes,
    board_file,
    load::TakeSource,
    notation,
    turn::{Origin, Turn},
};

/// A case and the folder that its relative paths start from.
#[derive(Clone, Debug, PartialEq)]
pub struct CaseFolder {
    /// The folder that holds `case.ron`.
    pub folder: PathBuf,
    /// Its content.
    pub case: Case,
}

/// Only the version, so that a newer file is refused for its version and not for a field this program lacks.
#[derive(Deserialize)]
#[serde(rename = "Case")]
struct Header {
    #[serde(default)]
    version: u32,
}

impl CaseFolder {
    /// Opens a case by its folder or by its `case.ron`. Older versions are read; newer ones are refused.
    pub fn open(path: &Path) -> anyhow::Result<Self> {
        let file = if path.is_dir() { path.join(CASE_FILE) } else { path.to_owned() };
        if path.is_dir() && !file.exists() {
            return Err(BadInput::at(
                path,
                "",
                format!("there is no {CASE_FILE} in this folder"),
                "give a case folder, or make one with: joulemark practice SCENARIO DIR",
            ));
        }
        let (text, bytes) = read_text_and_bytes(&file)?;
        let header: Header = notation::parse(&file, &text)?;
        if header.version > VERSION {
            return Err(BadInput::at(
                &file,
                "version",
                format!("written by a newer Joulemark (version {}, this one reads up to {VERSION})", header.version),
                "install the newer program",
            ));
        }
        let mut case: Case = notation::parse(&file, &text)?;
        case.origin = Origin::read(&file, &bytes);
        let folder = file.parent().map(Path::to_owned).unwrap_or_default();
        for (i, entry) in case.takes.iter().enumerate() {
            if case.takes[..i].iter().any(|other| other.name == entry.name) {
                return Err(BadInput::at(
                    &file,
                    format!("take '{}'", entry.name),
                    "named twice",
                    "give every take its own name",
                ));
            }
        }
        Ok(Self { folder, case })
    }

    /// The same for work that tells the answer: an exercise has to be handed in first.
    ///
    /// # Errors
    /// Those of [`Self::open`], and for an exercise that is still worked on.
    pub fn open_told(path: &Path) -> anyhow::Result<Self> {
        let opened = Self::open(path)?;
        match &opened.case.exercise {
            Some(exercise) if !exercise.open() => Err(BadInput::at(
                &opened.file(),
                "",
                "this is an exercise that is still worked on, and the answer would be told",
                format!("hand it in first: joulemark {}", opened.folder.display()),
            )),
            _ => Ok(opened),
        }
    }

    /// The case file.
    pub fn file(&self) -> PathBuf {
        self.folder.join(CASE_FILE)
    }

    /// Writes `case.ron` beside and renames it, in this program's version.
    ///
    /// # Errors
    /// When it cannot be written, or somebody else has written it since it was opened: theirs is kept.
    pub fn save(&mut self) -> anyhow::Result<()> {
        let turn = Turn::begin(&self.folder, &self.case.origin)?;
        self.save_in(turn)
    }

    /// The same where the turn was taken before, because other files of the case are written too.
    ///
    /// # Errors
    /// Those of [`Self::save`].
    pub fn save_in(&mut self, turn: Turn) -> anyhow::Result<()> {
        self.case.version = VERSION;
        turn.finish(&self.case.origin, notation::to_ron(&self.case)?.as_bytes())
    }

    /// A path from the case: as it is when absolute, otherwise from the case folder.
    pub fn resolve(&self, path: &Path) -> PathBuf {
        self.folder.join(path)
    }

    /// Reads and checks the board drawing.
    pub fn board(&self) -> anyhow::Result<Board> {
        board_file::read(&self.resolve(&self.case.board))
    }

    /// Reads the board drawing, which may be unfinished. A case whose drawing was not begun has an empty one.
    pub fn drawing(&self) -> anyhow::Result<Board> {
        if self.case.board.as_os_str().is_empty() {
            return Ok(Board::default());
        }
        board_file::read_unfinished(&self.resolve(&self.case.board))
    }

    /// The take with that name, or the newest one that shows an injection; where none does, the newest.
    pub fn take(&self, name: Option<&str>) -> anyhow::Result<&TakeEntry> {
        let names = || self.case.takes.iter().map(|t| t.name.as_str()).collect::<Vec<_>>().join(", ");
        match name {
            Some(name) => self.case.takes.iter().find(|t| t.name == name).ok_or_else(|| {
                BadInput::at(
                    &self.file(),
                    "takes",
                    format!("no take is named '{name}'"),
                    format!("its takes are {}", names()),
                )
            }),
            None => self
                .case
                .takes
                .iter()
                .rfind(|t| !t.shows.is_plain())
                .or(self.case.takes.last())
                .ok_or_else(|| BadInput::at(&self.file(), "takes", "no recording yet", "add a take first")),
        }
    }

    /// Everything needed to load a take of this case.
    pub fn source(&self, entry: &TakeEntry) -> TakeSource {
        TakeSource::from_case(self, entry)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use joulemark_frames::CountsLaw;
    use joulemark_locate::align::PointPair;

    use super::*;

    fn example() -> Case {
        Case {
            version: VERSION,
            name: "Buoy radio, serial 0417".into(),
            board: "board.ron".into(),
            rail: "V12".into(),
            lead_ohms: Some(0.05),
            takes: vec![TakeEntry {
                name: "inject 1".into(),
                frames: "frames.tif".into(),
                log: Some("log.csv".into()),
                counts: Some(CountsLaw::CENTIKELVIN),
                face: "top".into(),
                pairs: vec![PointPair { x_px: 1.0, y_px: 2.0, x_mm: 3.0, y_mm: 4.5 }],
                ..TakeEntry::default()
            }],
            notes: "dead, 2 A at the input".into(),
            ..Case::default()
        }
    }

    #[test]
    fn a_case_survives_saving_and_opening() {
        let folder = tempfile::tempdir().unwrap();
        let mut saved = CaseFolder { folder: folder.path().to_owned(), case: example() };
        saved.save().unwrap();
        assert_eq!(CaseFolder::open(folder.path()).unwrap(), saved);
        assert_eq!(CaseFolder::open(&saved.file()).unwrap(), saved);
    }

    #[test]
    fn an_older_case_without_later_fields_is_read() {
        let folder = tempfile::tempdir().unwrap();
        let text = r#"Case(version: 0, name: "n", board: "b.json", rail: "V5", lead_ohms: Some(0.1), takes: [])"#;
        fs::write(folder.path().join(CASE_FILE), text).unwrap();
        let opened = CaseFolder::open(folder.path()).unwrap();
        assert_eq!((opened.case.rail.as_str(), opened.case.lead_ohms), ("V5", Some(0.1)));
    }

    #[test]
    fn faults_name_file_and_place() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(CASE_FILE);
        let message = |text: &str| {
            fs::write(&file, text).unwrap();
            CaseFolder::open(folder.path()).unwrap_err().to_string()
        };
        let newer = message(r#"(version: 9, name: "n", unheard_of: (a: [1, 2], b: Some("x")), other: {"k": 3})"#);
        assert!(newer.contains("version: written by a newer Joulemark (version 9"), "{newer}");
        let broken = message("(version: 1,\n name: \"n\",\n board: 3,\n rail: \"V\")");
        assert!(broken.contains("case.ron: 3:"), "{broken}");
        let missing = message("(version: 1, name: \"n\", board: \"b\")");
        assert!(missing.contains("rail"), "{missing}");
        assert!(message("   ").contains("empty"));
        for text in [&newer, &broken, &missing] {
            assert_eq!(text.lines().count(), 1);
        }
    }

    #[test]
    fn the_newest_take_is_the_default_and_unknown_names_list_the_known() {
        let mut case = example();
        case.takes.push(TakeEntry { name: "inject 2".into(), ..TakeEntry::default() });
        let opened = CaseFolder { folder: "x".into(), case };
        assert_eq!(opened.take(None).unwrap().name, "inject 2");
        let message = opened.take(Some("inject 3")).unwrap_err().to_string();
        assert!(message.contains("its takes are inject 1, inject 2"), "{message}");
    }
}
