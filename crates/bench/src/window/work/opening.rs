//! Opening cases, making one from the form, adding a take to the open one.

use std::{path::Path, sync::Arc};

use anyhow::Context as _;
use joulemark_frames::Progress;
use joulemark_locate::{board::Board, simulate::scenario::Difficulty};

use super::{
    Outcome, earlier, fault,
    locating::{locate_take, view_take},
};
use crate::{
    case::{CaseFolder, board_file, load, practice as practice_case},
    window::{
        document::Document,
        exercise::work as exercise,
        form::Draft,
        practice,
        session::{Inputs, Session},
    },
};

/// Opens the bundled practice case, or simulates it into a temporary folder where it is not beside the program.
pub fn open_practice(progress: &dyn Progress) -> Outcome {
    if let Some(path) = practice::bundled() {
        return open_case(&path, progress);
    }
    let made = tempfile::tempdir().context("no temporary folder for the practice case").and_then(|place| {
        practice_case::write_case(
            practice::SCENARIO,
            practice::SEED,
            Difficulty::Medium,
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
    let learnt = earlier::learnt(Some(&folder.folder), &document.case, &board);
    let mut session = Session::new(Some(folder.folder), document, Arc::clone(&board));
    session.learnt = Arc::new(learnt);
    let Some(newest) = newest else {
        return Outcome::Opened(Box::new(session), None);
    };
    session.shown.clone_from(&newest);
    if session.document.case.exercise.is_some() {
        // Nothing is located where it could be seen.
        let place = session.folder.clone().unwrap_or_default();
        return match exercise::read_plain(&place, &session.document, &board, &newest, progress) {
            Ok(view) => Outcome::Opened(Box::new(session.with_view(view)), None),
            Err(error) => Outcome::Opened(Box::new(session), Some(fault("Could not read the take", &error))),
        };
    }
    match view_take(session.folder.as_deref(), &session.document, &board, &newest, None, progress) {
        Ok((view, fault)) => Outcome::Opened(Box::new(session.with_view(view)), fault),
        Err(error) => Outcome::Opened(Box::new(session), Some(fault("Could not read the take", &error))),
    }
}

/// Reads what the form describes, and locates it where the form has point pairs.
pub fn open_draft(draft: &Draft, progress: &dyn Progress) -> Outcome {
    let source = draft.source(true);
    let opened = (|| {
        // Small files come first, so that their faults show at once.
        let board = Arc::new(board_file::read(&source.board)?);
        board_file::check_rail(&source.board, &board, &source.rail)?;
        let document = Document { case: draft.case(), ..Document::default() };
        let inputs = Inputs::of(&document, &source.name).context("the form names no take")?;
        let take = load::load_take(&source, progress)?;
        let known = earlier::on_rail(None, &document.case, &board);
        let (view, fault) = locate_take(Arc::new(take), inputs, &board, &known, progress);
        Ok((Session::new(None, document, board).with_view(view), fault))
    })();
    match opened {
        Ok((session, fault)) => Outcome::Opened(Box::new(session), fault),
        Err(error) => Outcome::Failed(fault("Could not make the case", &error)),
    }
}

/// Reads what the form describes as a further take of an open case, and locates it where the form has point pairs.
pub fn add_take(
    serial: u64,
    folder: Option<&Path>,
    draft: &Draft,
    document: &Document,
    board: &Board,
    progress: &dyn Progress,
) -> Outcome {
    let (source, entry) = (draft.source(true), draft.take());
    let added = load::load_take(&source, progress).and_then(|take| {
        let mut document = document.clone();
        document.case.rail.clone_from(&draft.rail);
        document.case.takes.push(entry.clone());
        let inputs = Inputs::of(&document, &entry.name).context("the form names no take")?;
        let known = earlier::on_rail(folder, &document.case, board);
        Ok(locate_take(Arc::new(take), inputs, board, &known, progress))
    });
    match added {
        Ok((view, fault)) => Outcome::TakeAdded(serial, Box::new((entry, draft.rail.clone(), view)), fault),
        Err(error) => Outcome::Failed(fault("Could not add the take", &error)),
    }
}

#[cfg(test)]
mod tests {
    use joulemark_frames::NoProgress;

    use super::*;

    #[test]
    fn a_case_that_is_not_there_is_a_fault_in_one_line() {
        let Outcome::Failed(fault) = open_case(Path::new("/no/such/case"), &NoProgress) else {
            panic!("opened");
        };
        assert!(fault.message.contains("/no/such/case"), "{}", fault.message);
        assert_eq!(fault.message.lines().count(), 1);
    }
}
