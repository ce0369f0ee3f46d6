//! Everything that can be wrong with a recording. Each message says file, place and remedy in one line.

use std::{
    io,
    path::{Path, PathBuf},
};

/// Why frames or a capture log could not be read or written.
#[derive(Debug, thiserror::Error)]
pub enum FramesError {
    /// The file could not be opened or read.
    #[error("{}: {source}; check the path and that the file may be read", file.display())]
    Io {
        /// The file or folder.
        file: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The content is not what it should be.
    #[error("{}: {place}: {problem}; {remedy}", file.display())]
    Malformed {
        /// The file.
        file: PathBuf,
        /// Where in the file: "frame 3", "line 12, column amps", "header".
        place: String,
        /// What is wrong there.
        problem: String,
        /// What the user can do.
        remedy: String,
    },
    /// A file type nobody here reads.
    #[error("{}: {problem}; give TIFF, PNG, NPY, CSV, raw with a .ron sidecar, a picture, a video, or a folder of frames", file.display())]
    Unsupported {
        /// The file.
        file: PathBuf,
        /// What it seems to be.
        problem: String,
    },
    /// Integer counts without a stated law.
    #[error("{}: {bits}-bit counts without a law that turns them into kelvin; state it with --counts centikelvin or --counts linear:GAIN,OFFSET", file.display())]
    LawNeeded {
        /// The file.
        file: PathBuf,
        /// Bits per sample.
        bits: u8,
    },
    /// More memory than allowed would be needed.
    #[error("{}: needs {needed_mib} MiB, more than the limit of {limit_mib} MiB; cut the recording, or raise the limit with --memory-mib", file.display())]
    TooLarge {
        /// The file.
        file: PathBuf,
        /// Mebibytes that the frames would take.
        needed_mib: u64,
        /// The limit in force.
        limit_mib: u64,
    },
    /// The user cancelled.
    #[error("cancelled")]
    Cancelled,
}

impl FramesError {
    /// [`FramesError::Malformed`], the problem on one line whatever it quotes.
    pub(crate) fn malformed(
        file: &Path,
        place: impl Into<String>,
        problem: impl Into<String>,
        remedy: impl Into<String>,
    ) -> Self {
        Self::Malformed {
            file: file.to_owned(),
            place: place.into(),
            problem: one_line(&problem.into()),
            remedy: remedy.into(),
        }
    }
}

/// Messages of other crates may span lines or quote file content; ours are one line of printable text.
pub(crate) fn one_line(text: &str) -> String {
    text.split(|c: char| c.is_control()).filter(|part| !part.trim().is_empty()).collect::<Vec<_>>().join(" ")
}
