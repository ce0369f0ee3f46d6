//! Text to lines of a width, by Unicode's rules for line breaks (UAX 14) and real glyph widths.

use textwrap::{WordSeparator, core::Fragment, wrap_algorithms::wrap_first_fit};

use crate::report::typeface::Fonts;

/// The lines; what stands on lines of its own stays so. Never empty. A word wider than the line is broken within.
pub fn lines(fonts: &Fonts, bold: bool, text: &str, size: f32, width: f32) -> Vec<String> {
    let text: String = text.trim_end().chars().map(|c| if c.is_control() && c != '\n' { ' ' } else { c }).collect();
    let whole = |line: Vec<Span>| line.into_iter().map(|(_, text)| text).collect();
    spans(fonts, &[(bold, &text)], size, width).into_iter().map(whole).collect()
}

/// A stretch of a line: the number of its run, and its text.
pub type Span = (usize, String);

/// Where a word lies in a text, and how wide it is.
#[derive(Debug)]
struct Word {
    from: usize,
    to: usize,
    width: f64,
    space_width: f64,
}

impl Fragment for Word {
    fn width(&self) -> f64 {
        self.width
    }

    fn whitespace_width(&self) -> f64 {
        self.space_width
    }

    fn penalty_width(&self) -> f64 {
        0.0
    }
}

/// The same as [`lines`] for text of several runs, each bold or not. A word may run through several of them.
pub fn spans(fonts: &Fonts, runs: &[(bool, &str)], size: f32, width: f32) -> Vec<Vec<Span>> {
    let all: String = runs.iter().map(|(_, text)| *text).collect();
    let all: String = all.chars().map(|c| if c.is_ascii_control() && c != '\n' { ' ' } else { c }).collect();
    let pieces = |from: usize, to: usize| {
        let mut start = 0;
        let mut pieces: Vec<Span> = Vec::new();
        for (i, (_, text)) in runs.iter().enumerate() {
            let (a, b) = (from.max(start), to.min(start + text.len()));
            if a < b {
                pieces.push((i, all[a..b].to_owned()));
            }
            start += text.len();
        }
        pieces
    };
    let wide = |from: usize, to: usize| -> f32 {
        pieces(from, to).iter().map(|(i, text)| fonts.face(runs[*i].0).width(text, size)).sum()
    };
    let mut lines = Vec::new();
    let mut at = 0;
    for paragraph in all.split('\n') {
        let mut words = Vec::new();
        for word in WordSeparator::UnicodeBreakProperties.find_words(paragraph) {
            let (from, to) = (at, at + word.word.len());
            at = to + word.whitespace.len();
            let mut start = from;
            // A word wider than the line is broken within, but never before its first character.
            for (i, c) in all[from..to].char_indices() {
                if from + i > start && wide(start, from + i + c.len_utf8()) > width {
                    words.push(Word {
                        from: start,
                        to: from + i,
                        width: wide(start, from + i).into(),
                        space_width: 0.0,
                    });
                    start = from + i;
                }
            }
            words.push(Word { from: start, to, width: wide(start, to).into(), space_width: wide(to, at).into() });
        }
        at += 1;
        let broken = wrap_first_fit(&words, &[f64::from(width)]);
        if broken.is_empty() {
            lines.push(Vec::new());
        }
        // A line without words stays a line.
        let ends = broken.into_iter().map(|line| line.first().zip(line.last()).map(|(a, b)| (a.from, b.to)));
        lines.extend(ends.map(|ends| ends.map_or_else(Vec::new, |(from, to)| pieces(from, to))));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::typeface::Fonts;

    #[test]
    fn no_line_is_wider_than_its_room_and_nothing_is_lost() {
        let fonts = Fonts::bundled().unwrap();
        let face = fonts.face(false);
        let hash = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        let text = format!("Two words, {hash} and a well-known end.\n\n  second\tparagraph");
        for width in [30.0, 60.0, 200.0, 1000.0] {
            let lines = lines(&fonts, false, &text, 9.0, width);
            for line in &lines {
                assert!(face.width(line, 9.0) <= width + 0.01, "{width}: {line}");
            }
            let letters = |text: &str| text.chars().filter(|c| !c.is_whitespace()).collect::<String>();
            assert_eq!(letters(&lines.concat()), letters(&text), "{width}");
        }
        assert_eq!(lines(&fonts, false, "", 9.0, 50.0), [""]);
        assert_eq!(lines(&fonts, false, "ab", 9.0, 0.1), ["a", "b"]);
    }

    #[test]
    fn runs_share_their_lines_and_keep_their_look() {
        let fonts = Fonts::bundled().unwrap();
        let runs = [
            (false, "Copper "),
            (true, "carries"),
            (false, " heat far; a well-known\nfact, "),
            (true, "in"),
            (false, "deed"),
        ];
        for width in [20.0, 60.0, 400.0] {
            let lines = spans(&fonts, &runs, 9.0, width);
            for line in &lines {
                let wide: f32 = line.iter().map(|(i, text)| fonts.face(runs[*i].0).width(text, 9.0)).sum();
                assert!(wide <= width + 0.01, "{width}: {line:?}");
            }
            let told: String = lines.iter().flatten().map(|(_, text)| text.as_str()).collect();
            let letters = |text: &str| text.chars().filter(|c| !c.is_whitespace()).collect::<String>();
            assert_eq!(letters(&told), letters(&runs.map(|(_, t)| t).concat()), "{width}");
            for (i, text) in lines.iter().flatten() {
                assert!(runs[*i].1.contains(text.as_str()), "{i}: {text}");
            }
        }
        // A word of two looks is not broken where the look changes.
        let wide = spans(&fonts, &runs, 9.0, 400.0);
        assert_eq!(wide[1], [(2, "fact, ".to_owned()), (3, "in".to_owned()), (4, "deed".to_owned())]);
        assert!(spans(&fonts, &[], 9.0, 40.0).iter().all(Vec::is_empty));
    }
}
