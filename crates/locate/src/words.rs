//! Words that several messages share.

use joulemark_frames::Unit;

/// What a value of the take is called.
pub(crate) fn unit(unit: Unit) -> &'static str {
    match unit {
        Unit::Kelvin => "K",
        Unit::Relative => "(relative)",
    }
}
