//! The report of a case: what was found, how, and against which limits, as PDF or as one self-contained web page.
//!
//! `content` gathers a plain [`Report`], `pdf` and `html` lay it out; all three are functions of the case's files and the
//! options alone. No clock is read: the same inputs give the same bytes.

pub mod clip;
pub(crate) mod content;
pub mod drawing;
pub(crate) mod html;
mod logo;
pub(crate) mod pdf;
pub mod typeface;

use std::path::Path;

use joulemark_frames::Progress;

pub use content::{Block, Column, Report, Section, Table};
pub use drawing::{Anchor, Drawing, Raster, Shape};

use crate::case::{
    BadInput, CaseFolder,
    load::MEMORY_MIB,
    settings::{Paper, Shop},
};

/// What is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// PDF with embedded fonts.
    Pdf,
    /// One HTML file that needs no other.
    Html,
}

impl Format {
    /// By a file's extension.
    ///
    /// # Errors
    /// When it is neither `.pdf` nor `.html`.
    pub fn of(file: &Path) -> anyhow::Result<Self> {
        let extension = file.extension().map(|e| e.to_string_lossy().to_lowercase());
        match extension.as_deref() {
            Some("pdf") => Ok(Self::Pdf),
            Some("html" | "htm") => Ok(Self::Html),
            _ => {
                Err(BadInput::at(file, "", "a report is a PDF or a web page", "give a name that ends in .pdf or .html"))
            }
        }
    }
}

/// How a report is written.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// As what.
    pub format: Format,
    /// The letterhead, and the paper in the shop's printer.
    pub shop: Shop,
    /// Treat pixels that are not numbers as absent.
    pub mask_nan: bool,
    /// Most mebibytes that the frames of one take may need.
    pub memory_mib: u64,
}

impl Options {
    /// With the usual limit of memory.
    pub fn new(format: Format, shop: Shop) -> Self {
        Self { format, shop, mask_nan: false, memory_mib: MEMORY_MIB }
    }

    /// The paper.
    pub fn paper(&self) -> Paper {
        self.shop.paper
    }
}

/// A report that was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The file's content.
    pub bytes: Vec<u8>,
    /// What could not be put into it, one sentence each.
    pub warnings: Vec<String>,
}

/// Writes the report of a case. Reads the recordings and locates in them, so it may take as long as locating does.
///
/// # Errors
/// When a file of the case cannot be read, or the work is cancelled. A take that cannot be located is said in the report
/// and in the warnings; a logo that cannot be read is left out and said.
pub fn write(folder: &CaseFolder, options: &Options, progress: &dyn Progress) -> anyhow::Result<Written> {
    let report = content::gather(folder, options, progress)?;
    progress.report("writing the report", 0, 1);
    let bytes = match options.format {
        Format::Pdf => pdf::write(&report, options.paper())?,
        Format::Html => html::write(&report, options.paper()).into_bytes(),
    };
    Ok(Written { bytes, warnings: report.warnings })
}
