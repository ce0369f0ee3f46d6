//! One board: build it, locate, compare with the truth.

use std::{
    panic::{self, AssertUnwindSafe},
    time::Instant,
};

use joulemark_frames::NoProgress;
use joulemark_locate::{
    Located, Repairs, Settings,
    align::Alignment,
    locate,
    simulate::proving::{self, Kind, ProvingBoard},
};

use crate::{
    board,
    queue::Task,
    record::{Outcome, Record},
    rivals,
};

/// A switch of [`Repairs`].
type Switch = fn(&mut Repairs) -> &mut bool;

/// Every switch by its name.
pub const SWITCHES: [(&str, Switch); 10] = [
    ("pixels", |r| &mut r.pixels),
    ("stripes", |r| &mut r.stripes),
    ("motion", |r| &mut r.motion),
    ("pauses", |r| &mut r.pauses),
    ("level", |r| &mut r.level),
    ("drift", |r| &mut r.drift),
    ("log_lag", |r| &mut r.log_lag),
    ("reflection", |r| &mut r.reflection),
    ("other_causes", |r| &mut r.other_causes),
    ("power_bound", |r| &mut r.power_bound),
];

/// A board to be done.
#[derive(Clone, Debug)]
pub struct Job {
    /// What it shows.
    pub kind: Kind,
    /// Its seed.
    pub seed: u64,
    /// Whether it is located again with each repair switched off.
    pub ablated: bool,
}

impl Task for Job {
    type Done = Record;

    fn key(&self) -> String {
        format!("{}{} #{}", if self.ablated { "ablated " } else { "" }, self.kind, self.seed)
    }

    fn pixels(&self) -> usize {
        let (width, height) = proving::picture_size(self.kind, self.seed);
        width * height
    }

    fn run(&self) -> Record {
        let started = Instant::now();
        let made = proving::build(self.kind, self.seed);
        let simulate_s = started.elapsed().as_secs_f64();
        let mut record = Record { simulate_s, ..board::facts(&made) };
        // One board that breaks the program must not take hours of others with it.
        match panic::catch_unwind(AssertUnwindSafe(|| fill(&made, self.ablated, &mut record))) {
            Ok(Ok(())) => {}
            Ok(Err(error)) => record.error = Some(error.to_string()),
            Err(_) => record.error = Some("locate panicked".into()),
        }
        record
    }
}

fn fill(made: &ProvingBoard, ablated: bool, record: &mut Record) -> Result<(), Box<dyn std::error::Error>> {
    let alignment = Alignment::fit(&made.simulated.pairs)?;
    rivals::judge(made, &alignment, record);
    let started = Instant::now();
    record.outcome = outcome(made, &alignment, &Settings::default())?;
    record.locate_s = started.elapsed().as_secs_f64();
    for (name, switch) in SWITCHES.iter().filter(|_| ablated) {
        let mut settings = Settings::default();
        *switch(&mut settings.repairs) = false;
        record.without.insert((*name).to_owned(), outcome(made, &alignment, &settings)?);
    }
    Ok(())
}

fn outcome(
    made: &ProvingBoard,
    alignment: &Alignment,
    settings: &Settings,
) -> Result<Outcome, Box<dyn std::error::Error>> {
    Ok(board::judge(made, &locate_board(made, alignment, settings)?))
}

/// Locates as a user would.
pub fn locate_board(
    made: &ProvingBoard,
    alignment: &Alignment,
    settings: &Settings,
) -> Result<Located, Box<dyn std::error::Error>> {
    Ok(locate(&made.simulated.take, &made.scene(alignment), settings, &NoProgress)?)
}
