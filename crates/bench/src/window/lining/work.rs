//! What runs in the background: refinement, and comparing the pictures of two takes.

use std::path::PathBuf;

use joulemark_frames::{Progress, Take};
use joulemark_locate::{
    align::{Alignment, PointPair, Refinement, camera_move},
    board::Board,
};
use ndarray::Array2;

use crate::{
    case::{CaseFolder, load},
    window::document::Document,
};

/// Frames that are averaged; more would not show.
const MOST_FRAMES: usize = 40;

/// An answer: pairs to set, if any, and what to say.
#[derive(Clone, Debug)]
pub struct LinedUp {
    /// The take it is about.
    pub take: String,
    /// The pairs that it started from.
    pub from_pairs: Vec<PointPair>,
    /// New pairs, and the mapping refined from them.
    pub pairs: Option<(Vec<PointPair>, Option<Refinement>)>,
    /// What was done, or why it was not.
    pub words: String,
}

/// Mean of the frames before injection, or of the first frames where nothing says when it begins.
pub fn before_picture(take: &Take) -> Array2<f32> {
    let shape = take.stack.shape();
    let known = take.timeline.first_injected().filter(|&n| n > 0).unwrap_or(1);
    let frames = known.min(shape.frames);
    // Evenly over what there is.
    let step = frames.div_ceil(MOST_FRAMES).max(1);
    let mut sum = Array2::<f64>::zeros((shape.height_px, shape.width_px));
    let mut row = vec![0.0_f32; shape.pixels()];
    let mut count = 0.0;
    for frame in (0..frames).step_by(step) {
        take.stack.copy_run(frame, 0..shape.pixels(), &mut row);
        sum.iter_mut().zip(&row).for_each(|(s, v)| *s += f64::from(*v));
        count += 1.0;
    }
    sum.mapv(|s| (s / count) as f32)
}

/// Lets the mapping of pairs follow the board's own edges. The pairs stay as they were set.
pub fn refine(take: &Take, from_pairs: Vec<PointPair>, board: &Board, face: &str) -> LinedUp {
    let answer = |pairs, words| LinedUp { take: take.name.clone(), from_pairs: from_pairs.clone(), pairs, words };
    let Some(face) = board.face(face) else { return answer(None, "the face in the picture is not drawn".into()) };
    let alignment = match Alignment::fit(&from_pairs) {
        Ok(alignment) => alignment,
        Err(error) => return answer(None, format!("not refined: {error}")),
    };
    match alignment.refine(&from_pairs, face, before_picture(take).view()) {
        Ok(refined) => {
            let words = format!(
                "refined: moved by up to {:.1} px ({:.2} mm) onto the edges, found in {} of {} places; Ctrl+Z takes it back",
                refined.moved_px, refined.moved_mm, refined.samples[0], refined.samples[1]
            );
            answer(Some((from_pairs.clone(), Some(Refinement::of(&refined.alignment)))), words)
        }
        Err(error) => answer(None, format!("not refined: {error}")),
    }
}

/// Pairs of another take for this one, if the camera did not move in between.
pub fn take_over(
    later: &Take,
    from: &str,
    earlier: Option<std::sync::Arc<Take>>,
    folder: Option<PathBuf>,
    document: &Document,
    progress: &dyn Progress,
) -> LinedUp {
    let entry = |name: &str| document.take(name).map(|t| (t.pairs.clone(), t.refined.clone())).unwrap_or_default();
    let (pairs, (from_pairs, _)) = (entry(from), entry(&later.name));
    let answer = |pairs, words| LinedUp { take: later.name.clone(), from_pairs: from_pairs.clone(), pairs, words };
    let read = || -> anyhow::Result<Take> {
        let case = CaseFolder { folder: folder.clone().unwrap_or_default(), case: document.case.clone() };
        load::load_take(&case.source(case.take(Some(from))?), progress)
    };
    let read = match earlier {
        Some(take) => Ok(before_picture(&take)),
        None => read().map(|take| before_picture(&take)),
    };
    let earlier = match read {
        Ok(picture) => picture,
        Err(error) => return answer(None, format!("take {from} could not be read to compare with: {error:#}")),
    };
    let moved = camera_move(earlier.view(), before_picture(later).view());
    if moved.takes_over() {
        answer(Some(pairs), format!("taken over from take {from}: {}", moved.words()))
    } else {
        answer(None, format!("not taken over from take {from}: {}", moved.words()))
    }
}
