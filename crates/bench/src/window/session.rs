//! The open case: its document with undo, its drawing, and per take the recording and what was found in it.
//! Everything heavy is shared by `Arc`, so that work in the background can hold it too.

use std::{
    collections::HashMap,
    path::{Path, PathBuf},
    sync::{
        Arc,
        atomic::{AtomicU64, Ordering},
    },
};

use joulemark_frames::Take;
use joulemark_locate::{
    Located, Scene, SpotAnswer, Suspect,
    align::{Alignment, PointPair, Refinement},
    board::{Board, Face},
    repair::clipped_pixels,
};
use nalgebra::Point2;

use super::{
    compare::Compared,
    document::{Document, Edit, History},
    engine::Judgement,
    exercise::Results,
    frames_seen::FramesSeen,
    journal::Journal,
    map::outline::Drawn,
};
use crate::{
    case::{Case, exercise::Exercise, shows::Shows},
    layer::ranges::Ranges,
    library::earlier::Learnt,
};

/// What a result was computed from. When the document says otherwise by now, the result is out of date.
#[derive(Clone, Debug, PartialEq)]
pub struct Inputs {
    /// The rail.
    pub rail: String,
    /// Resistance of the leads.
    pub lead_ohms: Option<f64>,
    /// The face.
    pub face: String,
    /// The point pairs.
    pub pairs: Vec<PointPair>,
    /// The mapping refined from them.
    pub refined: Option<Refinement>,
    /// The first injected frame, when the log does not say.
    pub inject_from: Option<usize>,
    /// What a count means.
    pub counts: Option<joulemark_frames::CountsLaw>,
    /// Where the probe touches the face, in millimetres.
    pub probe_mm: Option<(f64, f64)>,
    /// Time from one pulse to the next.
    pub period_s: Option<f64>,
    /// What happens on the take.
    pub shows: Shows,
}

impl Inputs {
    /// What the document says for a take.
    pub fn of(document: &Document, take: &str) -> Option<Self> {
        let entry = document.take(take)?;
        Some(Self {
            rail: document.case.rail.clone(),
            lead_ohms: document.case.lead_ohms,
            face: entry.face.clone(),
            pairs: entry.pairs.clone(),
            refined: entry.refined.clone(),
            inject_from: entry.inject_from,
            counts: entry.counts,
            probe_mm: entry.probe_mm,
            period_s: entry.period_s,
            shows: entry.shows,
        })
    }
}

impl Inputs {
    /// What locating looks at.
    pub fn scene<'a>(&'a self, board: &'a Board, alignment: &'a Alignment) -> Scene<'a> {
        Scene {
            board,
            face: &self.face,
            rail: &self.rail,
            alignment,
            lead_ohms: self.lead_ohms,
            injection_mm: self.probe_mm.map(|(x, y)| Point2::new(x, y)),
        }
    }
}

/// A take that was read, and what was found in it.
#[derive(Clone, Debug)]
pub struct TakeView {
    /// The recording.
    pub take: Arc<Take>,
    /// Pixels to millimetres, where the point pairs allow it.
    pub alignment: Option<Alignment>,
    /// Why there is no alignment.
    pub alignment_fault: Option<String>,
    /// The answer, once located.
    pub located: Option<Arc<Located>>,
    /// What it was computed from.
    pub inputs: Inputs,
    /// The drawing that it was computed with.
    pub board: Arc<Board>,
    /// What its frames say before anything is located.
    pub seen: Arc<FramesSeen>,
    /// Value ranges of everything that can be shown.
    pub ranges: Ranges,
    /// Pixels at either end of the camera's range, row by row.
    pub clipped: Arc<Vec<bool>>,
    /// The drawing in picture coordinates.
    pub drawn: Drawn,
    /// Told apart from every other view, so that textures know what they show.
    pub serial: u64,
}

fn drawn(board: &Board, face: &str, alignment: Option<&Alignment>) -> Drawn {
    let pair = alignment.zip(board.face(face));
    pair.map_or_else(Drawn::default, |(alignment, face)| Drawn::project(board, face, alignment))
}

/// Whether two drawings say the same about heat: names, photos and holes do not matter to it.
fn same_heat(a: &Board, b: &Board) -> bool {
    let face = |(a, b): (&Face, &Face)| {
        a.name == b.name && a.outline == b.outline && a.parts == b.parts && a.through == b.through
    };
    a.rails == b.rails && a.faces.len() == b.faces.len() && a.faces.iter().zip(&b.faces).all(face)
}

impl TakeView {
    /// Puts a read take and its answer together; does the view arithmetic that should not be done per frame.
    pub fn new(take: Arc<Take>, located: Option<Arc<Located>>, inputs: Inputs, board: &Board) -> Self {
        let (alignment, alignment_fault) = match Alignment::of(&inputs.pairs, inputs.refined.as_ref()) {
            Ok(alignment) => (Some(alignment), None),
            Err(fault) => (None, Some(fault.to_string())),
        };
        let seen = Arc::new(FramesSeen::of(&take));
        let ranges = Ranges::measure(&take, located.as_deref());
        let drawn = drawn(board, &inputs.face, alignment.as_ref());
        let board = Arc::new(board.clone());
        let clipped = Arc::new(clipped_pixels(&take.stack));
        let serial = fresh_serial();
        Self { take, alignment, alignment_fault, located, inputs, board, seen, ranges, clipped, drawn, serial }
    }

