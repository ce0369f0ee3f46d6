//! Readings as people type them and as meters print them: `0.2`, `4k7`, `412 mV`, `OL`. Numbers only; what they mean for
//! a rail is said elsewhere.

use super::reading::Quantity;

/// A bare number from here on in a diode field is millivolts: no meter's diode test reaches 10 V.
const BARE_MILLIVOLTS: f64 = 10.0;
/// What meters print when the value is beyond their range.
const OPEN: [&str; 9] = ["ol", "o.l", "o.l.", ".ol", "0l", "open", "inf", "overload", "\u{221e}"];

/// What was understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Typed {
    /// Ohms or volts; `None` for open.
    pub value: Option<f64>,
    /// What was assumed, when something was.
    pub note: Option<String>,
}

/// Reads what was typed into a field for one quantity.
///
/// # Errors
/// One line that says what is wrong with it.
pub fn parse(text: &str, quantity: Quantity) -> Result<Typed, String> {
    let text = text.trim();
    if OPEN.contains(&text.to_lowercase().as_str()) {
        return Ok(Typed { value: None, note: None });
    }
    let fault = |why: &str| format!("'{text}' is no reading in {}: {why}", quantity.unit());
    let (number, rest) = split(text).ok_or_else(|| fault("type a number such as 0.2, 4k7 or 412 mV, or OL"))?;
    let unit = unit(rest).ok_or_else(|| fault("the unit is not known"))?;
    let volts = quantity != Quantity::Ohms;
    if unit.volts.is_some_and(|v| v != volts) {
        return Err(fault("the unit belongs to another column"));
    }
    // Dividing by a thousand is exact where multiplying by its inverse is not: 412 mV is 0.412 V.
    let mut value = if unit.factor < 1.0 { number / (1.0 / unit.factor).round() } else { number * unit.factor };
    if quantity == Quantity::Ohms && value < 0.0 {
        return Err(fault("resistance is not negative; take off the leads' own resistance in its field"));
    }
    let mut note = None;
    let diode = matches!(quantity, Quantity::DiodeRedOnGround | Quantity::DiodeRedOnRail);
    if diode && rest.is_empty() && value.abs() >= BARE_MILLIVOLTS {
        value /= 1000.0;
        note = Some(format!("{text} was taken as millivolts"));
    }
    if !value.is_finite() {
        return Err(fault("it is beyond every meter"));
    }
    Ok(Typed { value: Some(value), note })
}

/// The number and what follows it. `4k7` is 4.7 with `k` (IEC 60062: the letter stands for the decimal point).
fn split(text: &str) -> Option<(f64, &str)> {
    let digits = |s: &str| s.bytes().take_while(u8::is_ascii_digit).count();
    let signed = text.strip_prefix(['-', '\u{2212}']).map_or((1.0, text), |rest| (-1.0, rest));
    let (sign, text) = (signed.0, signed.1.strip_prefix('+').unwrap_or(signed.1));
    let whole = digits(text);
    let after = &text[whole..];
    if let Some(fraction) = after.strip_prefix(['.', ',']) {
        let more = digits(fraction);
        if whole + more == 0 {
            return None;
        }
        let mut rest = &fraction[more..];
        let mut number = format!("{}.{}", &text[..whole], &fraction[..more]);
        // Meters write 2.13E-01.
        if let Some(exponent) = rest.strip_prefix(['e', 'E']) {
            let sign_length = usize::from(exponent.starts_with(['-', '+']));
            let length = digits(&exponent[sign_length..]);
            if length > 0 {
                number = format!("{number}e{}", &exponent[..sign_length + length]);
                rest = &exponent[sign_length + length..];
            }
        }
        let number = if number.starts_with('.') { format!("0{number}") } else { number };
        return Some((sign * number.parse::<f64>().ok()?, rest.trim_start()));
    }
    let mut letters = after.chars();
    let letter = letters.next();
    if let Some(letter) = letter.filter(|c| "kKmMrRvVGu\u{b5}".contains(*c)) {
        let fraction = letters.as_str();
        let more = digits(fraction);
        if more > 0 && fraction.len() == more {
            let number: f64 = format!("{}.{fraction}", if whole == 0 { "0" } else { &text[..whole] }).parse().ok()?;
            return Some((sign * number, &after[..letter.len_utf8()]));
        }
    }
    (whole > 0).then(|| Some((sign * text[..whole].parse::<f64>().ok()?, after.trim_start())))?
}

struct Unit {
    factor: f64,
    /// Whether it says volts; `None` when it says neither.
    volts: Option<bool>,
}

