//! Words that several sections use.

use joulemark_frames::Unit;

use crate::case::Case;

/// What stands on every page of a practice case.
pub const SIMULATED: &str = "Simulated recording";

/// `2026-03-01T09:30:05Z` as `2026-03-01 09:30 UTC`; anything else as it is.
pub fn when(time: &str) -> String {
    match (time.get(..10), time.get(10..11), time.get(11..16), time.ends_with('Z')) {
        (Some(day), Some("T"), Some(minute), true) => format!("{day} {minute} UTC"),
        _ => time.to_owned(),
    }
}

/// "2026-03-01 09:30 UTC, Ada", with what is known of both.
pub fn when_and_who(time: &str, by: &str) -> String {
    [when(time), by.to_owned()].into_iter().filter(|t| !t.trim().is_empty()).collect::<Vec<_>>().join(", ")
}

/// What the case is about.
pub fn subject(case: &Case) -> String {
    if !case.name.trim().is_empty() {
        return case.name.trim().to_owned();
    }
    let device = [&case.device.model, &case.device.serial].into_iter().filter(|t| !t.is_empty());
    let device = device.cloned().collect::<Vec<_>>().join(", serial ");
    if device.is_empty() { "unnamed case".to_owned() } else { device }
}

/// At which stage of the work something was done.
pub fn stage(case: &Case, after: u32) -> String {
    if after == 0 {
        return "as it came in".to_owned();
    }
    match case.interventions.iter().find(|i| i.number == after) {
        Some(intervention) => format!("after {after}: {}", intervention.words()),
        None => format!("after {after}"),
    }
}

/// The unit of rises.
pub fn unit(unit: Unit) -> &'static str {
    match unit {
        Unit::Kelvin => "K",
        Unit::Relative => "relative",
    }
}

/// With a capital letter at its start.
pub fn capital(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or_else(String::new, |first| first.to_uppercase().chain(characters).collect())
}

/// A sentence: with a capital letter and a full stop.
pub fn sentence(text: &str) -> String {
    let text = capital(text.trim());
    if text.is_empty() || text.ends_with(['.', '!', '?']) { text } else { text + "." }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_short_and_what_is_no_time_stays() {
        assert_eq!(when("2026-03-01T09:30:05Z"), "2026-03-01 09:30 UTC");
        for odd in
            ["", "yesterday", "2026-03-01", "2026-03-01T09:30:05", "\u{e4}\u{e4}\u{e4}\u{e4}\u{e4}\u{e4}T09:30:05Z"]
        {
            assert_eq!(when(odd), odd);
        }
        assert_eq!(when_and_who("", "Ada"), "Ada");
        assert_eq!(sentence("that place is cold"), "That place is cold.");
    }
}
