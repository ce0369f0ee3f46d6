//! Values in words.

/// Ohms as a hand-held meter shows them: three figures.
pub(crate) fn ohms_words(ohms: f64) -> String {
    let (value, unit) = match ohms.abs() {
        v if v >= 1e6 => (ohms / 1e6, "M ohms"),
        v if v >= 1e3 => (ohms / 1e3, "k ohms"),
        _ => (ohms, "ohms"),
    };
    let decimals = match value.abs() {
        v if v >= 100.0 => 0,
        v if v >= 10.0 => 1,
        _ => 2,
    };
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{text} {unit}")
}

#[cfg(test)]
mod tests {
    use super::ohms_words;

    #[test]
    fn three_figures() {
        for (ohms, text) in [
            (0.2, "0.2 ohms"),
            (0.0, "0 ohms"),
            (40.0, "40 ohms"),
            (470.0, "470 ohms"),
            (1e4, "10 k ohms"),
            (1.25e6, "1.25 M ohms"),
        ] {
            assert_eq!(ohms_words(ohms), text);
        }
    }
}
