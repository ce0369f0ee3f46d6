//! One cell of a matrix of text: numbers with a decimal point or a decimal comma.

/// What a cell turned out to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Cell {
    /// A number.
    Number {
        value: f32,
        /// How the decimal mark was written.
        mark: Mark,
    },
    /// Nothing, or a spelling of "not a number".
    Missing,
    /// Anything else.
    Text,
}

/// The decimal mark of one number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    /// An integer.
    None,
    Point,
    Comma,
}

/// Reads a cell. A comma is a decimal mark here: the columns were parted before. `1.234,5` has a thousands point and
/// `1,234.5` a thousands comma; thousands marks count only in proper groups of three.
pub(super) fn cell(bytes: &[u8]) -> Cell {
    let bytes = unquote(bytes.trim_ascii()).trim_ascii();
    if bytes.is_empty() {
        return Cell::Missing;
    }
    let Ok(text) = str::from_utf8(bytes) else { return Cell::Text };
    if bytes[0].is_ascii_alphabetic() || bytes.len() > 64 {
        let missing = ["nan", "na", "n/a", "null", "inf", "infinity"].iter().any(|w| text.eq_ignore_ascii_case(w));
        return if missing { Cell::Missing } else { Cell::Text };
    }
    let exponent = bytes.iter().any(|b| matches!(b, b'e' | b'E'));
    let (mark, parsed) = match (bytes.contains(&b'.'), bytes.contains(&b',')) {
        (false, false) => (if exponent { Mark::Point } else { Mark::None }, number(text)),
        (true, false) => (Mark::Point, number(text)),
        (false, true) => (Mark::Comma, number(&text.replace(',', "."))),
        (true, true) if text.rfind(',') > text.rfind('.') => {
            (Mark::Comma, grouped(text, '.').and_then(|t| number(&t.replace(',', "."))))
        }
        (true, true) => (Mark::Point, grouped(text, ',').and_then(|t| number(&t))),
    };
    match parsed {
        // Out of range for 32 bits, or written "-inf": reported with its place like any other gap.
        Some(value) if !value.is_finite() => Cell::Missing,
        Some(value) => Cell::Number { value, mark },
        None => Cell::Text,
    }
}

fn number(text: &str) -> Option<f32> {
    text.parse().ok()
}

/// Takes thousands marks out, if every group behind one has three digits and the first has one to three.
fn grouped(text: &str, mark: char) -> Option<String> {
    let whole = text.trim_start_matches(['+', '-']);
    let whole = &whole[..whole.find(if mark == '.' { ',' } else { '.' })?];
    let groups: Vec<_> = whole.split(mark).collect();
    let proper = groups.iter().enumerate().all(|(i, group)| {
        group.bytes().all(|b| b.is_ascii_digit())
            && if i == 0 { matches!(group.len(), 1..=3) } else { group.len() == 3 }
    });
    proper.then(|| text.replace(mark, ""))
}

fn unquote(bytes: &[u8]) -> &[u8] {
    match bytes {
        [b'"', inner @ .., b'"'] => inner,
        _ => bytes,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_either_notation() {
        let number = |value, mark| Cell::Number { value, mark };
        for (text, wanted) in [
            ("300", number(300.0, Mark::None)),
            (" -1.5 ", number(-1.5, Mark::Point)),
            ("1,5", number(1.5, Mark::Comma)),
            ("\"1,5\"", number(1.5, Mark::Comma)),
            ("1.234,5", number(1234.5, Mark::Comma)),
            ("1,234.5", number(1234.5, Mark::Point)),
            ("3e2", number(300.0, Mark::Point)),
            ("", Cell::Missing),
            ("NaN", Cell::Missing),
            ("-inf", Cell::Missing),
            ("1e999", Cell::Missing),
            ("12.34,5", Cell::Text),
            ("1,2,3", Cell::Text),
            ("abc", Cell::Text),
            ("23 °C", Cell::Text),
        ] {
            assert_eq!(cell(text.as_bytes()), wanted, "{text}");
        }
        assert_eq!(cell(b"\xb0C"), Cell::Text);
    }
}
