//! The proving run: simulated boards over tiers of size, located and counted against the truth. Every figure is a
//! simulated one.
//!
//! `cargo run --release -p joulemark-locate --example proving -- --boards 2000`
//!
//! Finished boards are kept in `target/proving`, one line each, and not done again by the same program: a run that was
//! broken off goes on where it stopped, a rebuilt program begins anew.

mod board;
mod job;
mod position;
mod queue;
mod record;
mod reliability;
mod rivals;
mod store;
mod summary;
mod tables;

use std::{path::PathBuf, process::ExitCode};

use clap::Parser;
use joulemark_locate::simulate::proving::{Disturbance, Kind, Nuisance, Tier};

use job::Job;
use record::Record;

/// Command line.
#[derive(Parser)]
struct Arguments {
    /// Boards over all tiers together.
    #[arg(long, default_value_t = 0)]
    boards: u64,
    /// Blank boards for each nuisance, step and pulsed.
    #[arg(long, default_value_t = 0)]
    blanks: u64,
    /// Boards for each disturbance.
    #[arg(long, default_value_t = 0)]
    disturbances: u64,
    /// Boards with a shiny culprit, and as many with a warm feeding track.
    #[arg(long, default_value_t = 0)]
    special: u64,
    /// Boards for each kind of the ablation: every repair switched off in turn.
    #[arg(long, default_value_t = 0)]
    ablation: u64,
    /// Scenes for the position error against its bound, twenty recordings each.
    #[arg(long, default_value_t = 0)]
    position: u64,
    /// First seed. Boards that probabilities were fitted on have other seeds than boards that they are tested on.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Only kinds whose name contains this.
    #[arg(long)]
    only: Option<String>,
    /// Folder for finished boards.
    #[arg(long, default_value = "target/proving")]
    out: PathBuf,
    /// Boards done at a time; as many as processors unless told.
    #[arg(long)]
    threads: Option<usize>,
    /// Lists every board that went wrong.
    #[arg(long)]
    list: bool,
}

fn main() -> ExitCode {
    match Arguments::parse().run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

impl Arguments {
    fn run(&self) -> Result<(), Box<dyn std::error::Error>> {
        if self.boards > 0 {
            let kinds = Tier::ALL.map(Kind::Tier);
            let each = self.boards.div_ceil(self.chosen(&kinds).len().max(1) as u64);
            let records = self.records("tiers", &kinds, each, false)?;
            tables::tiers(&records);
            reliability::print(&records);
            summary::tiers(&records);
        }
        if self.blanks > 0 {
            let kinds: Vec<Kind> = [false, true]
                .into_iter()
                .flat_map(|pulsed| Nuisance::ALL.map(|nuisance| Kind::Blank { nuisance, pulsed }))
                .collect();
            tables::blanks(&self.records("blanks", &kinds, self.blanks, false)?);
        }
        if self.disturbances > 0 {
            let kinds = Disturbance::ALL.map(Kind::Disturbed);
            tables::disturbances(&self.records("disturbances", &kinds, self.disturbances, false)?);
        }
        if self.special > 0 {
            let kinds = [Kind::Shiny, Kind::FeedPath];
            tables::special(&self.records("special", &kinds, self.special, false)?);
        }
        if self.ablation > 0 {
            tables::ablation(&self.records("ablation", &ablated_kinds(), self.ablation, true)?);
        }
        if self.position > 0 {
            let scenes = (self.seed..self.seed + self.position).map(|seed| position::Scatter { seed }).collect();
            position::print(&queue::work("position", scenes, &self.out, self.threads)?);
        }
        Ok(())
    }

    fn chosen(&self, kinds: &[Kind]) -> Vec<Kind> {
        let named = |kind: &&Kind| self.only.as_ref().is_none_or(|only| kind.to_string().contains(only.as_str()));
        kinds.iter().filter(named).copied().collect()
    }

    /// Equally many boards of each kind, kinds taking turns.
    fn records(
        &self,
        what: &str,
        kinds: &[Kind],
        each: u64,
        ablated: bool,
    ) -> Result<Vec<Record>, Box<dyn std::error::Error>> {
        let kinds = self.chosen(kinds);
        let jobs = (self.seed..self.seed + each)
            .flat_map(|seed| kinds.iter().map(move |&kind| Job { kind, seed, ablated }))
            .collect();
        let records = queue::work(what, jobs, &self.out, self.threads)?;
        if self.list {
            tables::failures(&records);
        }
        tables::errors(&records);
        Ok(records)
    }
}

/// Blanks with everything at once, for what a repair saves, and faults, for what it costs.
fn ablated_kinds() -> Vec<Kind> {
    let blanks = [false, true].map(|pulsed| Kind::Blank { nuisance: Nuisance::All, pulsed });
    let faults = [Tier::Medium, Tier::Faint, Tier::Pulsed].map(Kind::Tier);
    let disturbed = Disturbance::ALL.map(Kind::Disturbed);
    blanks.into_iter().chain(faults).chain(disturbed).collect()
}