fn unit(text: &str) -> Option<Unit> {
    let text = text.trim().trim_end_matches('.');
    let (factor, base) = match text.chars().next() {
        None => (1.0, ""),
        Some('G') => (1e9, &text[1..]),
        Some('M') => (1e6, &text[1..]),
        Some('k' | 'K') => (1e3, &text[1..]),
        Some('m') => (1e-3, &text[1..]),
        Some('u') => (1e-6, &text[1..]),
        Some('\u{b5}' | '\u{3bc}') => (1e-6, &text[2..]),
        _ => (1.0, text),
    };
    let volts = match base.trim().to_lowercase().as_str() {
        "" => None,
        "r" | "ohm" | "ohms" | "\u{3c9}" | "\u{2126}" => Some(false),
        "v" | "vdc" | "volt" | "volts" | "v dc" => Some(true),
        _ => return None,
    };
    Some(Unit { factor, volts })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn value(text: &str, quantity: Quantity) -> Option<f64> {
        parse(text, quantity).unwrap_or_else(|e| panic!("{text}: {e}")).value
    }

    #[test]
    fn what_technicians_type() {
        for (text, ohms) in [
            ("0.2", 0.2),
            ("0,2", 0.2),
            (".35", 0.35),
            ("4k7", 4700.0),
            ("4K7", 4700.0),
            ("2R2", 2.2),
            ("R47", 0.47),
            ("1M5", 1.5e6),
            ("4.7 k", 4700.0),
            ("4.7k\u{3a9}", 4700.0),
            ("4.7k\u{2126}", 4700.0),
            ("200 mohm", 0.2),
            ("200m\u{3a9}", 0.2),
            ("15 ohms", 15.0),
            ("2.13E-01", 0.213),
            ("2.13e+3 Ohm", 2130.0),
            (" 12 ", 12.0),
        ] {
            let read = value(text, Quantity::Ohms).expect("a value");
            assert!((read - ohms).abs() < 1e-9 * ohms, "{text} became {read}");
        }
        for (text, volts) in
            [("412 mV", 0.412), ("0.412", 0.412), ("0.412V", 0.412), ("412", 0.412), ("412m", 0.412), ("9", 9.0)]
        {
            let read = value(text, Quantity::DiodeRedOnGround).expect("a value");
            assert!((read - volts).abs() < 1e-12, "{text} became {read}");
        }
        assert_eq!(value("3V3", Quantity::Volts), Some(3.3));
        assert_eq!(value("-12.1", Quantity::Volts), Some(-12.1));
        assert_eq!(value("\u{2212}5", Quantity::Volts), Some(-5.0));
        for text in ["OL", "ol", "O.L", "0L", "open", "\u{221e}"] {
            assert_eq!(value(text, Quantity::Ohms), None, "{text}");
        }
    }

    #[test]
    fn what_was_assumed_is_said() {
        let typed = parse("412", Quantity::DiodeRedOnGround).unwrap();
        assert_eq!(typed.note.as_deref(), Some("412 was taken as millivolts"));
        assert_eq!(parse("412 mV", Quantity::DiodeRedOnGround).unwrap().note, None);
        assert_eq!(parse("12", Quantity::Volts).unwrap(), Typed { value: Some(12.0), note: None });
    }

    #[test]
    fn what_is_no_reading_is_refused_in_one_line() {
        for (text, quantity) in [
            ("", Quantity::Ohms),
            ("abc", Quantity::Ohms),
            ("0.2 V", Quantity::Ohms),
            ("4k7", Quantity::Volts),
            ("412 ohm", Quantity::DiodeRedOnGround),
            ("-0.1", Quantity::Ohms),
            ("1 2", Quantity::Ohms),
            ("0.2 parsec", Quantity::Ohms),
            ("1.5e999", Quantity::Ohms),
        ] {
            let wrong = parse(text, quantity);
            // Thousands of volts are a number all the same: the table says what it thinks of them.
            if (text, quantity) == ("4k7", Quantity::Volts) {
                assert_eq!(wrong.unwrap().value, Some(4700.0));
                continue;
            }
            assert_eq!(wrong.expect_err(text).lines().count(), 1);
        }
    }

    proptest! {
        #[test]
        fn no_text_is_a_surprise(text in "\\PC{0,12}") {
            for quantity in Quantity::ALL {
                if let Ok(Typed { value: Some(value), .. }) = parse(&text, quantity) {
                    prop_assert!(value.is_finite());
                }
            }
        }

        #[test]
        fn what_is_shown_can_be_typed(value in 0.001_f64..1e7) {
            let shown = super::super::reading::shown(Some(value), Quantity::Ohms);
            let back = parse(&shown, Quantity::Ohms).unwrap().value.unwrap();
            prop_assert!((back - value).abs() <= 6e-4 * value + 6e-5, "{} became {} became {}", value, shown, back);
        }
    }
}
