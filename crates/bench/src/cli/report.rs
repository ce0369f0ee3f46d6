//! `joulemark report`: the report of a case, as PDF or as one web page.

use std::{
    io::{self, Write},
    path::PathBuf,
};

use clap::Args;

use super::{Console, Outcome, PaperName, Reading};
use crate::{
    case::{
        BadInput, CaseFolder, atomic,
        settings::{self, Paper},
    },
    report::{self, Format, Options},
};

/// Write the report of a case: PDF or one self-contained web page, by the name's ending.
#[derive(Clone, Debug, Args)]
#[command(after_help = "Letterhead, logo and paper come from the shop's settings. The same case gives the same bytes.")]
pub(super) struct ReportArgs {
    /// Case folder.
    case: PathBuf,
    /// The file to write: OUT.pdf or OUT.html.
    #[arg(value_name = "OUT")]
    out: PathBuf,
    /// Size of a page, instead of the one in the settings.
    #[arg(long, value_name = "SIZE", value_enum)]
    paper: Option<PaperName>,
    #[command(flatten)]
    pub(super) reading: Reading,
}

pub(super) fn run(args: &ReportArgs, console: &Console) -> anyhow::Result<Outcome> {
    // A slip of the hand must not cost minutes of locating, nor a recording.
    let format = Format::of(&args.out)?;
    let folder = CaseFolder::open_told(&args.case)?;
    let mut shop = settings::file().map(|file| settings::load(&file)).unwrap_or_default().shop;
    shop.paper = args.paper.map_or(shop.paper, Paper::from);
    let options =
        Options { mask_nan: args.reading.mask_nan, memory_mib: args.reading.memory_mib, ..Options::new(format, shop) };
    let written = report::write(&folder, &options, console)?;
    atomic::write(&args.out, &written.bytes).map_err(|e| BadInput::unwritable(&args.out, &e))?;
    console.clear();
    for warning in &written.warnings {
        console.warn(warning);
    }
    writeln!(io::stdout().lock(), "Report written to {}", args.out.display())?;
    Ok(Outcome::Done)
}
