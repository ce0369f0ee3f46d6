//! Which files a lesson can be handed out as.

use std::path::{Path, PathBuf};

/// A kind of file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HandoutFile {
    /// Pages to print, with exercise and answer sheets.
    Pdf,
    /// The lesson as one page for a browser.
    Page,
    /// The step shown.
    Picture,
    /// The recording in the step shown.
    Animation,
}

impl HandoutFile {
    /// All.
    pub const ALL: [Self; 4] = [Self::Pdf, Self::Page, Self::Picture, Self::Animation];

    /// What it is.
    pub fn words(self) -> &'static str {
        match self {
            Self::Pdf => "PDF",
            Self::Page => "web page",
            Self::Picture => "picture of this step",
            Self::Animation => "GIF of this step",
        }
    }

    /// What its dialog is headed.
    pub fn title(self) -> &'static str {
        match self {
            Self::Pdf => "Hand the lesson out as PDF",
            Self::Page => "Hand the lesson out as a web page",
            Self::Picture => "Write a picture of this step",
            Self::Animation => "Write a GIF of this step",
        }
    }

    /// How its name ends.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Pdf => "pdf",
            Self::Page => "html",
            Self::Picture => "png",
            Self::Animation => "gif",
        }
    }

    /// The path with that ending, where it has none.
    pub fn named(self, path: &Path) -> PathBuf {
        if path.extension().is_some() { path.to_owned() } else { path.with_extension(self.ending()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_without_an_ending_gets_one() {
        assert_eq!(HandoutFile::Page.named(Path::new("a/lesson")), Path::new("a/lesson.html"));
        assert_eq!(HandoutFile::Page.named(Path::new("a/lesson.htm")), Path::new("a/lesson.htm"));
    }
}
