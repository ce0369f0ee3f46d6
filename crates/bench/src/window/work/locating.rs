//! Reading a take and locating it, as far as its inputs allow.

use std::{path::Path, sync::Arc};

use anyhow::Context as _;
use joulemark_frames::{Note, Progress, Take, Unit};
use joulemark_locate::{
    EarlierCases, Settings,
    align::{Alignment, implausible},
    board::{Board, Face},
    locate_knowing,
};

use super::{earlier, fault};
use crate::{
    case::{CaseFolder, gains, load},
    window::{
        document::Document,
        screen::Fault,
        session::{Inputs, TakeView},
    },
};

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
    let earlier = earlier::on_rail(folder, &document.case, board);
    Ok(locate_take(take, inputs, board, &earlier, progress))
}

/// Locates a read take as far as its inputs allow.
pub(in crate::window) fn locate_take(
    take: Arc<Take>,
    inputs: Inputs,
    board: &Board,
    earlier: &EarlierCases,
    progress: &dyn Progress,
) -> (TakeView, Option<Fault>) {
    let alignment = Alignment::of(&inputs.pairs, inputs.refined.as_ref());
    let take = match alignment.as_ref().ok().zip(board.face(&inputs.face)) {
        Some((alignment, face)) => {
            if let Some(problem) = misplaced(&take, &inputs, alignment, face) {
                return (TakeView::new(take, None, inputs, board), Some(problem));
            }
            match levelled(Arc::clone(&take), alignment, face, progress) {
                Ok(take) => take,
                Err(error) => {
                    return (TakeView::new(take, None, inputs, board), Some(fault("Could not locate", &error)));
                }
            }
        }
        None => take,
    };
    let (located, fault) = match &alignment {
        Ok(alignment) if take.timeline.first_injected().is_some() && !inputs.shows.is_plain() => {
            if let Err(error) = board.check() {
                let error = anyhow::anyhow!("the drawing, {error}");
                return (TakeView::new(take, None, inputs, board), Some(fault("Could not locate", &error)));
            }
            let scene = inputs.scene(board, alignment);
            let settings = Settings { period_s: inputs.period_s, ..Settings::default() };
            match locate_knowing(&take, &scene, &settings, earlier, progress) {
                Ok(located) => (Some(Arc::new(located)), None),
                Err(error) => {
                    let error = anyhow::anyhow!("take '{}': {error}", take.name);
                    (None, Some(fault("Could not locate", &error)))
                }
            }
        }
        // What is missing is said by the capture stage; a take without pairs or onset is no fault, nor is one for the eyes.
        _ => (None, None),
    };
    (TakeView::new(take, located, inputs, board), fault)
}

/// Pairs that put the board where it cannot be: they are of another picture or face.
fn misplaced(take: &Take, inputs: &Inputs, alignment: &Alignment, face: &Face) -> Option<Fault> {
    let shape = take.stack.shape();
    let problem = implausible(&inputs.pairs, alignment, face, (shape.width_px, shape.height_px))?;
    let error = anyhow::anyhow!("take '{}': {problem}; line the picture up again", take.name);
    Some(fault("Could not locate", &error))
}

/// A relative take with each frame's own gain undone, as far as the pixels off the board tell it.
fn levelled(
    mut take: Arc<Take>,
    alignment: &Alignment,
    face: &Face,
    progress: &dyn Progress,
) -> anyhow::Result<Arc<Take>> {
    if take.unit == Unit::Relative {
        let own = Arc::make_mut(&mut take);
        own.stack.set_frame_gains(Vec::new());
        let known = own.notes.len();
        gains::undo(own, face, alignment, progress)?;
        // Lined up again, the camera's scale may be judged the same again.
        let (old, new) = own.notes.split_at(known);
        let new: Vec<Note> = new.iter().filter(|n| !old.contains(n)).cloned().collect();
        own.notes.truncate(known);
        own.notes.extend(new);
    }
    Ok(take)
}
