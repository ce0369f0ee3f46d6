//! `joulemark practice`: writes a simulated case whose truth is known.

use std::{
    io::{self, Write},
    path::PathBuf,
};

use clap::{
    Args,
    builder::{PossibleValuesParser, TypedValueParser},
};
use joulemark_locate::simulate::scenario::{self, Difficulty};

use super::{Console, Outcome, exercise};
use crate::{case::practice, exercise::make};

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
    /// Less noise, or less current with more noise and things that mislead; the board is the seed's.
    #[arg(long, value_name = "WORD", value_parser = difficulty(), default_value = "medium")]
    difficulty: Difficulty,
    /// Write an exercise instead: the same board with the answer sealed and nothing that tells it.
    #[arg(long)]
    exercise: bool,
    /// No progress on stderr; warnings and errors stay.
    #[arg(long)]
    pub(super) quiet: bool,
}

/// A difficulty by its name.
pub(super) fn difficulty() -> impl TypedValueParser<Value = Difficulty> {
    PossibleValuesParser::new(Difficulty::ALL.map(Difficulty::name))
        .map(|name| Difficulty::ALL.into_iter().find(|d| d.name() == name).unwrap_or_default())
}

pub(super) fn run(args: &PracticeArgs, console: &Console) -> anyhow::Result<Outcome> {
    if args.exercise {
        let id = make::make_practice(&args.scenario, args.seed, args.difficulty, "", &args.dir, console)?;
        return exercise::written(&id, &args.dir, console);
    }
    let case = practice::write_case(&args.scenario, args.seed, args.difficulty, &args.dir, console)?;
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
