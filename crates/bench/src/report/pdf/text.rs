//! Text to lines of a width, by Unicode's rules for line breaks (UAX 14) and real glyph widths.

use textwrap::{WordSeparator, core::Fragment, wrap_algorithms::wrap_first_fit};

use crate::report::typeface::Face;

/// A piece of a line that is not broken.
#[derive(Debug)]
struct Piece<'a> {
    text: &'a str,
    space: &'a str,
    width: f64,
    space_width: f64,
}

impl Fragment for Piece<'_> {
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

/// The lines; what stands on lines of its own stays so. Never empty. A word wider than the line is broken within.
pub fn lines(face: &Face, text: &str, size: f32, width: f32) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in text.trim_end().split('\n') {
        let paragraph: String = paragraph.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        let mut pieces = Vec::new();
        for word in WordSeparator::UnicodeBreakProperties.find_words(&paragraph) {
            push(&mut pieces, face, word.word, word.whitespace, size, width);
        }
        let broken = wrap_first_fit(&pieces, &[f64::from(width)]);
        if broken.is_empty() {
            lines.push(String::new());
        }
        for line in broken {
            let mut text = String::new();
            for (i, piece) in line.iter().enumerate() {
                text += piece.text;
                if i + 1 < line.len() {
                    text += piece.space;
                }
            }
            lines.push(text);
        }
    }
    lines
}

fn push<'a>(pieces: &mut Vec<Piece<'a>>, face: &Face, word: &'a str, space: &'a str, size: f32, width: f32) {
    let mut rest = word;
    while let Some(at) = too_far(face, rest, size, width) {
        let (head, tail) = rest.split_at(at);
        pieces.push(Piece { text: head, space: "", width: face.width(head, size).into(), space_width: 0.0 });
        rest = tail;
    }
    pieces.push(Piece {
        text: rest,
        space,
        width: face.width(rest, size).into(),
        space_width: face.width(space, size).into(),
    });
}

/// Where a word has to be broken: before the first character that no longer fits, but never before the first of all.
fn too_far(face: &Face, word: &str, size: f32, width: f32) -> Option<usize> {
    let mut wide = 0.0;
    face.place(word).into_iter().enumerate().find_map(|(i, p)| {
        wide += p.advance * size;
        (i > 0 && wide > width).then_some(p.bytes.start)
    })
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
            let lines = lines(face, &text, 9.0, width);
            for line in &lines {
                assert!(face.width(line, 9.0) <= width + 0.01, "{width}: {line}");
            }
            let letters = |text: &str| text.chars().filter(|c| !c.is_whitespace()).collect::<String>();
            assert_eq!(letters(&lines.concat()), letters(&text), "{width}");
        }
        assert_eq!(lines(face, "", 9.0, 50.0), [""]);
        assert_eq!(lines(face, "ab", 9.0, 0.1), ["a", "b"]);
    }
}
