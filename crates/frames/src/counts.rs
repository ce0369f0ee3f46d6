//! The stated law that turns camera counts into kelvin. Never guessed: see [`CountsLaw`].

use std::{fmt, str::FromStr};

use serde::{Deserialize, Serialize};

/// A linear law `kelvin = gain_k_per_count * count + offset_k`.
///
/// The zero point does not matter to Joulemark (only rises are used), so a law that yields degrees Celsius is equally good.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CountsLaw {
    /// Kelvin per count; finite and not zero.
    pub gain_k_per_count: f64,
    /// Kelvin at count zero; finite.
    pub offset_k: f64,
}

impl CountsLaw {
    /// Counts are hundredths of a kelvin above absolute zero.
    pub const CENTIKELVIN: Self = Self { gain_k_per_count: 0.01, offset_k: 0.0 };
    /// Counts already are kelvin-sized.
    pub const IDENTITY: Self = Self { gain_k_per_count: 1.0, offset_k: 0.0 };
}

impl fmt::Display for CountsLaw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if *self == Self::CENTIKELVIN {
            f.write_str("centikelvin")
        } else {
            write!(f, "linear:{},{}", self.gain_k_per_count, self.offset_k)
        }
    }
}

/// Why a law given as text was not understood.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{0}' is not a law for counts: write centikelvin, or linear:GAIN,OFFSET with a gain that is not zero (linear:0.01,0)"
)]
pub struct ParseCountsLawError(pub String);

impl FromStr for CountsLaw {
    type Err = ParseCountsLawError;

    /// Reads `centikelvin` or `linear:GAIN,OFFSET` (decimal points, kelvin per count and kelvin).
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let bad = || ParseCountsLawError(text.to_owned());
        if text.trim().eq_ignore_ascii_case("centikelvin") {
            return Ok(Self::CENTIKELVIN);
        }
        let (gain, offset) =
            text.trim().strip_prefix("linear:").and_then(|rest| rest.split_once(',')).ok_or_else(bad)?;
        let law = Self {
            gain_k_per_count: gain.trim().parse().map_err(|_| bad())?,
            offset_k: offset.trim().parse().map_err(|_| bad())?,
        };
        if law.gain_k_per_count.is_finite() && law.gain_k_per_count != 0.0 && law.offset_k.is_finite() {
            Ok(law)
        } else {
            Err(bad())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn laws_survive_a_round_trip_through_text() {
        for law in [CountsLaw::CENTIKELVIN, CountsLaw { gain_k_per_count: 0.04, offset_k: -273.15 }] {
            assert_eq!(law.to_string().parse::<CountsLaw>().as_ref(), Ok(&law));
        }
    }

    #[test]
    fn unclear_laws_are_refused() {
        for text in ["", "kelvin", "linear:", "linear:1", "linear:0,3", "linear:nan,0", "linear:1;2"] {
            assert!(text.parse::<CountsLaw>().is_err(), "{text} was accepted");
        }
    }
}