    /// The answer for one hot spot.
    pub fn answer(&self, spot: usize) -> Option<&SpotAnswer> {
        self.located.as_ref()?.answers.get(spot)
    }

    /// The leading suspect of one hot spot.
    pub fn leading(&self, spot: usize) -> Option<&Suspect> {
        self.answer(spot)?.suspects.first()
    }

    /// A part among the suspects: the hot spot where it is most probable, and its entry there.
    pub fn suspect(&self, part: &str) -> Option<(usize, &Suspect)> {
        let answers = &self.located.as_ref()?.answers;
        answers
            .iter()
            .enumerate()
            .filter_map(|(spot, answer)| Some((spot, answer.suspects.iter().find(|s| s.part == part)?)))
            .max_by(|(_, a), (_, b)| a.probability.total_cmp(&b.probability))
    }
}

/// The open case.
#[derive(Clone, Debug)]
pub struct Session {
    /// Where it is kept; `None` until it is saved for the first time.
    pub folder: Option<PathBuf>,
    /// What the user can change.
    pub document: Document,
    history: History,
    /// The drawing, as the document has it.
    pub board: Arc<Board>,
    /// Takes that were read, by name.
    pub views: HashMap<String, Arc<TakeView>>,
    /// Name of the take shown.
    pub shown: String,
    /// What is in the file.
    saved: Option<(Case, Arc<Board>)>,
    /// What the shop has learnt of this board model from its other cases.
    pub learnt: Arc<Learnt>,
    /// What was done, for the case log.
    pub journal: Journal,
    /// What the engine said last.
    pub judgement: Judgement,
    /// What is known of it where it is an exercise.
    pub results: Results,
    /// The last two takes that were compared.
    compared: Option<Arc<Compared>>,
    /// How often the document changed.
    changes: u64,
    /// Whether it was saved since it was opened.
    saved_here: bool,
    /// The drawing as it was when the session began.
    opened: Arc<Board>,
    /// Told apart from every other session, so that late results find theirs.
    pub serial: u64,
}

/// A number that no view and no session had before.
fn fresh_serial() -> u64 {
    static NEXT: AtomicU64 = AtomicU64::new(1);
    NEXT.fetch_add(1, Ordering::Relaxed)
}

impl Session {
    /// A case with its drawing; the first take is shown.
    pub fn new(folder: Option<PathBuf>, document: Document, board: Arc<Board>) -> Self {
        let shown = document.case.takes.first().map(|t| t.name.clone()).unwrap_or_default();
        let mut document = document;
        document.board = Arc::clone(&board);
        document.connections_over = document.case.connections.len();
        let saved = folder.is_some().then(|| (document.case.clone(), Arc::clone(&board)));
        let (history, views, serial) = (History::default(), HashMap::new(), fresh_serial());
        let (opened, journal) = (Arc::clone(&board), Journal::default());
        Self {
            folder,
            document,
            history,
            board,
            views,
            shown,
            saved,
            learnt: Arc::default(),
            journal,
            judgement: Judgement::default(),
            results: Results::default(),
            compared: None,
            changes: 0,
            saved_here: false,
            opened,
            serial,
        }
    }

    /// Whether the document differs from the file, or there is no file yet.
    pub fn unsaved(&self) -> bool {
        self.saved.as_ref().is_none_or(|(case, board)| {
            *case != self.document.case || (!Arc::ptr_eq(board, &self.board) && **board != *self.board)
        })
    }

    /// Whether the drawing differs from its file, or has none.
    pub fn drawn(&self) -> bool {
        let case = &self.document.case;
        match &self.saved {
            Some((_, board)) => !Arc::ptr_eq(board, &self.board) && **board != *self.board,
            None => case.board.as_os_str().is_empty() || !Arc::ptr_eq(&self.opened, &self.board),
        }
    }

    /// How often the document changed.
    pub fn changes(&self) -> u64 {
        self.changes
    }

    /// Whether its log goes to the disk. A practice case is often the bundled one, which looking around must not change:
    /// its log is written from the first save on.
    pub fn keeps_log(&self) -> bool {
        // What a student answers is no work on a device.
        let exercise = self.document.case.exercise.is_some();
        !exercise && self.folder.is_some() && (self.document.case.practice.is_none() || self.saved_here)
    }

    /// Whether the board is drawn and no take was added yet.
    pub fn waits_for_take(&self) -> bool {
        self.document.case.takes.is_empty() && self.board.faces.iter().any(|f| !f.parts.is_empty())
    }

    /// The last two takes that were compared.
    pub fn compared(&self) -> Option<&Compared> {
        self.compared.as_deref()
    }

