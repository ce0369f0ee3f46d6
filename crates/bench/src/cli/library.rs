//! `joulemark library`: the shop's cases, searched, counted and exported.

use std::{
    io::{self, Write as _},
    path::PathBuf,
};

use clap::{Args, Subcommand};
use serde::Serialize;

use super::{Console, Outcome, exit};
use crate::{
    case::BadInput,
    library::{Found, Library, Place, Query, earlier::CulpritCount, export::What},
};

mod words;

/// The shop's library: all cases in one folder.
#[derive(Clone, Debug, Args)]
pub(super) struct LibraryArgs {
    #[command(subcommand)]
    command: Command,
    /// The folder that holds the case folders; else JOULEMARK_LIBRARY, else the settings.
    #[arg(long, value_name = "FOLDER", global = true)]
    library: Option<PathBuf>,
    /// PostgreSQL server that keeps the index; else JOULEMARK_LIBRARY_INDEX, else the settings, else a file on this machine.
    #[arg(long, value_name = "URL", global = true)]
    index: Option<String>,
    /// Print JSON instead of words.
    #[arg(long, global = true)]
    json: bool,
}

#[derive(Clone, Debug, Subcommand)]
enum Command {
    /// List all cases, the newest first.
    List,
    /// Find cases: free words, and model: rail: part: symptom: verdict: from: to: state:waiting.
    Search {
        /// All of them must be met; quotes keep some together, as in verdict:"still there".
        #[arg(required = true)]
        words: Vec<String>,
    },
    /// Throw the index away and read every case.
    Rebuild,
    /// What was learnt of a board model: faults by rail and part, and what good boards read.
    Learnt {
        /// The board model, as in its cases.
        model: String,
    },
    /// What waits for sign-off, verdicts, minutes, parts used, comebacks.
    Summary {
        /// Only of the cases that these words find, as in search.
        words: Vec<String>,
    },
    /// Write CSV.
    Export {
        /// The file.
        out: PathBuf,
        /// What to write.
        #[arg(long, value_enum, default_value_t)]
        what: What,
        /// Only cases that these words find, as in search.
        #[arg(long, value_name = "WORDS", default_value = "")]
        only: String,
    },
    /// Compare the index with the cases, and try to read every case. Changes nothing.
    Check,
}

pub(super) fn run(args: &LibraryArgs, console: &Console) -> anyhow::Result<Outcome> {
    let place = Place::find(args.library.as_deref(), args.index.as_deref())?.ok_or_else(|| {
        BadInput::flag("library", "no library is set", "give --library FOLDER, or set library.folder in the settings")
    })?;
    // A wrong search is said before anything is read.
    let query = match &args.command {
        Command::Search { words } | Command::Summary { words } => Query::parse(&joined(words))?,
        Command::Export { only, out, .. } => {
            // The file is replaced when it exists; a case or a recording given by a slip of the hand must not be.
            if !out.extension().is_some_and(|e| e.eq_ignore_ascii_case("csv")) {
                return Err(BadInput::at(out, "", "the table is written as CSV", "give a name that ends in .csv"));
            }
            Query::parse(only)?
        }
        _ => Query::default(),
    };
    let mut library = Library::open(place)?;
    match &args.command {
        Command::Rebuild => {
            let done = library.rebuild()?;
            return print(
                args,
                &serde_json::json!({ "cases": done.cases, "read": done.read, "gone": done.gone }),
                || format!("{} read, {} forgotten\n", words::cases(done.read), done.gone),
            );
        }
        Command::Check => return check(args, &mut library),
        _ => library.refresh()?,
    };
    match &args.command {
        Command::List | Command::Search { .. } => {
            let found = library.cases(&query)?;
            for (folder, fault) in faults(&found) {
                console.warn(&format!("{folder} cannot be read: {fault}"));
            }
            print(args, &found, || words::table(&found))?;
            Ok(if found.is_empty() { Outcome::NothingFound } else { Outcome::Done })
        }
        Command::Learnt { model } => {
            let learnt = library.learnt(model, None)?;
            let counts: Vec<CulpritCount> = learnt.counts();
            let document = serde_json::json!({
                "model": learnt.model,
                "cases": learnt.cases,
                "culprits": counts,
                "good_readings": learnt.good_readings,
            });
            print(args, &document, || words::learnt(model, &learnt))?;
            Ok(if learnt.cases == 0 { Outcome::NothingFound } else { Outcome::Done })
        }
        Command::Summary { .. } => {
            let summary = library.summary(&query)?;
            print(args, &summary, || words::summary(&summary))
        }
        Command::Export { out, what, .. } => {
            let rows = library.export(*what, &query, out)?;
            print(args, &serde_json::json!({ "rows": rows }), || {
                format!("{} written to {}\n", words::rows(rows), out.display())
            })
        }
        Command::Rebuild | Command::Check => Ok(Outcome::Done),
    }
}

/// A shell takes the quotes off `verdict:"still there"`; they are put back, so that both ways of typing mean the same.
fn joined(words: &[String]) -> String {
    words.iter().map(|w| if w.contains(' ') { format!("\"{w}\"") } else { w.clone() }).collect::<Vec<_>>().join(" ")
}

fn faults(found: &[Found]) -> impl Iterator<Item = (&str, &str)> {
    found.iter().filter_map(|f| Some((f.row.folder.as_str(), f.row.fault.as_deref()?)))
}

fn check(args: &LibraryArgs, library: &mut Library) -> anyhow::Result<Outcome> {
    let check = library.check()?;
    let document = serde_json::json!({
        "cases": check.cases,
        "missing": check.missing,
        "changed": check.changed,
        "gone": check.gone,
        "faults": check.faults,
    });
    print(args, &document, || words::check(&check))?;
    for (_, fault) in &check.faults {
        exit::tell(&anyhow::anyhow!("{fault}"));
    }
    Ok(if check.faults.is_empty() { Outcome::Done } else { Outcome::BadInputTold })
}

fn print<T: Serialize>(args: &LibraryArgs, document: &T, words: impl FnOnce() -> String) -> anyhow::Result<Outcome> {
    let text = if args.json { serde_json::to_string_pretty(document)? + "\n" } else { words() };
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(Outcome::Done)
}
