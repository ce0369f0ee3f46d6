//! Why a fit cannot be tried at all. Not converging is an answer, not an error.

/// Why a fit cannot be tried. Values are counted from 0.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FitError {
    /// A list has the wrong length.
    #[error("{found} values of {what} for {expected} measurements; give one each")]
    Length {
        /// Which list.
        what: &'static str,
        /// Its length.
        found: usize,
        /// The length needed.
        expected: usize,
    },
    /// A value is not finite.
    #[error("value {index} of {what} is not a number; leave it out")]
    NotANumber {
        /// Which list.
        what: &'static str,
        /// Place in it.
        index: usize,
    },
    /// A standard deviation is not positive.
    #[error("the noise of value {0} is not a positive number; correct it")]
    BadNoise(usize),
    /// Times do not rise.
    #[error("time {0} is not later than the one before; sort the frames by time")]
    TimeNotRising(usize),
    /// Too few values for the parameters.
    #[error("{found} values; at least {needed} are needed")]
    TooFew {
        /// Values given.
        found: usize,
        /// Values needed.
        needed: usize,
    },
    /// Nothing was injected.
    #[error("no frame has injection; mark the frames with injection")]
    NoDrive,
    /// The background terms imitate the response.
    #[error("the background terms can imitate the whole rise; film longer before injection, or use fewer terms")]
    DriveHidden,
    /// A range is empty or not finite.
    #[error("the range of {0} is empty; correct it")]
    BadRange(&'static str),
}

/// Refuses values that are not finite.
pub(crate) fn all_finite<'a>(what: &'static str, values: impl IntoIterator<Item = &'a f64>) -> Result<(), FitError> {
    let bad = values.into_iter().position(|v| !v.is_finite());
    bad.map_or(Ok(()), |index| Err(FitError::NotANumber { what, index }))
}