    /// Keeps a comparison, and the takes that were read for it.
    pub fn keep_compared(&mut self, compared: Compared) {
        for view in [&compared.before, &compared.after] {
            self.views.insert(view.take.name.clone(), Arc::clone(view));
        }
        self.compared = Some(Arc::new(compared));
    }

    /// Adds a read take.
    pub fn with_view(mut self, view: TakeView) -> Self {
        self.shown.clone_from(&view.take.name);
        self.views.insert(view.take.name.clone(), Arc::new(view));
        self
    }

    /// The view of the take shown, when it was read.
    pub fn view(&self) -> Option<&Arc<TakeView>> {
        self.views.get(&self.shown)
    }

    /// The face in the picture of the take shown.
    pub fn face(&self) -> Option<&Face> {
        self.board.face(&self.document.take(&self.shown)?.face)
    }

    /// The path of a file that the drawing names.
    pub fn beside_drawing(&self, file: &str) -> PathBuf {
        let drawing = self.folder.as_deref().unwrap_or(Path::new("")).join(&self.document.case.board);
        drawing.parent().unwrap_or(Path::new("")).join(file)
    }

    /// Whether the shown result is older than what the document says.
    pub fn out_of_date(&self) -> bool {
        self.view().is_some_and(|view| {
            Inputs::of(&self.document, &self.shown).as_ref() != Some(&view.inputs)
                || !same_heat(&view.board, &self.board)
        })
    }

    /// Applies an edit.
    pub fn apply(&mut self, edit: Edit) {
        self.changes += 1;
        let edit = match edit {
            Edit::AddTake { index, mut entry } if entry.after == 0 => {
                entry.after = self.document.latest_intervention();
                Edit::AddTake { index, entry }
            }
            edit => edit,
        };
        let record = edit.record();
        if self.history.apply(&mut self.document, edit)
            && let Some(record) = record
        {
            self.journal.note(record);
        }
        self.follow_board();
    }

    /// Changes what does not undo in an exercise: looks that were used, answers that were handed in.
    pub fn change_exercise(&mut self, change: impl FnOnce(&mut Exercise)) {
        if let Some(exercise) = &mut self.document.case.exercise {
            change(exercise);
            self.changes += 1;
        }
    }

    /// Applies an edit that goes on with the last one, so that both are taken back together: letters of a text.
    pub fn go_on(&mut self, edit: Edit) {
        if self.history.go_on(&mut self.document, &edit) {
            self.changes += 1;
        } else {
            self.apply(edit);
        }
    }

    /// Takes the last edit back and says what it was.
    pub fn undo(&mut self) -> Option<String> {
        let words = self.history.undo(&mut self.document)?;
        self.journal.note(format!("undone: {words}"));
        self.after_time_travel();
        Some(words)
    }

    /// Does the edit taken back last again and says what it is.
    pub fn redo(&mut self) -> Option<String> {
        let words = self.history.redo(&mut self.document)?;
        self.journal.note(format!("done again: {words}"));
        self.after_time_travel();
        Some(words)
    }

    /// What undo and redo would do.
    pub fn next_undo_redo(&self) -> (Option<String>, Option<String>) {
        (self.history.next_undo(), self.history.next_redo())
    }

    /// After saving: where it is now, and the paths within that folder. `saved` is what was written; edits made since
    /// stay, and stay unsaved.
    pub fn saved_in(&mut self, folder: PathBuf, saved: Case, board: Arc<Board>) {
        let case = &mut self.document.case;
        case.board.clone_from(&saved.board);
        for take in &mut case.takes {
            if let Some(written) = saved.takes.iter().find(|t| t.name == take.name) {
                take.frames.clone_from(&written.frames);
                take.log.clone_from(&written.log);
            }
        }
        case.version = saved.version;
        let written = |face: &Face| board.face(&face.name).and_then(|f| f.photo.as_ref()).map(|p| p.file.clone());
        for face in &mut Arc::make_mut(&mut self.document.board).faces {
            let file = written(face);
            if let (Some(photo), Some(file)) = (&mut face.photo, file) {
                photo.file = file;
            }
        }
        if self.folder.as_ref() != Some(&folder) {
            self.journal.moved();
        }
        self.journal.note("case saved");
        self.folder = Some(folder);
        self.saved_here = true;
        self.saved = Some((saved, board));
        self.follow_board();
    }

    /// After the document's drawing changed: the parts on the map follow.
    fn follow_board(&mut self) {
        if Arc::ptr_eq(&self.board, &self.document.board) {
            return;
        }
        self.board = Arc::clone(&self.document.board);
        for view in self.views.values_mut() {
            let view = Arc::make_mut(view);
            view.drawn = drawn(&self.board, &view.inputs.face, view.alignment.as_ref());
        }
    }

    fn after_time_travel(&mut self) {
        self.changes += 1;
        self.follow_board();
        if self.document.take(&self.shown).is_none() {
            self.shown = self.document.case.takes.first().map(|t| t.name.clone()).unwrap_or_default();
        }
    }
}
