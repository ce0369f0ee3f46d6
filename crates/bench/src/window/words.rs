//! Numbers as the window says them: with unit, with doubt, and never kelvin for a relative take.

use joulemark_frames::Unit;
use joulemark_locate::Located;

pub use crate::numbers::percent;

/// The unit of a rise, as written after a number.
pub fn unit(unit: Unit) -> &'static str {
    match unit {
        Unit::Kelvin => "K",
        Unit::Relative => "relative",
    }
}

/// Decimals that show the uncertainty to one figure, or two when the first is a 1; four decimals at most.
fn decimals(se: f64) -> usize {
    if !(se.is_finite() && se > 0.0) {
        return 2;
    }
    let exponent = se.log10().floor();
    let first_is_one = se / 10f64.powf(exponent) < 2.0;
    (i32::from(first_is_one) - exponent as i32).clamp(0, 4) as usize
}

/// `1.86 K ±0.04`.
pub fn with_doubt(value: f64, se: f64, of: Unit) -> String {
    measured(value, se, unit(of))
}

/// The same with any unit.
pub fn measured(value: f64, se: f64, unit: &str) -> String {
    let d = decimals(se);
    format!("{value:.d$} {unit} \u{b1}{se:.d$}")
}

/// `1.86 K plus or minus 0.04 K`, for screen readers.
pub fn with_doubt_aloud(value: f64, se: f64, of: Unit) -> String {
    let d = decimals(se);
    let u = unit(of);
    format!("{value:.d$} {u} plus or minus {se:.d$} {u}")
}

/// A plain value and its unit, with decimals fit for its size.
pub fn plain(value: f64, unit: &str) -> String {
    let d = match value.abs() {
        v if v >= 100.0 => 0,
        v if v >= 10.0 => 1,
        v if v >= 0.1 || v == 0.0 => 2,
        _ => 3,
    };
    if unit.is_empty() { format!("{value:.d$}") } else { format!("{value:.d$} {unit}") }
}

/// A probability, read aloud.
pub fn percent_aloud(probability: f64) -> String {
    percent(probability).replace('>', "more than").replace('<', "less than").replace('%', "percent")
}

/// `C1, C2 and C3`.
pub fn list(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// What locating found, in a few words for the case log.
pub fn in_short(located: &Located) -> String {
    let Some((spot, answer)) = located.leading().or_else(|| Some((0, located.answers.first()?))) else {
        return "nothing above the noise".to_owned();
    };
    match answer.suspects.first() {
        Some(first) => format!("hot spot {}, {} first with {}", spot + 1, first.part, percent(first.probability)),
        None => format!("hot spot {}, no part of the drawing near it", spot + 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn doubt_sets_the_decimals() {
        assert_eq!(with_doubt(1.8649, 0.041, Unit::Kelvin), "1.86 K \u{b1}0.04");
        assert_eq!(with_doubt(12.3, 1.6, Unit::Kelvin), "12.3 K \u{b1}1.6");
        assert_eq!(with_doubt_aloud(1.8649, 0.041, Unit::Kelvin), "1.86 K plus or minus 0.04 K");
        assert_eq!(with_doubt(123.4, 25.0, Unit::Kelvin), "123 K \u{b1}25");
        assert_eq!(with_doubt(1.0, f64::NAN, Unit::Kelvin), "1.00 K \u{b1}NaN");
    }

    #[test]
    fn relative_takes_never_say_kelvin() {
        for text in [with_doubt(1.0, 0.1, Unit::Relative), with_doubt_aloud(1.0, 0.1, Unit::Relative)] {
            assert!(text.contains("relative") && !text.contains('K') && !text.contains("kelvin"), "{text}");
        }
    }

    #[test]
    fn probabilities_are_read_aloud_in_words() {
        assert_eq!(percent_aloud(0.9996), "more than 99 percent");
        assert_eq!(percent_aloud(0.0004), "less than 1 percent");
        assert_eq!(percent_aloud(0.914), "91 percent");
    }
}
