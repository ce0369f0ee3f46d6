//! `joulemark convert`: frames from one file format to another, values as they are.

use std::{
    io::{self, Write},
    path::PathBuf,
};

use clap::Args;
use joulemark_frames::{read, write};

use super::{Console, Outcome, Reading};
use crate::case::BadInput;

/// Write frames in another format; the name of OUT says which.
#[derive(Clone, Debug, Args)]
#[command(
    after_help = "OUT ends in .npy, .tif or .csv; a name without ending becomes a folder with one file a frame. \
                        Values are written as they are: no law is applied."
)]
pub(super) struct ConvertArgs {
    /// Frame file or folder of frames.
    #[arg(value_name = "IN")]
    from: PathBuf,
    /// File or folder that does not exist yet.
    #[arg(value_name = "OUT")]
    to: PathBuf,
    #[command(flatten)]
    pub(super) reading: Reading,
}

pub(super) fn run(args: &ConvertArgs, console: &Console) -> anyhow::Result<Outcome> {
    if args.to.exists() {
        return Err(BadInput::at(&args.to, "", "already exists", "give another name, or remove it first"));
    }
    let recording = read::open(&args.from, &args.reading.options(), console)?;
    write::write(&recording, &args.to, console)?;
    console.clear();
    for note in &recording.notes {
        console.warn(&format!("{}: {note}", args.from.display()));
    }
    let shape = recording.samples.shape();
    writeln!(
        io::stdout().lock(),
        "{}: {} frames of {} x {} pixels written to {}",
        args.from.display(),
        shape.frames,
        shape.width_px,
        shape.height_px,
        args.to.display()
    )?;
    Ok(Outcome::Done)
}
