//! The proving run: simulated boards over tiers of size, located and counted against the truth. Every figure is a
//! simulated one.
//!
//! `cargo run --release -p joulemark-locate --example proving -- --boards 2000`
//!
//! Finished boards are kept in `target/proving`, one line each, and not done again by the same program: a run that was
//! broken off goes on where it stopped, a rebuilt program begins anew.

mod board;
mod job;
mod queue;
mod record;
mod rivals;
mod store;
mod tables;

use std::{path::PathBuf, process::ExitCode, sync::Mutex, thread};

use clap::Parser;
use indicatif::{ProgressBar, ProgressStyle};
use joulemark_locate::simulate::proving::{Kind, Tier};

use job::Job;
use queue::Queue;
use record::Record;
use store::Store;

/// Command line.
#[derive(Parser)]
struct Arguments {
    /// Boards over all tiers together.
    #[arg(long, default_value_t = 0)]
    boards: u64,
    /// First seed; boards that probabilities are fitted on use other seeds than boards that they are tested on.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Only kinds whose name contains this.
    #[arg(long)]
    only: Option<String>,
    /// Folder for finished boards.
    #[arg(long, default_value = "target/proving")]
    out: PathBuf,
    /// Boards done at a time.
    #[arg(long)]
    threads: Option<usize>,
    /// Lists every board that went wrong.
    #[arg(long)]
    list: bool,
}

fn main() -> ExitCode {
    match run(&Arguments::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn run(arguments: &Arguments) -> Result<(), Box<dyn std::error::Error>> {
    let wanted = |kind: &Kind| arguments.only.as_ref().is_none_or(|only| kind.to_string().contains(only.as_str()));
    let tiers: Vec<Kind> = Tier::ALL.map(Kind::Tier).into_iter().filter(wanted).collect();
    let jobs = spread(&tiers, arguments.boards, arguments.seed);
    let records = work(jobs, arguments)?;
    if arguments.list {
        tables::failures(&records);
    }
    tables::tiers(&records);
    Ok(())
}

/// An equal number of boards of each kind, kinds taking turns.
fn spread(kinds: &[Kind], boards: u64, seed: u64) -> Vec<Job> {
    let each = if kinds.is_empty() { 0 } else { boards.div_ceil(kinds.len() as u64) };
    (seed..seed + each).flat_map(|seed| kinds.iter().map(move |&kind| Job { kind, seed })).collect()
}

/// Does what is not done yet, and returns the records of all jobs in their order.
fn work(jobs: Vec<Job>, arguments: &Arguments) -> Result<Vec<Record>, Box<dyn std::error::Error>> {
    let store = Store::open(&arguments.out)?;
    let mut known: Vec<Option<Record>> = jobs.iter().map(|job| store.get(&job.key())).collect();
    let open: Vec<(usize, Job)> = jobs.into_iter().enumerate().filter(|(i, _)| known[*i].is_none()).collect();
    let bar = ProgressBar::new(open.len() as u64);
    bar.set_style(ProgressStyle::with_template("{pos}/{len} boards {wide_bar} {elapsed} gone, {eta} left")?);
    let threads = arguments.threads.or(thread::available_parallelism().ok().map(Into::into)).unwrap_or(1);
    let queue = Queue::new(open);
    let done = Mutex::new((Vec::new(), store));
    thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some((index, job)) = queue.next() {
                    let record = job.run();
                    queue.done(&job);
                    bar.inc(1);
                    if let Ok(mut done) = done.lock() {
                        if let Err(error) = done.1.add(&job.key(), &record) {
                            bar.println(format!("{error}"));
                        }
                        done.0.push((index, record));
                    }
                }
            });
        }
    });
    bar.finish_and_clear();
    for (index, record) in done.into_inner().map_err(|_| "a worker failed")?.0 {
        known[index] = Some(record);
    }
    Ok(known.into_iter().flatten().collect())
}
