//! Decoders of other crates run behind this: should one of them panic on a damaged file, that is an error about the
//! file and not the end of the program. None is known to; the property tests run without it.

use std::panic::{AssertUnwindSafe, catch_unwind};

use super::input::Input;
use crate::FramesError;

/// Runs `decode`; a panic inside becomes [`FramesError::Malformed`].
pub(super) fn guard<T>(input: &Input, decode: impl FnOnce() -> Result<T, FramesError>) -> Result<T, FramesError> {
    // Nothing that `decode` touches is used after a panic, so no broken state can be seen.
    catch_unwind(AssertUnwindSafe(decode)).unwrap_or_else(|_| {
        Err(input.malformed("content", "the decoder gave up on damaged data", "copy or export the file again"))
    })
}
