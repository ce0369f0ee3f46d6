//! What runs in the background: reading, locating, saving, file dialogs. Each returns an [`Outcome`].

use std::{
    fs,
    path::{Path, PathBuf},
    sync::Arc,
    time::Instant,
};

use anyhow::Context as _;
use joulemark_frames::{
    CaptureLog, Progress, Take,
    read::{self, ReadOptions},
};
use joulemark_locate::{
    Scene, Settings,
    align::Alignment,
    board::Board,
    locate,
    onset::{self, OnsetProposal},
};
use nalgebra::Point2;

use super::{
    command::Pick,
    document::Document,
    drawing::{
        import,
        photo::{self, Loaded},
        shelf,
    },
    form::{Draft, FilesFound, FramesFound},
    practice,
    screen::Fault,
    session::{Inputs, Session, TakeView},
};
use crate::case::{BadInput, Case, CaseFolder, board_file, load, pairs, practice as practice_case};

/// What background work results in.
#[derive(Debug)]
pub enum Outcome {
    /// A case was opened, perhaps with a fault in its take.
    Opened(Box<Session>, Option<Fault>),
    /// A practice case was simulated into a folder that goes when the window closes.
    Simulated(Box<Session>, Option<Fault>, tempfile::TempDir),
    /// A take of the session with that number was read or located, perhaps with a fault.
    Viewed(u64, Box<TakeView>, Option<Fault>),
    /// What the form's frames are.
    Frames(String, Result<FramesFound, String>),
    /// What the form's small files are.
    Files(FilesFound),
    /// When injection seems to start.
    Proposed(Result<OnsetProposal, String>),
    /// This desktop has no file dialog: the path has to be typed.
    NoDialog(Pick),
    /// What was picked in a file dialog.
    Picked(Pick, Option<PathBuf>),
    /// The case of the session with that number was saved there, with these paths.
    Saved(u64, PathBuf, Box<Case>, Arc<Board>),
    /// A photo for a face was read.
    Photo(Box<Loaded>),
    /// Pairs of the session with that number were refined, or taken over from another take.
    LinedUp(u64, Box<super::lining::work::LinedUp>),
    /// Design files were read.
    Design(Box<import::Found>),
    /// What is on the shelf, or one line.
    Shelved(Result<shelf::Shelved, String>),
    /// A drawing of that name was taken from the shelf.
    FromShelf(Box<Board>),
    /// Something was written; the words say what.
    Done(String),
    /// It did not work.
    Failed(Fault),
}

/// A fault with a title.
pub fn fault(title: &str, error: &anyhow::Error) -> Fault {
    let line = format!("{error:#}").split_whitespace().collect::<Vec<_>>().join(" ");
    Fault { title: title.to_owned(), message: line, action: None }
}

/// Opens the bundled practice case, or simulates it into a temporary folder where it is not beside the program.
pub fn open_practice(progress: &dyn Progress) -> Outcome {
    if let Some(path) = practice::bundled() {
        return open_case(&path, progress);
    }
    let made = tempfile::tempdir().context("no temporary folder for the practice case").and_then(|place| {
        practice_case::write_case(
            practice::SCENARIO,
            practice::SEED,
            &place.path().join(practice::SCENARIO),
            progress,
        )?;
        Ok(place)
    });
    match made {
        Ok(place) => match open_case(&place.path().join(practice::SCENARIO), progress) {
            Outcome::Opened(session, fault) => Outcome::Simulated(session, fault, place),
            other => other,
        },
        Err(error) => Outcome::Failed(fault("Could not make the practice case", &error)),
    }
}

/// Opens a case and locates its newest take.
pub fn open_case(path: &Path, progress: &dyn Progress) -> Outcome {
    let opened = CaseFolder::open(path).and_then(|folder| {
        let board = folder.drawing()?;
        Ok((folder, Arc::new(board)))
    });
    let (folder, board) = match opened {
        Ok(opened) => opened,
        Err(error) => return Outcome::Failed(fault("Could not open the case", &error)),
    };
    let newest = folder.case.takes.last().map(|t| t.name.clone());
    let document = Document { case: folder.case, ..Document::default() };
    let mut session = Session::new(Some(folder.folder), document, Arc::clone(&board));
    let Some(newest) = newest else {
        return Outcome::Opened(Box::new(session), None);
    };
    session.shown.clone_from(&newest);
    match view_take(session.folder.as_deref(), &session.document, &board, &newest, None, progress) {
        Ok((view, fault)) => Outcome::Opened(Box::new(session.with_view(view)), fault),
        Err(error) => Outcome::Opened(Box::new(session), Some(fault("Could not read the take", &error))),
    }
}

