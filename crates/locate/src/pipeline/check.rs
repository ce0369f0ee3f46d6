//! What a take and a scene must hold before anything is computed.

use joulemark_frames::{Take, Timeline};

use crate::{LocateError, Scene, maps::Projection, repair::Frames};

/// Fewest frames before and during injection: less leaves no background and no curve.
const LEAST_BEFORE: usize = 5;
const LEAST_DURING: usize = 8;
/// Smallest picture side.
const LEAST_SIDE_PX: usize = 16;
/// Checks board, rail, face and frame counts; returns the frames before and during injection.
pub(super) fn check(take: &Take, scene: &Scene<'_>) -> Result<(), LocateError> {
    scene.board.check()?;
    if scene.board.rail(scene.rail).is_none() {
        let known: Vec<&str> = scene.board.rails.iter().map(|r| r.name.as_str()).collect();
        return Err(LocateError::NoSuchRail { rail: scene.rail.to_owned(), known: known.join(", ") });
    }
    if scene.board.face(scene.face).is_none() {
        let known: Vec<&str> = scene.board.faces.iter().map(|f| f.name.as_str()).collect();
        return Err(LocateError::NoSuchFace { face: scene.face.to_owned(), known: known.join(", ") });
    }
    let shape = take.stack.shape();
    if shape.width_px < LEAST_SIDE_PX || shape.height_px < LEAST_SIDE_PX {
        return Err(LocateError::TooSmall { width_px: shape.width_px, height_px: shape.height_px });
    }
    counted(&take.timeline)?;
    Ok(())
}

/// Frames before and during injection.
pub(super) fn counted(timeline: &Timeline) -> Result<(usize, usize), LocateError> {
    let before = timeline.first_injected().unwrap_or(timeline.len());
    let during = timeline.injecting.iter().filter(|&&on| on).count();
    if before < LEAST_BEFORE || during < LEAST_DURING {
        return Err(LocateError::TooFewFrames { before, during, need_before: LEAST_BEFORE, need_during: LEAST_DURING });
    }
    Ok((before, during))
}

pub(super) fn refuse_not_a_number(frames: &dyn Frames, projection: &Projection) -> Result<(), LocateError> {
    let Some(pixel) = projection.variance.iter().position(|v| !v.is_finite()) else { return Ok(()) };
    let shape = frames.shape();
    let mut value = [0.0];
    let frame = (0..shape.frames)
        .find(|&t| {
            frames.copy_run(t, pixel..pixel + 1, &mut value);
            !value[0].is_finite()
        })
        .unwrap_or(0);
    Err(LocateError::NotANumber { frame, x_px: pixel % shape.width_px, y_px: pixel / shape.width_px })
}
