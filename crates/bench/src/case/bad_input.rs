//! One line for whatever is wrong with what the user gave: file, place, problem, remedy. It decides exit code 2.

use std::{fmt, io, path::Path};

/// Something wrong with a file or flag that the user gave. Shown on one line, whatever the parts hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadInput {
    /// The file or flag.
    pub file: String,
    /// Where in it; may be empty.
    pub place: String,
    /// What is wrong.
    pub problem: String,
    /// What to do; may be empty when the problem already says it.
    pub remedy: String,
}

impl BadInput {
    /// A fault in a file.
    pub fn at(
        file: &Path,
        place: impl Into<String>,
        problem: impl Into<String>,
        remedy: impl Into<String>,
    ) -> anyhow::Error {
        Self { file: file.display().to_string(), place: place.into(), problem: problem.into(), remedy: remedy.into() }
            .into()
    }

    /// A fault in a flag.
    pub fn flag(flag: &str, problem: impl Into<String>, remedy: impl Into<String>) -> anyhow::Error {
        Self { file: flag.to_owned(), place: String::new(), problem: problem.into(), remedy: remedy.into() }.into()
    }

    /// A file that cannot be read.
    pub fn unreadable(file: &Path, source: &io::Error) -> anyhow::Error {
        Self::at(file, "", source.to_string(), "check the path and that the file may be read")
    }

    /// A file that cannot be written.
    pub fn unwritable(file: &Path, source: &io::Error) -> anyhow::Error {
        Self::at(file, "", source.to_string(), "choose a place that exists and may be written to")
    }

    /// A fault that a library reports without knowing the file.
    pub fn in_file(file: &Path, fault: &dyn fmt::Display) -> anyhow::Error {
        Self::at(file, "", fault.to_string(), "")
    }
}

impl fmt::Display for BadInput {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut line = self.file.clone();
        for (before, text) in [(": ", &self.place), (": ", &self.problem), ("; ", &self.remedy)] {
            if !text.is_empty() {
                line.push_str(before);
                line.push_str(text);
            }
        }
        f.write_str(&line.split_whitespace().collect::<Vec<_>>().join(" "))
    }
}

impl std::error::Error for BadInput {}

/// Reads a text file, refusing what is no text and what is absurdly large for one.
pub fn read_text(file: &Path) -> anyhow::Result<String> {
    read_text_and_bytes(file).map(|(text, _)| text)
}

/// The same, with the bytes as they are in the file.
pub(super) fn read_text_and_bytes(file: &Path) -> anyhow::Result<(String, Vec<u8>)> {
    /// Case and board files are a few hundred kilobytes at most; a recording given by mistake is not read into memory.
    const MOST_BYTES: u64 = 64 << 20;
    let meta = std::fs::metadata(file).map_err(|e| BadInput::unreadable(file, &e))?;
    if meta.is_dir() {
        return Err(BadInput::at(file, "", "is a folder", "give a file"));
    }
    if meta.len() > MOST_BYTES {
        return Err(BadInput::at(
            file,
            "",
            format!("{} MiB is too large for a text file", meta.len() >> 20),
            "check the path",
        ));
    }
    let bytes = std::fs::read(file).map_err(|e| BadInput::unreadable(file, &e))?;
    let text = std::str::from_utf8(&bytes).map_err(|e| {
        let at = e.valid_up_to();
        BadInput::at(file, format!("byte {at}"), "not UTF-8 text", "save it as UTF-8 text")
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text).to_owned();
    if text.trim().is_empty() {
        return Err(BadInput::at(file, "", "the file is empty", "give the file that was written, not an empty one"));
    }
    Ok((text, bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_stay_single_and_empty_places_vanish() {
        let fault = BadInput::at(Path::new("a.ron"), "", "Expected\n `)`", "close it");
        assert_eq!(fault.to_string(), "a.ron: Expected `)`; close it");
        let fault = BadInput::flag("--rate", "zero", "");
        assert_eq!(fault.to_string(), "--rate: zero");
    }
}
