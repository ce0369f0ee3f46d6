//! `joulemark practice`: writes a simulated case whose truth is known.

use std::{
    io::{self, Write},
    path::PathBuf,
};

use clap::{Args, builder::PossibleValuesParser};
use joulemark_locate::simulate::scenario;

use super::{Console, Outcome, exercise};
use crate::{
    case::{exercise::Difficulty, practice},
    exercise::make,
};

/// Write a simulated case whose truth is known, for learning.
#[derive(Clone, Debug, Args)]
pub(super) struct PracticeArgs {
    /// Which scenario, easiest first.
    #[arg(value_parser = PossibleValuesParser::new(scenario::NAMES))]
    scenario: String,
    /// New or empty folder.
    dir: PathBuf,
    /// Another seed, another board: layout, culprit, camera and noise.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// How hard it is; as the scenario comes when left out.
    #[arg(long, value_enum)]
    difficulty: Option<Difficulty>,
    /// Write an exercise instead: the same board with the answer sealed and nothing that tells it.
    #[arg(long)]
    exercise: bool,
    /// No progress on stderr; warnings and errors stay.
    #[arg(long)]
    pub(super) quiet: bool,
}

pub(super) fn run(args: &PracticeArgs, console: &Console) -> anyhow::Result<Outcome> {
    if args.exercise {
        let id = make::make_practice(&args.scenario, args.seed, args.difficulty, &args.dir, console)?;
        return exercise::written(&id, &args.dir, console);
    }
    let case = practice::write_graded(&args.scenario, args.seed, args.difficulty, &args.dir, console)?;
    console.clear();
    let dir = args.dir.display();
    writeln!(
        io::stdout().lock(),
        "{}\n\n{}\n\nSimulated practice case written to {dir}. Next: joulemark locate {dir}",
        case.title,
        case.story
    )?;
    Ok(Outcome::Done)
}
