//! Reasons in words, each a clause that stands on a number.

use super::{Context, rise_words};
use crate::{HotSpot, SpotAnswer, Suspect, TimeConstant};

/// A pair below this probability is no reason for its parts.
const LEAST_PAIR: f64 = 0.02;

/// Why suspect `index` is where it is in the list.
pub(super) fn reasons(spot: &HotSpot, context: &Context<'_>, answer: &SpotAnswer, index: usize) -> Vec<String> {
    let suspects = &answer.suspects;
    let suspect = &suspects[index];
    let mut because = vec![rail_words(suspect, context), place_words(spot, suspect, context)];
    because.extend(context.earlier.words(&suspect.part));
    if index == 0 {
        because.push(rise_reason(spot, context));
        if let Some(next) = suspects.get(1).filter(|_| suspect.group.is_empty()) {
            because.push(format!(
                "the next one, {}, is {:.1} mm from where heat starts",
                next.part, next.evidence.distance_mm
            ));
        }
    }
    because.extend(pair_words(&suspect.part, answer));
    if !suspect.group.is_empty() {
        because.push(format!(
            "this picture cannot tell it from {}; lift the most probable first",
            suspect.group.join(", ")
        ));
    }
    because
}

/// With whom a part may make the spot together, the likeliest one.
fn pair_words(part: &str, answer: &SpotAnswer) -> Option<String> {
    let own = answer.pairs.iter().find(|pair| pair.parts.iter().any(|p| p == part))?;
    let other = own.parts.iter().find(|p| *p != part)?;
    (own.probability >= LEAST_PAIR)
        .then(|| format!("both it and {other} at once, in one spot: {:.0} %", 100.0 * own.probability))
}

fn rail_words(suspect: &Suspect, context: &Context<'_>) -> String {
    let rails = context.scene.board.part(&suspect.part).map(|(_, p)| p.rails.as_slice()).unwrap_or_default();
    let joined = context.joined.iter().find(|j| rails.contains(&j.rail));
    let kind = context.scene.board.part(&suspect.part).map_or("part", |(_, p)| p.kind.words());
    match joined {
        Some(j) if j.via.is_empty() => format!("{kind} on {}, the injected rail", j.rail),
        Some(j) => {
            format!("{kind} on {}, joined to {} at DC through {}", j.rail, context.scene.rail, j.via.join(" and "))
        }
        None => format!("{kind} not on {} or a rail joined to it", context.scene.rail),
    }
}

fn place_words(spot: &HotSpot, suspect: &Suspect, context: &Context<'_>) -> String {
    let sigma_mm = (spot.covariance_mm2.trace() / 2.0).max(0.0).sqrt();
    let behind = if suspect.face == context.scene.face { "" } else { "seen through the board, " };
    if suspect.evidence.distance_mm <= 0.0 {
        format!("{behind}heat starts inside its footprint (±{sigma_mm:.2} mm)")
    } else {
        format!("{behind}{:.2} mm ±{sigma_mm:.2} from where heat starts", suspect.evidence.distance_mm)
    }
}

fn rise_reason(spot: &HotSpot, context: &Context<'_>) -> String {
    let rise = rise_words(&spot.rise, context.unit);
    let after = spot.rise.onset_s - context.injected_from_s;
    let when = if after.abs() <= 2.0 * spot.rise.onset_se_s.max(0.1) {
        "from the moment of injection".to_owned()
    } else if after < 0.0 {
        format!("from {:.1} s before the logged start of injection", -after)
    } else {
        format!("from {after:.1} s after the start of injection")
    };
    let tau = match spot.rise.time_constant {
        TimeConstant::Known { tau_s, tau_se_s, .. } => format!(", time constant {} s", with_error(tau_s, tau_se_s)),
        TimeConstant::Between { low_s, high_s } => format!(", time constant between {low_s:.1} and {high_s:.1} s"),
        TimeConstant::Unknown => String::new(),
        TimeConstant::AtLeast { tau_s } => format!(", time constant at least {tau_s:.0} s"),
        TimeConstant::AtMost { tau_s } => format!(", time constant at most {tau_s:.1} s"),
    };
    format!("warms by {rise} {when}{tau}")
}

/// A value with its standard error, to the error's second digit.
pub(super) fn with_error(value: f64, error: f64) -> String {
    let decimals =
        if error > 0.0 && error.is_finite() { (1.0 - error.log10().floor()).clamp(0.0, 4.0) as usize } else { 2 };
    format!("{value:.decimals$} ±{error:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::{pair_words, with_error};
    use crate::{PairOfSuspects, SpotAnswer};

    #[test]
    fn a_part_names_the_one_it_makes_the_spot_with() {
        let pair = |a: &str, b: &str, probability| PairOfSuspects { parts: [a.into(), b.into()], probability };
        let pairs = vec![pair("C4", "C5", 0.41), pair("C5", "C6", 0.03), pair("C6", "C7", 0.01)];
        let answer = SpotAnswer { pairs, ..SpotAnswer::default() };
        let words = |part: &str| pair_words(part, &answer);
        assert_eq!(words("C5").as_deref(), Some("both it and C4 at once, in one spot: 41 %"));
        assert_eq!(words("C4").as_deref(), Some("both it and C5 at once, in one spot: 41 %"));
        assert_eq!(words("C6").as_deref(), Some("both it and C5 at once, in one spot: 3 %"));
        assert_eq!((words("C7"), words("C8")), (None, None), "too small, and in no pair");
    }

    #[test]
    fn errors_keep_two_digits() {
        assert_eq!(with_error(0.6263, 0.0171), "0.626 ±0.017");
        assert_eq!(with_error(12.34, 3.21), "12.3 ±3.2");
        assert_eq!(with_error(512.3, 42.0), "512 ±42");
    }
}
