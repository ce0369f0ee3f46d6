//! What stays shut in an exercise. Whatever is not named here as open is refused, so that a command that comes later does not
//! open a way around.

use super::super::{
    bench_edit::BenchPart,
    command::{Command, Pick},
    document::Edit,
    screen::Layer,
    session::Session,
};

/// Why a command is not carried out; `None` where it is.
pub fn refuses(session: Option<&Session>, command: &Command) -> Option<&'static str> {
    let exercise = session?.document.case.exercise.as_ref()?;
    if open(command) {
        return None;
    }
    Some(if exercise.open() {
        "not in an exercise: open the case that it was made from"
    } else {
        "shut until the exercise is handed in"
    })
}

fn open(command: &Command) -> bool {
    match command {
        Command::Regardless(inner) => open(inner),
        Command::Edit(Edit::Pairs { .. }) => true,
        Command::Edit(Edit::Bench(edit)) => matches!(edit.part, BenchPart::Answers(_)),
        Command::Pick(pick) | Command::Typed(pick, _) => open_file(*pick),
        // Others are looks, and asked for by buttons that say what they cost.
        Command::SetLayer(layer) => *layer == Layer::Frame,
        Command::Exercise(_)
        | Command::Undo
        | Command::Redo
        | Command::SelectPart(_)
        | Command::BackOut
        | Command::SetFrame(_)
        | Command::StepFrame(_)
        | Command::SetScale(_)
        | Command::SetRange(_)
        | Command::Fit
        | Command::Zoom(_)
        | Command::SetBench(_)
        | Command::Palette(_)
        | Command::Keys(_)
        | Command::Open(_)
        | Command::OpenPractice
        | Command::NewCase(_)
        | Command::NewDrawing(_)
        | Command::CloseForm
        | Command::ProposeOnset
        | Command::LocateForm
        | Command::Locate
        | Command::Cancel(_)
        | Command::Save
        | Command::Fault(_)
        | Command::DismissFault
        | Command::By(_)
        | Command::Shop
        | Command::SetShop(_)
        | Command::Lining(_)
        | Command::Desk(_)
        | Command::Quit => true,
        _ => false,
    }
}

/// Files that tell nothing of this case.
fn open_file(pick: Pick) -> bool {
    matches!(
        pick,
        Pick::Case
            | Pick::FramesFile
            | Pick::FramesFolder
            | Pick::Log
            | Pick::Board
            | Pick::Pairs
            | Pick::SaveCase
            | Pick::LibraryFolder
            | Pick::LibraryCsv(_)
            | Pick::LibraryPlots
            | Pick::MakeExercise
            | Pick::ClassFile
            | Pick::ClassCsv
    )
}
