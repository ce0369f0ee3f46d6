//! A new case from loose files, or a take for the open case: what the user typed, what the files turned out to be, and
//! what is still missing.

use std::{
    fs,
    io::Read,
    path::{Path, PathBuf},
    sync::Arc,
};

use joulemark_frames::{CountsLaw, InjectFrom, read::Scale};
use joulemark_locate::{align::PointPair, board::Board, onset::OnsetProposal};

use super::session::Session;
use crate::case::{Case, TakeEntry, load::PairsSource, load::TakeSource, shows::Shows};

/// Who says when injection starts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Onset {
    /// The log's `injecting` column.
    #[default]
    Log,
    /// The user, by frame number.
    Frame,
}

/// What a count means. Never guessed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LawChoice {
    /// The user was not asked yet, or did not answer.
    #[default]
    NotStated,
    /// Hundredths of a kelvin.
    Centikelvin,
    /// Gain and offset.
    Linear,
}

/// What a frames file turned out to be.
#[derive(Clone, Debug, PartialEq)]
pub struct FramesFound {
    /// In words.
    pub description: String,
    /// What its samples are.
    pub scale: Scale,
    /// How many frames.
    pub frames: usize,
    /// Whether the file itself has times.
    pub timed: bool,
}

/// What the small files turned out to be; messages where they could not be read.
#[derive(Clone, Debug, Default)]
pub struct FilesFound {
    /// Paths that were looked at: log, board, pairs.
    pub looked_at: [String; 3],
    /// Rows of the log.
    pub log: Option<Result<usize, String>>,
    /// The drawing.
    pub board: Option<Result<Arc<Board>, String>>,
    /// The pairs.
    pub pairs: Option<Result<Vec<PointPair>, String>>,
}

/// The open case that a take is added to.
#[derive(Clone, Debug, PartialEq)]
pub struct Into {
    /// Number of its session.
    pub serial: u64,
    /// Its drawing.
    pub board: Arc<Board>,
    /// Names of the takes that it has.
    pub taken: Vec<String>,
}

/// The form.
#[derive(Clone, Debug, Default)]
pub struct Draft {
    /// The open case that the take is added to; `None` makes a new case.
    pub into: Option<Into>,
    /// Name of the take.
    pub take_name: String,
    /// Device and serial number.
    pub name: String,
    /// What happens on the take.
    pub shows: Shows,
    /// A file or folder of frames.
    pub frames: String,
    /// The capture log; may be empty.
    pub log: String,
    /// Who says when injection starts.
    pub onset: Onset,
    /// The first injected frame.
    pub onset_frame: usize,
    /// What the program proposes.
    pub proposal: Option<Result<OnsetProposal, String>>,
    /// Frames per second.
    pub rate_hz: String,
    /// The drawing.
    pub board: String,
    /// The shorted rail.
    pub rail: String,
    /// The face in the picture.
    pub face: String,
    /// The point pairs.
    pub pairs: String,
    /// What a count means.
    pub law: LawChoice,
    /// Kelvin per count.
    pub gain: String,
    /// Kelvin at count zero.
    pub offset: String,
    /// Resistance of both leads; may be empty.
    pub lead_ohms: String,
    /// What the frames are, and for which path.
    pub frames_found: Option<(String, Result<FramesFound, String>)>,
    /// What the small files are.
    pub files_found: FilesFound,
}

impl PartialEq for Draft {
    fn eq(&self, other: &Self) -> bool {
        let typed = |d: &Self| {
            let texts = [&d.name, &d.frames, &d.log, &d.rate_hz, &d.board, &d.rail, &d.face, &d.pairs];
            let more = [&d.gain, &d.offset, &d.lead_ohms, &d.take_name];
            let texts: Vec<String> = texts.into_iter().chain(more).cloned().collect();
            (texts, d.onset, d.onset_frame, d.law, d.shows, d.into.clone())
        };
        typed(self) == typed(other)
    }
}

fn number(text: &str) -> Option<f64> {
    text.trim().replace(',', ".").parse().ok().filter(|v: &f64| v.is_finite())
}

