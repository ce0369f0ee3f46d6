//! Body sizes that a package's name states: the two-terminal chip codes.

/// Inch code, metric code, length and width in millimetres: the sizes of EIA-481 / IEC 60115-8 chips (from memory of
/// makers' common tables).
const CHIPS: [(&str, &str, f64, f64); 11] = [
    ("01005", "0402", 0.4, 0.2),
    ("0201", "0603", 0.6, 0.3),
    ("0402", "1005", 1.0, 0.5),
    ("0603", "1608", 1.6, 0.8),
    ("0805", "2012", 2.0, 1.25),
    ("1206", "3216", 3.2, 1.6),
    ("1210", "3225", 3.2, 2.5),
    ("1812", "4532", 4.5, 3.2),
    ("2010", "5025", 5.0, 2.5),
    ("2220", "5750", 5.7, 5.0),
    ("2512", "6332", 6.3, 3.2),
];

/// Length and width of a chip by a code in the package's name. A code followed by `M` or `METRIC` is metric; others
/// are inch codes, as is the custom.
pub(super) fn size_mm(package: &str) -> Option<[f64; 2]> {
    let name = package.to_ascii_uppercase();
    let words: Vec<&str> = name.split(|c: char| !c.is_ascii_alphanumeric()).filter(|w| !w.is_empty()).collect();
    let metric = words.iter().enumerate().find_map(|(i, word)| {
        let word = word.trim_start_matches(|c: char| c.is_ascii_alphabetic());
        let digits = word.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        let tail = &word[digits.len()..];
        let follows = tail.is_empty() && words.get(i + 1).is_some_and(|w| *w == "METRIC");
        (matches!(tail, "M" | "METRIC") || follows).then(|| CHIPS.iter().find(|c| c.1 == digits)).flatten()
    });
    let inch = || {
        words.iter().find_map(|word| {
            let digits = word.trim_start_matches(|c: char| c.is_ascii_alphabetic());
            CHIPS.iter().find(|c| c.0 == digits)
        })
    };
    metric.or_else(inch).map(|c| [c.2, c.3])
}

#[cfg(test)]
mod tests {
    use super::size_mm;

    #[test]
    fn inch_codes_unless_metric_is_said() {
        assert_eq!(size_mm("C_0603_1608Metric"), Some([1.6, 0.8]));
        assert_eq!(size_mm("0603"), Some([1.6, 0.8]));
        assert_eq!(size_mm("R0603M"), Some([0.6, 0.3]));
        assert_eq!(size_mm("CAP-0402"), Some([1.0, 0.5]));
        assert_eq!(size_mm("1005 metric"), Some([1.0, 0.5]));
        assert_eq!(size_mm("SOT-23"), None);
        assert_eq!(size_mm("10402"), None);
    }
}
