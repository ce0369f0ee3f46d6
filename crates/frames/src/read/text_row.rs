//! One line of a matrix of text: which separator parts it, and the values between.

use super::number::{Cell, Mark, cell};

/// What stands between columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Separator {
    Semicolon,
    Tab,
    Comma,
    /// Any run of blanks.
    Blank,
}

impl Separator {
    pub fn words(self) -> &'static str {
        match self {
            Self::Semicolon => "; between columns",
            Self::Tab => "tabs between columns",
            Self::Comma => ", between columns",
            Self::Blank => "blanks between columns",
        }
    }

    fn byte(self) -> u8 {
        match self {
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Comma => b',',
            Self::Blank => b' ',
        }
    }

    /// The separator that makes a row of numbers of this line, if any does.
    pub fn detect(line: &[u8]) -> Option<Self> {
        let order = [Self::Semicolon, Self::Tab, Self::Comma, Self::Blank];
        order
            .into_iter()
            .find(|s| (*s == Self::Blank || line.contains(&s.byte())) && matches!(Line::read(line, *s), Line::Row(_)))
    }

    /// The cells of a line. Separators within double quotes do not count.
    pub fn cells(self, line: &[u8]) -> impl Iterator<Item = &[u8]> {
        let mut quoted = false;
        let byte = self.byte();
        line.split(move |&b| {
            quoted ^= b == b'"';
            !quoted && (b == byte || (self == Self::Blank && b == b'\t'))
        })
        .filter(move |cell| self != Self::Blank || !cell.is_empty())
    }
}

/// The numbers of one line.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Row {
    /// Gaps are not-a-number.
    pub values: Vec<f32>,
    /// Whether the last cell was empty, as behind a trailing separator.
    pub open_end: bool,
    /// Whether the first cell was empty, as in the corner of a labelled table.
    pub open_start: bool,
    /// How decimals were written in it.
    pub has_point: bool,
    pub has_comma: bool,
    /// Whether the separator was followed by a blank somewhere ("1, 2").
    pub has_blank: bool,
}

/// What a line is.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Line {
    /// Nothing on it, or only separators.
    Empty,
    Row(Row),
    /// Something else stands in this column, counted from 0.
    Text(usize),
}

impl Line {
    pub fn read(line: &[u8], separator: Separator) -> Self {
        if line.iter().all(|b| b.is_ascii_whitespace() || matches!(b, b',' | b';')) {
            return Self::Empty;
        }
        let mut row = Row::default();
        for (column, bytes) in separator.cells(line).enumerate() {
            let empty = bytes.trim_ascii().is_empty();
            match cell(bytes) {
                Cell::Number { value, mark } => {
                    row.has_point |= mark == Mark::Point;
                    row.has_comma |= mark == Mark::Comma;
                    row.values.push(value);
                }
                Cell::Missing => row.values.push(f32::NAN),
                Cell::Text => return Self::Text(column),
            }
            row.open_start |= column == 0 && empty;
            row.open_end = column > 0 && empty;
            row.has_blank |= column > 0 && bytes.first() == Some(&b' ');
        }
        Self::Row(row)
    }
}

/// Whether these are 0, 1, 2, … or 1, 2, 3, …: labels of columns or rows rather than temperatures.
pub(super) fn are_labels(values: &[f32]) -> bool {
    let first = values.first().copied().unwrap_or(-1.0);
    values.len() >= 2 && (first == 0.0 || first == 1.0) && values.windows(2).all(|pair| pair[1] == pair[0] + 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn separator_and_decimal_mark_are_decided_together() {
        for (line, wanted) in [
            ("1,5;2,5", Some((Separator::Semicolon, vec![1.5, 2.5]))),
            ("1.5,2.5", Some((Separator::Comma, vec![1.5, 2.5]))),
            ("1.234,5;2", Some((Separator::Semicolon, vec![1234.5, 2.0]))),
            ("1,5\t2,5", Some((Separator::Tab, vec![1.5, 2.5]))),
            ("1,5 2,5", Some((Separator::Blank, vec![1.5, 2.5]))),
            ("1.5   2.5", Some((Separator::Blank, vec![1.5, 2.5]))),
            ("1, 2, 3", Some((Separator::Comma, vec![1.0, 2.0, 3.0]))),
            ("\"1,5\",\"2,5\"", Some((Separator::Comma, vec![1.5, 2.5]))),
            ("Width;640", None),
            ("# 1 2", None),
        ] {
            let found = Separator::detect(line.as_bytes());
            assert_eq!(found, wanted.as_ref().map(|w| w.0), "{line}");
            if let Some((separator, values)) = wanted {
                let Line::Row(row) = Line::read(line.as_bytes(), separator) else { panic!("{line}") };
                assert_eq!(row.values, values, "{line}");
            }
        }
    }

    #[test]
    fn labels_are_consecutive() {
        assert!(are_labels(&[0.0, 1.0, 2.0]) && are_labels(&[1.0, 2.0]));
        assert!(!are_labels(&[0.0, 2.0]) && !are_labels(&[0.0]) && !are_labels(&[300.0, 301.0]));
    }
}