/// The first name of the usual kind that no take has.
fn free_name(kind: &str, taken: &[String]) -> String {
    let name = |n: usize| format!("{kind} {n}");
    // Some number up to one more than there are takes is free.
    (1..=taken.len() + 1).map(name).find(|n| !taken.contains(n)).unwrap_or_else(|| name(1))
}

impl Draft {
    /// The form for one more take of the open case: what the last take says is proposed again.
    pub fn for_case(session: &Session) -> Self {
        let case = &session.document.case;
        let taken: Vec<String> = case.takes.iter().map(|t| t.name.clone()).collect();
        let last = case.takes.last();
        let (law, gain, offset) = match last.and_then(|t| t.counts) {
            None => (LawChoice::NotStated, String::new(), String::new()),
            Some(CountsLaw::CENTIKELVIN) => (LawChoice::Centikelvin, String::new(), String::new()),
            Some(law) => (LawChoice::Linear, law.gain_k_per_count.to_string(), law.offset_k.to_string()),
        };
        let mut draft = Self {
            name: case.name.clone(),
            take_name: free_name("inject", &taken),
            face: last.map(|t| t.face.clone()).unwrap_or_default(),
            rail: case.rail.clone(),
            rate_hz: last.and_then(|t| t.rate_hz).map_or_else(String::new, |hz| hz.to_string()),
            into: Some(Into { serial: session.serial, board: Arc::clone(&session.board), taken }),
            law,
            gain,
            offset,
            ..Self::default()
        };
        draft.settle();
        draft
    }

    /// Whether the take still has the name that its kind gives it.
    pub fn named_by_kind(&self) -> bool {
        let mut fresh = self.clone();
        fresh.name_by_kind();
        fresh.take_name == self.take_name
    }

    /// Names the take by what it shows.
    pub fn name_by_kind(&mut self) {
        let taken = self.into.as_ref().map(|i| i.taken.clone()).unwrap_or_default();
        self.take_name = free_name(if self.shows.is_plain() { self.shows.words() } else { "inject" }, &taken);
    }

    /// Sorts files into the form by what they are.
    pub fn take_in(&mut self, paths: &[PathBuf]) {
        for path in paths {
            let text = path.display().to_string();
            match kind(path) {
                // The open case has its own drawing.
                Kind::Board if self.into.is_some() => {}
                Kind::Board => self.board = text,
                Kind::Log => self.log = text,
                Kind::Pairs => self.pairs = text,
                Kind::Frames => self.frames = text,
            }
        }
        if self.name.is_empty()
            && let Some(stem) = Path::new(&self.frames).file_stem()
        {
            self.name = stem.to_string_lossy().into_owned();
        }
        if !paths.is_empty() {
            self.onset = if self.log.is_empty() { Onset::Frame } else { Onset::Log };
        }
    }

    /// The drawing, once read.
    pub fn board_read(&self) -> Option<&Arc<Board>> {
        if let Some(into) = &self.into {
            return Some(&into.board);
        }
        self.files_found.board.as_ref()?.as_ref().ok()
    }

    /// What the frames turned out to be, when that is known for the path in the form.
    pub fn frames_read(&self) -> Option<&FramesFound> {
        self.frames_found.as_ref().filter(|(path, _)| *path == self.frames)?.1.as_ref().ok()
    }

    /// Whether the law has to be asked.
    pub fn asks_law(&self) -> bool {
        self.frames_read().is_some_and(|f| matches!(f.scale, Scale::Counts { .. }))
    }

    /// The law as stated.
    pub fn counts(&self) -> Option<CountsLaw> {
        match self.law {
            LawChoice::NotStated => None,
            LawChoice::Centikelvin => Some(CountsLaw::CENTIKELVIN),
            LawChoice::Linear => {
                let gain_k_per_count = number(&self.gain).filter(|g| *g != 0.0)?;
                Some(CountsLaw { gain_k_per_count, offset_k: number(&self.offset)? })
            }
        }
    }

