//! Bytes of a text file, with what every reader here refuses.

use std::{borrow::Cow, path::Path};

use crate::case::BadInput;

/// Text of a design file. Old programs write Windows-1252 or Latin-1: what is no UTF-8 is read byte by byte, which
/// keeps all that the formats themselves define (ASCII).
pub(super) fn text<'a>(file: &Path, bytes: &'a [u8]) -> anyhow::Result<Cow<'a, str>> {
    if bytes.iter().take(4096).any(|&b| b == 0) {
        return Err(BadInput::at(file, "", "not a text file", "export it as text, in UTF-8 or ASCII"));
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(BadInput::at(file, "", "the file is empty", "give the file that was written, not an empty one"));
    }
    Ok(match str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(bytes.iter().map(|&b| char::from(b)).collect()),
    })
}

/// A fault on a line, counted from 1.
pub(super) fn fault(file: &Path, line: usize, problem: impl Into<String>, remedy: &str) -> anyhow::Error {
    let mut problem: String = problem.into();
    // What is quoted from a file may be long.
    if let Some((cut, _)) = problem.char_indices().nth(160) {
        problem.truncate(cut);
        problem.push_str("...");
    }
    BadInput::at(file, format!("line {line}"), problem, remedy)
}

/// A finite number with decimal point or decimal comma.
pub(super) fn number(text: &str) -> Option<f64> {
    let text = text.trim();
    let value: f64 = match text.parse() {
        Ok(v) => v,
        Err(_) if text.matches(',').count() == 1 && !text.contains('.') => text.replace(',', ".").parse().ok()?,
        Err(_) => return None,
    };
    value.is_finite().then_some(value)
}