/// Reads a take of the document unless `read` is given, and locates it. The view comes with a fault when the take was
/// read but could not be located.
pub fn view_take(
    folder: Option<&Path>,
    document: &Document,
    board: &Board,
    name: &str,
    read: Option<Arc<Take>>,
    progress: &dyn Progress,
) -> anyhow::Result<(TakeView, Option<Fault>)> {
    let inputs = Inputs::of(document, name).with_context(|| format!("take '{name}' is not in this case"))?;
    let take = match read {
        Some(take) => take,
        None => {
            let case = CaseFolder { folder: folder.unwrap_or(Path::new("")).to_owned(), case: document.case.clone() };
            Arc::new(load::load_take(&case.source(case.take(Some(name))?), progress)?)
        }
    };
    Ok(locate_take(take, inputs, board, progress))
}

/// Locates a read take as far as its inputs allow.
fn locate_take(take: Arc<Take>, inputs: Inputs, board: &Board, progress: &dyn Progress) -> (TakeView, Option<Fault>) {
    let alignment = Alignment::fit(&inputs.pairs);
    let (located, fault) = match &alignment {
        Ok(alignment) if take.timeline.first_injected().is_some() => {
            if let Err(error) = board.check() {
                let error = anyhow::anyhow!("the drawing, {error}");
                return (TakeView::new(take, None, inputs, board), Some(fault("Could not locate", &error)));
            }
            let scene = Scene {
                board,
                face: &inputs.face,
                rail: &inputs.rail,
                alignment,
                lead_ohms: inputs.lead_ohms,
                injection_mm: inputs.probe_mm.map(|(x, y)| Point2::new(x, y)),
            };
            let settings = Settings { period_s: inputs.period_s, ..Settings::default() };
            match locate(&take, &scene, &settings, progress) {
                Ok(located) => (Some(Arc::new(located)), None),
                Err(error) => {
                    let error = anyhow::anyhow!("take '{}': {error}", take.name);
                    (None, Some(fault("Could not locate", &error)))
                }
            }
        }
        // What is missing is said by the capture stage; a take without pairs or onset is no fault.
        _ => (None, None),
    };
    (TakeView::new(take, located, inputs, board), fault)
}

/// Reads and locates what the form describes.
pub fn open_draft(draft: &Draft, progress: &dyn Progress) -> Outcome {
    let source = draft.source(true);
    let opened = load::load(&source, progress).and_then(|loaded| {
        let document = Document { case: draft.case(), ..Document::default() };
        let inputs = Inputs::of(&document, &source.name).context("the form names no take")?;
        Ok((loaded, document, inputs))
    });
    match opened {
        Ok((loaded, document, inputs)) => {
            let board = Arc::new(loaded.board);
            let (view, fault) = locate_take(Arc::new(loaded.take), inputs, &board, progress);
            Outcome::Opened(Box::new(Session::new(None, document, board).with_view(view)), fault)
        }
        Err(error) => Outcome::Failed(fault("Could not make the case", &error)),
    }
}

/// Looks what the form's frames are.
pub fn look_at_frames(path: String, progress: &dyn Progress) -> Outcome {
    let found = read::open(Path::new(path.trim()), &ReadOptions::default(), progress)
        .map(|recording| FramesFound {
            description: recording.description,
            scale: recording.scale,
            frames: recording.samples.shape().frames,
            timed: recording.time_s.is_some(),
        })
        .map_err(|e| e.to_string());
    Outcome::Frames(path, found)
}

/// Looks what the form's small files are.
pub fn look_at_files([log, board, pairs_file]: [String; 3]) -> Outcome {
    let line = |e: anyhow::Error| format!("{e:#}");
    let given = |path: &String| (!path.trim().is_empty()).then(|| PathBuf::from(path.trim()));
    Outcome::Files(FilesFound {
        log: given(&log).map(|f| CaptureLog::read(&f).map(|l| l.rows.len()).map_err(|e| e.to_string())),
        board: given(&board).map(|f| board_file::read(&f).map(Arc::new).map_err(line)),
        pairs: given(&pairs_file).map(|f| {
            let pairs = pairs::read(&f).map_err(line)?;
            Alignment::fit(&pairs).map_err(|e| format!("{}: {e}", f.display()))?;
            Ok(pairs)
        }),
        looked_at: [log, board, pairs_file],
    })
}