    /// Chooses what has only one answer: the only face, the only rail.
    pub fn settle(&mut self) {
        // A log says when injection starts, unless the user said it already.
        let log_read = matches!(self.files_found.log, Some(Ok(_)));
        if log_read && self.onset == Onset::Frame && self.onset_frame == 0 {
            self.onset = Onset::Log;
        }
        let Some(board) = self.board_read().cloned() else {
            return;
        };
        if board.face(&self.face).is_none() {
            self.face = if let [only] = board.faces.as_slice() { only.name.clone() } else { String::new() };
        }
        if board.rail(&self.rail).is_none() {
            self.rail = if let [only] = board.rails.as_slice() { only.name.clone() } else { String::new() };
        }
    }

    /// What still has to be given, one sentence each.
    pub fn missing(&self) -> Vec<String> {
        let mut missing = Vec::new();
        let mut need = |wanting: bool, what: &str| {
            if wanting {
                missing.push(what.to_owned());
            }
        };
        if let Some(into) = &self.into {
            need(self.take_name.trim().is_empty(), "Name the take.");
            need(
                into.taken.iter().any(|t| t == self.take_name.trim()),
                "The case has a take of that name: give another.",
            );
        }
        need(self.frames.trim().is_empty(), "Choose the frames.");
        need(!self.frames.trim().is_empty() && self.frames_read().is_none(), "The frames could not be read yet.");
        need(self.asks_law() && self.counts().is_none(), "State what a count means.");
        need(self.board_read().is_none(), "Choose the board drawing.");
        if let Some(board) = self.board_read() {
            need(board.rail(&self.rail).is_none(), "Choose the shorted rail.");
            need(board.face(&self.face).is_none(), "Choose the side in the picture.");
        }
        need(
            !self.pairs.trim().is_empty() && !matches!(self.files_found.pairs, Some(Ok(_))),
            "The point pairs could not be read; leave them out to line up by hand.",
        );
        match self.onset {
            Onset::Log => need(
                !matches!(self.files_found.log, Some(Ok(_))),
                "Choose the capture log, or say at which frame injection starts.",
            ),
            Onset::Frame => need(
                self.onset_frame == 0,
                "Say at which frame injection starts: at least one frame before it is needed.",
            ),
        }
        need(
            self.log.trim().is_empty()
                && number(&self.rate_hz).is_none_or(|r| r <= 0.0)
                && self.frames_read().is_some_and(|f| !f.timed),
            "Give the frame rate, or a capture log.",
        );
        need(
            !self.lead_ohms.trim().is_empty() && number(&self.lead_ohms).is_none_or(|r| r < 0.0),
            "The leads' resistance is not a number of ohms.",
        );
        missing
    }

    /// Where everything is, for reading the take. The onset is left out while it is to be proposed.
    pub fn source(&self, with_onset: bool) -> TakeSource {
        let frame = (with_onset && self.onset == Onset::Frame).then_some(InjectFrom::Frame(self.onset_frame));
        TakeSource {
            name: self.take_name(),
            case_file: None,
            frames: PathBuf::from(self.frames.trim()),
            log: (!self.log.trim().is_empty()).then(|| PathBuf::from(self.log.trim())),
            board: PathBuf::from(self.board.trim()),
            rail: self.rail.clone(),
            pairs: match self.pairs.trim() {
                "" => PairsSource::Given(Vec::new(), None),
                path => PairsSource::File(PathBuf::from(path)),
            },
            face: (!self.face.is_empty()).then(|| self.face.clone()),
            counts: self.counts(),
            lead_ohms: number(&self.lead_ohms),
            probe_mm: None,
            period_s: None,
            inject_from: frame,
            rate_hz: number(&self.rate_hz),
            mask_nan: false,
            memory_mib: crate::case::load::MEMORY_MIB,
            simulated: false,
        }
    }

    fn take_name(&self) -> String {
        let name = self.take_name.trim();
        if name.is_empty() { free_name("inject", &[]) } else { name.to_owned() }
    }

    /// The pairs of the file; none where the picture is to be lined up by hand.
    fn pairs_read(&self) -> Vec<PointPair> {
        self.files_found.pairs.clone().and_then(Result::ok).unwrap_or_default()
    }

