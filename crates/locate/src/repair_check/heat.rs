//! What the rise at the site says: of its equivalence with none, and whether what is left there was made there.

use super::SiteRise;
use crate::stats::{Equivalence, normal_quantile};

/// The bound of "no rise": this share of the rise before.
const BOUND_SHARE: f64 = 0.05;
/// And this many standard errors of the rise after.
const BOUND_ERRORS: f64 = 2.0;
/// Confidence of the one-sided tests.
pub(super) const CONFIDENCE: f64 = 0.95;
/// With less than this share of its own heat left, a place is not where the heat starts any more.
const OWN_LEFT: f64 = 0.25;

/// What the heat says of the site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Heat {
    /// No rise, by equivalence.
    None,
    /// It is warm, and what warms it was made elsewhere.
    Spread,
    /// It makes heat of its own.
    Own,
    /// Too near to the noise, or too near to another source.
    Unclear,
    /// Heat was not compared, or nothing was found before.
    NotCompared,
}

/// The equivalence test with its numbers.
pub(super) struct Told {
    pub(super) heat: Heat,
    /// The rise that counts as none.
    pub(super) bound: f64,
    /// One-sided bounds of the rise after.
    pub(super) between: (f64, f64),
}

/// One-sided tests of the rise against the bound on both sides of it; then of the place's own share of that rise. `own_spot`: the take
/// after has a hot spot of its own there; `elsewhere`: and one at another place.
pub(super) fn told(site: &SiteRise, own_spot: bool, elsewhere: bool, because: &mut Vec<String>) -> Told {
    let errors = normal_quantile(CONFIDENCE);
    let half = errors * site.after_se;
    let between = (site.after - half, site.after + half);
    let bound = (BOUND_SHARE * site.before).max(BOUND_ERRORS * site.after_se);
    // A place that was no warmer than its own noise proves nothing by being cold.
    let was_warm = site.before - errors * site.before_se > bound;
    because.push(format!(
        "rise there {:.3} \u{b1}{:.3} K after against {:.3} \u{b1}{:.3} K before; between {:.3} and {:.3} K with 95 % confidence on each side, none \
         is below {bound:.3} K",
        site.after, site.after_se, site.before, site.before_se, between.0, between.1
    ));
    let own = own(site, errors);
    // Of the two tests the one against the upper bound decides: heat is what is looked for. A place that cooled by more than the bound is
    // nothing that a repair does.
    let below = Equivalence::of(site.after, site.after_se, bound).is_some_and(|e| e.p_below_high < 1.0 - CONFIDENCE);
    let none = below && between.1 > -bound;
    let heat = if none && was_warm {
        Heat::None
    } else if own_spot && between.0 > 0.0 {
        Heat::Own
    } else {
        match own {
            Some((_, high)) if high < OWN_LEFT && was_warm => Heat::Spread,
            Some((low, _)) if low > 0.0 && between.0 > bound && !elsewhere => Heat::Own,
            Some((low, _)) if low > OWN_LEFT && between.0 > bound => Heat::Own,
            // Without its ring in the picture a place is told from others by their being no other source.
            None if between.0 > bound && !elsewhere => Heat::Own,
            _ => Heat::Unclear,
        }
    };
    if let (Heat::Spread | Heat::Own | Heat::Unclear, Some((low, high))) = (heat, own) {
        because.push(format!(
            "less the ring around it, that place makes {:.0} to {:.0} % of the heat that it made before (95 % confidence on each side)",
            100.0 * low,
            100.0 * high
        ));
    }
    Told { heat, bound, between }
}

/// One-sided bounds of the share of the place's own heat that is left; `None` where it had none to speak of.
fn own(site: &SiteRise, errors: f64) -> Option<(f64, f64)> {
    let (before, after) = (site.own_before?, site.own_after?);
    // A quotient has bounds only where its divisor is well away from zero.
    (before.value > 3.0 * before.se).then(|| {
        let (low, high) = after.within(errors);
        (low / before.value, high / before.value)
    })
}
