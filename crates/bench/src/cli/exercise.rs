//! `joulemark exercise`: made of a case or made up, scored from flags or a table, collected in a class file.

mod answers;
mod words;

use std::{
    io::{self, Write},
    path::{Path, PathBuf},
};

use clap::{Args, Subcommand};

use self::answers::{Given, GivenFlags};
use super::{Console, Outcome, practice};
use crate::{
    case::{
        BadInput, CaseFolder, clock,
        exercise::{Difficulty, Exercise, HandIn},
        read_text,
    },
    exercise::{
        Answer,
        class::{self, Line, Summary},
        make::{self, Truth, Wish},
        score, seal,
    },
};

/// Exercises for a class: make one, score answers, collect results.
#[derive(Clone, Debug, Args)]
#[command(
    after_help = "The answer in an exercise is sealed: it is not read by accident or in an editor. Whoever has this program or \
                  its source can open it; it is no protection for an examination."
)]
pub(super) struct ExerciseArgs {
    #[command(subcommand)]
    command: Command,
    /// No progress on stderr; warnings and errors stay.
    #[arg(long, global = true)]
    pub(super) quiet: bool,
}

#[derive(Clone, Debug, Subcommand)]
enum Command {
    /// Make an exercise of a case whose fault is known.
    Make {
        /// Case folder.
        case: PathBuf,
        /// New or empty folder.
        dir: PathBuf,
        /// The part at fault, where the case does not know it; may be given more than once.
        #[arg(long, value_name = "DESIGNATOR")]
        part: Vec<String>,
        /// Nothing is wrong with this board.
        #[arg(long, conflicts_with = "part")]
        nothing_wrong: bool,
        /// Which take; the newest one before anything was done to the board when left out.
        #[arg(long, value_name = "NAME")]
        take: Option<String>,
        /// The task as Markdown, instead of the standard one.
        #[arg(long, value_name = "FILE.md")]
        task: Option<PathBuf>,
        /// Where hand-ins are collected, from the exercise's folder.
        #[arg(long, value_name = "CLASS.csv", default_value = "")]
        class: String,
    },
    /// Make up an exercise; which scenario it is, the seed decides and nobody is told.
    New {
        /// New or empty folder.
        dir: PathBuf,
        /// How hard it is.
        #[arg(long, value_name = "WORD", value_parser = practice::difficulty(), default_value = "medium")]
        difficulty: Difficulty,
        /// The same seed gives the same board; any when left out.
        #[arg(long, value_name = "N")]
        seed: Option<u64>,
        /// Where hand-ins are collected, from the exercise's folder.
        #[arg(long, value_name = "CLASS.csv", default_value = "")]
        class: String,
    },
    /// Score answers. Flags give one, a table gives one a line.
    Score(Box<ScoreArgs>),
    /// What a class handed in, from a class file.
    Class {
        /// The class file.
        file: PathBuf,
        /// Also write all columns in clear.
        #[arg(long, value_name = "OUT.csv")]
        csv: Option<PathBuf>,
        /// Print the joulemark.exercise-class/1 document instead of words.
        #[arg(long)]
        json: bool,
    },
}

#[derive(Clone, Debug, Args)]
struct ScoreArgs {
    /// The exercise's folder.
    dir: PathBuf,
    /// Answers as a table: student,rail,nothing_wrong,volts,amps,seconds,face,x_mm,y_mm,part,looks.
    #[arg(long, value_name = "ANSWERS.csv")]
    answer: Option<PathBuf>,
    #[command(flatten)]
    flags: GivenFlags,
    /// Append the result to this class file.
    #[arg(long, value_name = "CLASS.csv")]
    class: Option<PathBuf>,
    /// Print the joulemark.exercise-score/1 document instead of words.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &ExerciseArgs, console: &Console) -> anyhow::Result<Outcome> {
    match &args.command {
        Command::Make { case, dir, part, nothing_wrong, take, task, class } => {
            let truth = match (nothing_wrong, part.is_empty()) {
                (true, _) => Truth::NothingWrong,
                (false, false) => Truth::Parts(part.clone()),
                (false, true) => Truth::Known,
            };
            let task = task.as_deref().map(read_text).transpose()?;
            let wish = Wish { take: take.clone(), truth, task, class: class.clone(), difficulty: None };
            let id = make::make(&CaseFolder::open(case)?, dir, &wish, console)?;
            written(&id, dir, console)
        }
        Command::New { dir, difficulty, seed, class } => {
            let seed = seed.unwrap_or_else(seal::fresh_seed);
            let id = make::make_new(*difficulty, seed, class, dir, console)?;
            written(&id, dir, console)
        }
        Command::Score(args) => score_all(args),
        Command::Class { file, csv, json } => show_class(file, csv.as_deref(), *json, console),
    }
}