    /// The take that the form describes, with absolute paths: its files are not in the case's folder yet.
    pub fn take(&self) -> TakeEntry {
        let source = self.source(true);
        TakeEntry {
            name: source.name.clone(),
            frames: absolute(&source.frames),
            log: source.log.as_deref().map(absolute),
            inject_from: match source.inject_from {
                Some(InjectFrom::Frame(frame)) => Some(frame),
                _ => None,
            },
            rate_hz: source.rate_hz,
            counts: source.counts,
            face: self.face.clone(),
            pairs: self.pairs_read(),
            shows: self.shows,
            ..TakeEntry::default()
        }
    }

    /// The case that the form describes, with absolute paths: it is not in a folder yet.
    pub fn case(&self) -> Case {
        let source = self.source(true);
        let name = if self.name.trim().is_empty() { "Unnamed case" } else { self.name.trim() };
        Case {
            version: crate::case::VERSION,
            name: name.to_owned(),
            board: absolute(&source.board),
            rail: self.rail.clone(),
            lead_ohms: source.lead_ohms,
            takes: vec![self.take()],
            ..Case::default()
        }
    }
}

fn absolute(path: &Path) -> PathBuf {
    std::path::absolute(path).unwrap_or_else(|_| path.to_owned())
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Board,
    Log,
    Pairs,
    Frames,
}

/// What a file seems to be, by its name, and for CSV by its first line.
fn kind(path: &Path) -> Kind {
    let extension = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    match extension.as_str() {
        "ron" | "json" => Kind::Board,
        "csv" => {
            let mut head = [0_u8; 512];
            let read = fs::File::open(path).and_then(|mut f| f.read(&mut head)).unwrap_or(0);
            let head = String::from_utf8_lossy(&head[..read]).to_ascii_lowercase();
            if head.contains("x_px") {
                Kind::Pairs
            } else if head.contains("injecting") {
                Kind::Log
            } else {
                Kind::Frames
            }
        }
        _ => Kind::Frames,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts() -> FramesFound {
        FramesFound { description: "16-bit".into(), scale: Scale::Counts { bits: 16 }, frames: 100, timed: false }
    }

    #[test]
    fn files_are_sorted_by_what_they_are() {
        let folder = tempfile::tempdir().unwrap();
        let file = |name: &str, text: &str| {
            let path = folder.path().join(name);
            fs::write(&path, text).unwrap();
            path
        };
        let mut draft = Draft::default();
        draft.take_in(&[
            file("a.csv", "frame,time_s,injecting,volts,amps\n"),
            file("b.csv", "X_px,y_px,x_mm,y_mm\n"),
            file("c.json", "{}"),
            file("radio.tif", "II"),
        ]);
        assert!(draft.log.ends_with("a.csv") && draft.pairs.ends_with("b.csv"));
        assert!(draft.board.ends_with("c.json") && draft.frames.ends_with("radio.tif"));
        assert_eq!((draft.name.as_str(), draft.onset), ("radio", Onset::Log));
        let mut matrix = Draft::default();
        matrix.take_in(&[file("d.csv", "300.1;300.2\n")]);
        assert!(matrix.frames.ends_with("d.csv"));
        assert_eq!(matrix.onset, Onset::Frame);
    }

    #[test]
    fn counts_need_a_law_and_it_is_never_guessed() {
        let mut draft =
            Draft { frames: "f.tif".into(), frames_found: Some(("f.tif".into(), Ok(counts()))), ..Draft::default() };
        let asked = |d: &Draft| d.missing().contains(&"State what a count means.".to_owned());
        assert!(asked(&draft) && draft.counts().is_none());
        draft.law = LawChoice::Linear;
        assert!(asked(&draft));
        (draft.gain, draft.offset) = ("0,04".into(), "-273.15".into());
        assert_eq!(draft.counts(), Some(CountsLaw { gain_k_per_count: 0.04, offset_k: -273.15 }));
        assert!(!asked(&draft));
        draft.gain = "0".into();
        assert!(asked(&draft));
        // Another path means that nothing is known of it yet.
        draft.frames = "g.tif".into();
        assert!(!draft.asks_law() && draft.missing().contains(&"The frames could not be read yet.".to_owned()));
    }
}
