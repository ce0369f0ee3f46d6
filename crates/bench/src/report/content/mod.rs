//! What a report says, gathered from the case as plain text, tables and drawings. Layout knows nothing of cases.

mod curve;
mod device;
mod hashes;
pub(crate) mod injection;
pub(crate) mod map;
pub(crate) mod readings;
pub(crate) mod record;
mod repair;
pub(crate) mod suspects;
pub(crate) mod takes;
pub(crate) mod words;

use joulemark_frames::Progress;
use joulemark_locate::board::Board;

use super::{
    Options,
    drawing::{Drawing, Raster},
    logo, typeface,
};
use crate::{
    case::{Case, CaseFolder, case_log, case_log::LogFile, settings::Shop},
    lesson::markdown,
};

pub use words::SIMULATED;

/// A report.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// What it is.
    pub title: String,
    /// What it is about.
    pub subject: String,
    /// Whether its recordings are simulated.
    pub simulated: bool,
    /// The newest time in the case, in UTC; `None` where the case has none.
    pub date: Option<String>,
    /// The letterhead.
    pub head: Letterhead,
    /// What it says.
    pub sections: Vec<Section>,
    /// The program and its version.
    pub software: String,
    /// What could not be put into it.
    pub warnings: Vec<String>,
}

impl Report {
    /// Up to when the case's record reaches.
    pub fn dated(&self) -> Option<String> {
        Some(format!("record up to {}", words::when(self.date.as_deref()?)))
    }
}

/// The shop.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Letterhead {
    /// Its name; may be empty.
    pub name: String,
    /// Its address.
    pub address: Vec<String>,
    /// Its logo.
    pub logo: Option<Raster>,
}

/// A heading with what is under it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Section {
    /// The heading.
    pub heading: String,
    /// What is under it.
    pub blocks: Vec<Block>,
    /// Whether it begins on a page of its own.
    pub own_page: bool,
}

impl Section {
    pub(crate) fn new(heading: &str, blocks: Vec<Block>) -> Self {
        Self { heading: heading.to_owned(), blocks, own_page: false }
    }

    /// The same, on a page of its own.
    pub(crate) fn on_own_page(self) -> Self {
        Self { own_page: true, ..self }
    }
}

/// A piece of a section.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading below the section's.
    Sub(String),
    /// A paragraph.
    Text(String),
    /// A paragraph in small print.
    Note(String),
    /// Items.
    List(Vec<String>),
    /// Names and values.
    Facts(Vec<(String, String)>),
    /// A table.
    Table(Table),
    /// What must not be overlooked.
    Box { title: String, lines: Vec<String> },
    /// A drawing with its caption.
    Drawing { drawing: Drawing, caption: String },
    /// A place to sign, and who signed already.
    Signature { signed: Option<String> },
    /// Text of a lesson.
    Prose(Vec<markdown::Block>),
    /// What numbers in a drawing stand for.
    Legend(Vec<(u32, String)>),
    /// Names with room to write beside them: so many lines each.
    Blanks(Vec<(String, usize)>),
}

/// Rows under a head. Every row has as many cells as there are columns.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows.
    pub rows: Vec<Vec<String>>,
}

/// A column.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Column {
    /// Its head.
    pub head: String,
    /// Its share of the width against the others'.
    pub share: f32,
    /// Whether it is set to the right, as numbers are.
    pub right: bool,
}

/// Columns from heads and shares; a share below zero stands for a column set to the right.
pub(crate) fn columns<const N: usize>(columns: [(&str, f32); N]) -> Vec<Column> {
    columns.map(|(head, share)| Column { head: head.to_owned(), share: share.abs(), right: share < 0.0 }).into()
}

/// What the sections are made from.
pub(crate) struct Known<'a> {
    pub(crate) case: &'a Case,
    pub(crate) board: &'a Board,
    pub(crate) takes: &'a takes::Takes,
    pub(crate) log: &'a LogFile,
}

/// The program and its version.
pub(crate) fn software() -> String {
    format!("Joulemark {}", env!("CARGO_PKG_VERSION"))
}

/// The shop's letterhead; a logo that cannot be read is left out and said.
pub(crate) fn letterhead(shop: &Shop, warnings: &mut Vec<String>) -> Letterhead {
    let logo = shop.logo.as_deref().and_then(|file| match logo::read(file) {
        Ok(logo) => Some(logo),
        Err(error) => {
            warnings.push(format!("there is no logo on it: {error}"));
            None
        }
    });
    Letterhead {
        name: shop.name.trim().to_owned(),
        address: shop.address.iter().map(|l| l.trim().to_owned()).filter(|l| !l.is_empty()).collect(),
        logo,
    }
}

/// Gathers the report of a case.
pub fn gather(folder: &CaseFolder, options: &Options, progress: &dyn Progress) -> anyhow::Result<Report> {
    let case = &folder.case;
    let log = case_log::read(&folder.folder)?;
    let board = folder.drawing()?;
    let mut warnings = Vec::new();
    let head = letterhead(&options.shop, &mut warnings);
    let takes = takes::tell(folder, options, progress, &mut warnings)?;
    let hashes = hashes::of_case(folder, progress)?;
    let known = Known { case, board: &board, takes: &takes, log: &log };
    let fonts = typeface::Fonts::bundled()?;
    let mut sections = vec![device::section(&known), repair::result(&known), readings::section(&known)];
    sections.extend(injection::section(&known));
    sections.extend(map::section(&known, &fonts)?);
    sections.extend(suspects::section(&known));
    sections.extend(suspects::ledger(&known));
    sections.push(repair::interventions(&known));
    sections.extend(repair::checks(&known));
    sections.push(injection::cautions());
    sections.push(record::log(&known));
    sections.push(record::data(&known, hashes));
    sections.push(record::signature(&known));
    Ok(Report {
        title: "Repair report".into(),
        subject: words::subject(case),
        simulated: case.practice.is_some(),
        date: record::newest_time(case, &log),
        head,
        sections,
        software: software(),
        warnings,
    })
}