/// Says where an exercise was written.
pub(super) fn written(id: &str, dir: &Path, console: &Console) -> anyhow::Result<Outcome> {
    console.clear();
    let dir = dir.display();
    writeln!(
        io::stdout().lock(),
        "Exercise {id} written to {dir}. Students open it with: joulemark {dir}\n\
         The answer is sealed against reading by accident or in an editor, no more than that."
    )?;
    Ok(Outcome::Done)
}

/// The exercise of a folder with its answer.
fn opened(dir: &Path) -> anyhow::Result<(Exercise, Answer)> {
    let folder = CaseFolder::open(dir)?;
    let Some(exercise) = folder.case.exercise else {
        return Err(BadInput::at(
            dir,
            "",
            "this case is no exercise",
            "make one of it: joulemark exercise make CASE DIR",
        ));
    };
    let answer = Answer::open(&exercise, &folder.folder)?;
    Ok((exercise, answer))
}

fn score_all(args: &ScoreArgs) -> anyhow::Result<Outcome> {
    let (exercise, answer) = opened(&args.dir)?;
    let given: Vec<Given> = match &args.answer {
        Some(file) if args.flags.any() => {
            return Err(BadInput::at(file, "", "answers were given as flags too", "give one or the other"));
        }
        Some(file) => answers::read(file)?,
        None => vec![args.flags.given()?],
    };
    let known = match &args.class {
        Some(file) if file.exists() => class::read(file)?.lines,
        _ => Vec::new(),
    };
    let mut scored = Vec::new();
    for given in given {
        let score = score(&given.answers, given.looks, &answer);
        let before = |l: &&Line| l.student == given.student && l.exercise == exercise.id;
        let here = scored.iter().filter(|(g, _): &&(Given, _)| g.student == given.student).count();
        let attempt = known.iter().filter(before).count() + here + 1;
        if let Some(file) = &args.class {
            let hand_in = HandIn {
                time: clock::now(),
                student: given.student.clone(),
                answers: given.answers.clone(),
                looks: given.looks,
                points: score.points,
            };
            class::append(file, &Line::of(&exercise.id, attempt, &hand_in, &score, &answer))?;
        }
        scored.push((given, score));
    }
    let text = if args.json {
        let list = |(given, score): &(Given, _)| serde_json::json!({ "student": given.student, "score": score });
        let document = serde_json::json!({
            "schema": "joulemark.exercise-score/1",
            "exercise": exercise.id,
            "scored": scored.iter().map(list).collect::<Vec<_>>(),
        });
        serde_json::to_string_pretty(&document)? + "\n"
    } else {
        scored
            .iter()
            .map(|(given, score)| words::score(&exercise.id, &given.student, score))
            .collect::<Vec<_>>()
            .join("\n")
    };
    io::stdout().lock().write_all(text.as_bytes())?;
    Ok(Outcome::Done)
}

fn show_class(file: &Path, csv: Option<&Path>, json: bool, console: &Console) -> anyhow::Result<Outcome> {
    let class = class::read(file)?;
    if let Some(out) = csv {
        class::export(&class, out)?;
    }
    for fault in &class.faults {
        console.warn(fault);
    }
    let summary = Summary::of(&class.lines);
    let text = if json {
        let document = serde_json::json!({
            "schema": "joulemark.exercise-class/1",
            "summary": summary,
            "hand_ins": class.lines,
            "faults": class.faults,
        });
        serde_json::to_string_pretty(&document)? + "\n"
    } else {
        words::class(&class.lines, &summary)
    };
    io::stdout().lock().write_all(text.as_bytes())?;
    Ok(if class.lines.is_empty() { Outcome::NothingFound } else { Outcome::Done })
}
