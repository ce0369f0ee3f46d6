//! Work of the student's desk that takes time: the maps and what the program found, another exercise, the class file.

use std::{
    path::{Path, PathBuf},
    sync::Arc,
};

use joulemark_frames::{CaptureLog, Progress, Take};
use joulemark_locate::{EarlierCases, HeatLedger, Located, board::Board};

use super::{
    super::{
        document::Document,
        session::{Inputs, TakeView},
        work::{Outcome, fault, locate_take, open_case},
    },
    make::MakeDraft,
};
use crate::{
    case::{CaseFolder, exercise::Difficulty, load},
    exercise::{
        Answer,
        class::{self, Class, Line},
        make, seal,
    },
};

/// What came of it.
#[derive(Debug)]
pub enum Done {
    /// The exercise of the session with that number was prepared.
    Prepared(u64, Box<Prepared>),
    /// A class file was read.
    Class(PathBuf, Result<Class, String>),
}

/// An exercise, prepared: the take as it is seen, the maps to look at, and what the program found.
#[derive(Debug)]
pub struct Prepared {
    /// The take with nothing located in it.
    pub plain: TakeView,
    /// The maps without their answers, and the answers; or why there are none.
    pub told: Result<(TakeView, Arc<Located>), String>,
}

/// Reads a take of an exercise without locating in it.
///
/// # Errors
/// When the take is not there or cannot be read.
pub fn read_plain(
    folder: &Path,
    document: &Document,
    board: &Board,
    name: &str,
    progress: &dyn Progress,
) -> anyhow::Result<TakeView> {
    let case = CaseFolder { folder: folder.to_owned(), case: document.case.clone() };
    let take = load::load_take(&case.source(case.take(Some(name))?), progress)?;
    let inputs = Inputs::of(document, name).ok_or_else(|| anyhow::anyhow!("take '{name}' is not in this case"))?;
    Ok(TakeView::new(Arc::new(take), None, inputs, board))
}

/// Locates in the take of an exercise with what its seal knows, and takes the answers off the maps.
pub fn prepare(
    serial: u64,
    folder: &Path,
    document: &Document,
    board: &Board,
    take: Arc<Take>,
    progress: &dyn Progress,
) -> Outcome {
    let Some(inputs) = Inputs::of(document, &take.name) else {
        return Outcome::Done(String::new());
    };
    let plain = TakeView::new(take, None, inputs.clone(), board);
    let told = told(folder, document, board, &plain, inputs, progress).map_err(|e| fault("", &e).message);
    Outcome::Exercise(Done::Prepared(serial, Box::new(Prepared { plain, told })))
}

fn told(
    folder: &Path,
    document: &Document,
    board: &Board,
    plain: &TakeView,
    inputs: Inputs,
    progress: &dyn Progress,
) -> anyhow::Result<(TakeView, Arc<Located>)> {
    let exercise = document.case.exercise.as_ref().ok_or_else(|| anyhow::anyhow!("this case is no exercise"))?;
    let answer = Answer::open(exercise, folder)?;
    let mut take = (*plain.take).clone();
    let named = Path::new("the sealed log");
    take.timeline = CaptureLog::parse(named, answer.log.as_bytes())?.align(named, take.timeline.len(), &[])?.0;
    let inputs = Inputs { rail: answer.rail, probe_mm: answer.probe_mm, period_s: answer.period_s, ..inputs };
    let (view, fault) = locate_take(Arc::new(take), inputs, board, &EarlierCases::default(), progress);
    let located = view.located.clone().ok_or_else(|| match fault {
        Some(fault) => anyhow::anyhow!(fault.message),
        None => anyhow::anyhow!("the picture is not lined up with the drawing"),
    })?;
    let maps = TakeView { take: Arc::clone(&plain.take), located: Some(Arc::new(without_answers(&located))), ..view };
    Ok((maps, located))
}

/// The maps alone.
fn without_answers(located: &Located) -> Located {
    Located {
        hot_spots: Vec::new(),
        answers: Vec::new(),
        ledger: None::<HeatLedger>,
        electrical_watts: None,
        nothing_probability: 0.0,
        repairs: Vec::new(),
        warnings: Vec::new(),
        ..located.clone()
    }
}

/// Makes up another exercise beside the one at hand, or in a temporary folder where that cannot be written, and opens it.
pub fn another(beside: Option<PathBuf>, difficulty: Difficulty, class: &str, progress: &dyn Progress) -> Outcome {
    let seed = seal::fresh_seed();
    let name = format!("exercise-{}", seal::fresh_id());
    if let Some(folder) = beside.map(|b| b.join(&name))
        && make::make_new(difficulty, seed, class, &folder, progress).is_ok()
    {
        return open_case(&folder, progress);
    }
    let made = tempfile::tempdir().map_err(anyhow::Error::from).and_then(|place| {
        make::make_new(difficulty, seed, class, &place.path().join(&name), progress)?;
        Ok(place)
    });
    match made {
        Ok(place) => match open_case(&place.path().join(&name), progress) {
            Outcome::Opened(session, fault) => Outcome::Simulated(session, fault, place),
            other => other,
        },
        Err(error) => Outcome::Failed(fault("Could not make another exercise", &error)),
    }
}

/// Makes an exercise of the case in a folder, or makes one up where there is none.
pub fn make_into(from: Option<PathBuf>, draft: &MakeDraft, folder: &Path, progress: &dyn Progress) -> Outcome {
    let made = match from {
        Some(from) => CaseFolder::open(&from).and_then(|case| make::make(&case, folder, &draft.wish(), progress)),
        None => make::make_new(draft.difficulty, seal::fresh_seed(), draft.class.trim(), folder, progress),
    };
    match made {
        Ok(id) => Outcome::Done(format!("exercise {id} written to {}", folder.display())),
        Err(error) => Outcome::Failed(fault("Could not make the exercise", &error)),
    }
}

/// Appends a hand-in to the class file.
pub fn collect(file: &Path, line: &Line) -> Outcome {
    match class::append(file, line) {
        Ok(()) => Outcome::Done(format!("handed in to {}", file.display())),
        Err(error) => Outcome::Failed(fault("Could not add to the class file", &error)),
    }
}

/// Reads a class file.
pub fn read_class(file: PathBuf) -> Outcome {
    let read = class::read(&file).map_err(|e| fault("", &e).message);
    Outcome::Exercise(Done::Class(file, read))
}
