//! The command line. Results go to stdout, progress and warnings to stderr; exit codes are in `exit`.

mod compare;
mod console;
mod convert;
mod exercise;
mod exit;
mod handout;
mod inspect;
mod library;
mod locate;
mod plan;
mod practice;
mod report;
mod words;

use std::{path::PathBuf, process::ExitCode};

use clap::{Args, Parser, Subcommand, ValueEnum};
use joulemark_frames::read::ReadOptions;

use crate::case::{BadInput, load::MEMORY_MIB, settings::Paper};
use console::Console;

/// Finds the part that shorts a supply rail, from a thermal recording of the board.
#[derive(Debug, Parser)]
#[command(
    version,
    args_conflicts_with_subcommands = true,
    after_help = "Exit codes: 0 done; 1 internal fault; 2 bad input; 3 nothing above the noise; 130 cancelled."
)]
struct Cli {
    /// Case folder to open in the window; without one the bundled practice case opens.
    case: Option<PathBuf>,
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    Locate(Box<locate::LocateArgs>),
    Plan(Box<plan::PlanArgs>),
    Compare(Box<compare::CompareArgs>),
    Report(Box<report::ReportArgs>),
    Handout(Box<handout::HandoutArgs>),
    Inspect(inspect::InspectArgs),
    Convert(convert::ConvertArgs),
    Practice(practice::PracticeArgs),
    Exercise(exercise::ExerciseArgs),
    Library(library::LibraryArgs),
}

/// Choices about reading frames and talking on stderr, the same for every command that does so.
#[derive(Clone, Debug, Args)]
struct Reading {
    /// Treat pixels that are not a number as absent, instead of refusing the recording.
    #[arg(long)]
    mask_nan: bool,
    /// Most memory that the frames may take, in MiB.
    #[arg(long, value_name = "N", default_value_t = MEMORY_MIB)]
    memory_mib: u64,
    /// No progress on stderr; warnings and errors stay.
    #[arg(long)]
    quiet: bool,
}

impl Reading {
    fn options(&self) -> ReadOptions {
        ReadOptions { memory_limit_bytes: self.memory_mib.saturating_mul(1 << 20), mask_not_a_number: self.mask_nan }
    }
}

/// Size of a page, where it is not the one in the settings.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum PaperName {
    A4,
    Letter,
}

impl From<PaperName> for Paper {
    fn from(name: PaperName) -> Self {
        match name {
            PaperName::A4 => Self::A4,
            PaperName::Letter => Self::Letter,
        }
    }
}

/// How a command that did not fail ended.
enum Outcome {
    Done,
    NothingFound,
    /// Some input was bad; each fault has been told already.
    BadInputTold,
}

/// Parses the arguments, runs the command and turns its end into an exit code.
pub fn main() -> ExitCode {
    exit::guard(|| {
        let cli = match Cli::try_parse() {
            Ok(cli) => cli,
            Err(stop) => return exit::from_clap(&stop),
        };
        exit::from_result(run(cli))
    })
}

fn run(cli: Cli) -> anyhow::Result<Outcome> {
    match cli.command {
        None => window(cli.case),
        Some(Command::Locate(args)) => {
            let console = Console::new(args.reading.quiet);
            locate::run(&args, &console)
        }
        Some(Command::Plan(args)) => {
            let console = Console::new(args.quiet);
            plan::run(&args, &console)
        }
        Some(Command::Compare(args)) => {
            let console = Console::new(args.reading.quiet);
            compare::run(&args, &console)
        }
        Some(Command::Report(args)) => {
            let console = Console::new(args.reading.quiet);
            report::run(&args, &console)
        }
        Some(Command::Handout(args)) => {
            let console = Console::new(args.reading.quiet);
            handout::run(&args, &console)
        }
        Some(Command::Inspect(args)) => {
            let console = Console::new(args.reading.quiet);
            inspect::run(&args, &console)
        }
        Some(Command::Convert(args)) => {
            let console = Console::new(args.reading.quiet);
            convert::run(&args, &console)
        }
        Some(Command::Practice(args)) => {
            let console = Console::new(args.quiet);
            practice::run(&args, &console)
        }
        Some(Command::Exercise(args)) => {
            let console = Console::new(args.quiet);
            exercise::run(&args, &console)
        }
        Some(Command::Library(args)) => {
            let console = Console::new(false);
            library::run(&args, &console)
        }
    }
}

fn window(case: Option<PathBuf>) -> anyhow::Result<Outcome> {
    if let Some(path) = case.as_deref()
        && !path.exists()
    {
        return Err(BadInput::at(
            path,
            "",
            "neither a case nor a command",
            "give a case folder, or one of the commands that joulemark --help lists",
        ));
    }
    crate::window::run(case).map(|()| Outcome::Done)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_argument_definitions_hold_together() {
        use clap::CommandFactory;
        Cli::command().debug_assert();
    }

    #[test]
    fn a_case_and_loose_files_exclude_each_other() {
        assert!(Cli::try_parse_from(["joulemark", "locate", "case", "--frames", "x.tif"]).is_err());
        assert!(Cli::try_parse_from(["joulemark", "locate", "--frames", "x.tif"]).is_err());
        assert!(Cli::try_parse_from(["joulemark", "locate"]).is_err());
        assert!(Cli::try_parse_from(["joulemark", "locate", "case", "--take", "inject 1", "--json"]).is_ok());
        let loose = "joulemark locate --frames f --log l --board b --rail V --pairs p --inject-from auto --counts linear:0.04,-273.15";
        assert!(Cli::try_parse_from(loose.split(' ')).is_ok());
    }
}