/// Proposes when injection starts in the form's frames.
pub fn propose_onset(draft: &Draft, progress: &dyn Progress) -> Outcome {
    Outcome::Proposed(match load::load_take(&draft.source(false), progress) {
        Ok(take) => {
            progress.report("looking for the onset", 0, 1);
            onset::propose(&take).ok_or_else(|| {
                "Nothing in this recording changes clearly enough to propose an onset; give the frame yourself."
                    .to_owned()
            })
        }
        Err(error) => Err(format!("{error:#}")),
    })
}

/// Shows a file dialog. Runs off the window's thread, so that the window goes on.
pub fn pick(kind: Pick, start: Option<PathBuf>) -> Outcome {
    let since = Instant::now();
    let mut dialog = rfd::FileDialog::new();
    if let Some(start) = start {
        dialog = dialog.set_directory(start);
    }
    let picked = match kind {
        Pick::Case => dialog.set_title("Open a case folder").pick_folder(),
        Pick::FramesFolder => dialog.set_title("Folder of frames").pick_folder(),
        Pick::SaveCase => dialog.set_title("Folder for the new case").pick_folder(),
        Pick::FramesFile => dialog.set_title("Frames").pick_file(),
        Pick::Log => dialog.set_title("Capture log").add_filter("CSV", &["csv"]).pick_file(),
        Pick::Pairs => dialog.set_title("Point pairs").add_filter("CSV", &["csv"]).pick_file(),
        Pick::Photo => {
            dialog.set_title("Photo").add_filter("pictures", &["png", "jpg", "jpeg", "bmp", "webp"]).pick_file()
        }
        Pick::Design | Pick::DesignToo => {
            let dialog = dialog.set_title("Design file").add_filter("design files", &import::ENDINGS);
            dialog.add_filter("all files", &["*"]).pick_file()
        }
        Pick::ExportSvg => dialog.set_title("Export as SVG").set_file_name("board.svg").save_file(),
        Pick::ExportJson => dialog.set_title("Export as board.json").set_file_name("board.json").save_file(),
        Pick::BenchCard => dialog.set_title("Print the bench card").set_file_name("bench-card.html").save_file(),
        Pick::Board => dialog.set_title("Board drawing").add_filter("board", &["ron", "json"]).pick_file(),
    };
    // Nobody closes a dialog within a quarter of a second: the desktop has none to show.
    if picked.is_none() && since.elapsed().as_millis() < 250 {
        return Outcome::NoDialog(kind);
    }
    Outcome::Picked(kind, picked)
}

/// Reads a photo.
pub fn load_photo(path: &Path) -> Outcome {
    match photo::load(path) {
        Ok(loaded) => Outcome::Photo(Box::new(loaded)),
        Err(error) => Outcome::Failed(fault("Could not read the photo", &error)),
    }
}

/// Saves a case into its folder; the drawing too where it was `drawn` in the window. Files from elsewhere are copied in, so that the folder holds everything.
pub fn save(
    session: u64,
    folder: PathBuf,
    mut case: Case,
    mut board: Arc<Board>,
    drawn: bool,
    progress: &dyn Progress,
) -> Outcome {
    let result = (|| {
        fs::create_dir_all(&folder).map_err(|e| BadInput::unwritable(&folder, &e))?;
        let total = 1 + case.takes.len() * 2;
        progress.report("copying the board drawing", 0, total);
        if drawn {
            for face in &mut Arc::make_mut(&mut board).faces {
                if let Some(photo) = &mut face.photo {
                    photo.file = bring_in(&folder, Path::new(&photo.file))?.to_string_lossy().into_owned();
                }
            }
            case.board = board_file::write_in(&folder, &case.board, &board)?;
        } else {
            case.board = bring_in(&folder, &case.board)?;
        }
        for (i, take) in case.takes.iter_mut().enumerate() {
            progress.report("copying recordings", 1 + 2 * i, total);
            if progress.cancelled() {
                anyhow::bail!("cancelled");
            }
            take.frames = bring_in(&folder, &take.frames)?;
            if let Some(log) = &take.log {
                take.log = Some(bring_in(&folder, log)?);
            }
        }
        let mut saved = CaseFolder { folder: folder.clone(), case };
        saved.save()?;
        Ok(saved.case)
    })();
    match result {
        Ok(case) => Outcome::Saved(session, folder, Box::new(case), board),
        Err(error) => Outcome::Failed(fault("Could not save the case", &error)),
    }
}

