//! What the frames themselves tell before anything is computed: movement, pauses, gaps, clipping.

use joulemark_frames::{Progress, Take};

use super::step;
use crate::{
    LocateError, Repaired, Settings,
    repair::{
        self,
        motion::{self, Motion, MotionOutcome},
        pauses,
    },
};

/// What was found in the frames before anything is computed.
#[derive(Default)]
pub(super) struct Prepared {
    pub(super) motion: Option<Motion>,
    /// Frames that cannot be used.
    pub(super) left_out: Vec<usize>,
    /// Frames of the take from which the picture has another offset.
    pub(super) jumps: Vec<usize>,
    pub(super) repairs: Vec<Repaired>,
    pub(super) warnings: Vec<String>,
    /// The picture seems to have moved too far to be laid back: only a rise beyond its own texture counts.
    pub(super) hopeless: bool,
}

/// Looks for movement and shutter pauses.
pub(super) fn prepare(take: &Take, settings: &Settings, progress: &dyn Progress) -> Result<Prepared, LocateError> {
    let mut prepared = Prepared::default();
    if settings.repairs.motion {
        step(progress, "looking for movement", 0)?;
        let outcome = motion::find(&take.stack, &take.timeline, progress)?;
        prepared.repairs.extend(outcome.repaired());
        prepared.warnings.extend(outcome.warning());
        match outcome {
            MotionOutcome::Repaired(motion) => {
                prepared.left_out.extend(&motion.lost);
                prepared.motion = Some(motion);
            }
            MotionOutcome::TooMuch { .. } => prepared.hopeless = true,
            MotionOutcome::Still { .. } | MotionOutcome::TooWeak { .. } => {}
        }
    }
    prepared.warnings.extend(repair::dropped(&take.timeline).map(|d| d.warning()));
    prepared.warnings.extend(repair::clipped(&take.stack).warning());
    if settings.repairs.pauses {
        let found = pauses::find(&take.stack, &take.timeline);
        prepared.repairs.extend(found.repaired());
        prepared.left_out.extend(&found.repeated);
        prepared.jumps = found.jumps;
    }
    Ok(prepared)
}