/// A path relative to the folder: as it is when it already lies there, otherwise copied in under a free name.
fn bring_in(folder: &Path, path: &Path) -> anyhow::Result<PathBuf> {
    if path.is_relative() {
        return Ok(path.to_owned());
    }
    let root = std::path::absolute(folder).unwrap_or_else(|_| folder.to_owned());
    if let Ok(inside) = path.strip_prefix(&root) {
        return Ok(inside.to_owned());
    }
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let free = std::iter::once(name.clone())
        .chain((2..).map(|i| format!("{i}-{name}")))
        .find(|n| !folder.join(n).exists())
        .unwrap_or(name);
    let to = folder.join(&free);
    copy(path, &to).map_err(|e| {
        BadInput::at(
            path,
            "",
            format!("cannot be copied to {}: {e}", to.display()),
            "check the space and that it may be written to",
        )
    })?;
    // Raw frames have a sidecar beside them that says what they are.
    let sidecar = |p: &Path| p.with_extension("ron");
    if path.is_file() && path.extension().is_some_and(|e| e == "raw") && sidecar(path).exists() {
        copy(&sidecar(path), &sidecar(&to)).map_err(|e| BadInput::unwritable(&sidecar(&to), &e))?;
    }
    Ok(PathBuf::from(free))
}

fn copy(from: &Path, to: &Path) -> std::io::Result<()> {
    if !from.is_dir() {
        return fs::copy(from, to).map(|_| ());
    }
    fs::create_dir(to)?;
    for entry in fs::read_dir(from)? {
        let entry = entry?;
        // A folder of frames is flat; what lies deeper is not part of the take.
        if entry.file_type()?.is_file() {
            fs::copy(entry.path(), to.join(entry.file_name()))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use joulemark_frames::NoProgress;

    use super::*;
    use crate::case::TakeEntry;

    #[test]
    fn saving_brings_everything_into_the_folder() {
        let from = tempfile::tempdir().unwrap();
        let to = tempfile::tempdir().unwrap();
        let file = |name: &str| {
            let path = from.path().join(name);
            fs::write(&path, name).unwrap();
            path
        };
        let stills = from.path().join("stills");
        fs::create_dir(&stills).unwrap();
        fs::write(stills.join("0.png"), "0").unwrap();
        let take = |name: &str, frames: PathBuf| TakeEntry {
            name: name.into(),
            frames,
            log: Some(file("log.csv")),
            ..TakeEntry::default()
        };
        let case = Case {
            board: file("board.ron"),
            takes: vec![take("a", file("frames.tif")), take("b", stills)],
            ..Case::default()
        };
        let folder = to.path().join("case");
        let Outcome::Saved(7, at, saved, _) = save(7, folder.clone(), case, Arc::default(), false, &NoProgress) else {
            panic!("not saved");
        };
        assert_eq!(at, folder);
        assert_eq!(saved.board, Path::new("board.ron"));
        assert_eq!(saved.takes[1].frames, Path::new("stills"));
        assert_eq!(
            saved.takes[1].log.as_deref(),
            Some(Path::new("2-log.csv")),
            "a second file of that name is kept apart"
        );
        for name in ["case.ron", "board.ron", "frames.tif", "log.csv", "stills/0.png"] {
            assert!(folder.join(name).exists(), "{name}");
        }
        assert_eq!(CaseFolder::open(&folder).unwrap().case, *saved);
    }

    #[test]
    fn a_case_that_is_not_there_is_a_fault_in_one_line() {
        let Outcome::Failed(fault) = open_case(Path::new("/no/such/case"), &NoProgress) else {
            panic!("opened");
        };
        assert!(fault.message.contains("/no/such/case"), "{}", fault.message);
        assert_eq!(fault.message.lines().count(), 1);
    }
}
