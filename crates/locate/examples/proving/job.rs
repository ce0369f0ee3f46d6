//! One board: build it, locate, compare with the truth.

use std::time::Instant;

use joulemark_frames::NoProgress;
use joulemark_locate::{
    Located, Scene, Settings,
    align::Alignment,
    locate,
    report::Report,
    simulate::proving::{self, Kind, ProvingBoard},
};

use crate::{board, record::Record, rivals};

/// A board to be done.
#[derive(Clone, Debug)]
pub struct Job {
    /// What it shows.
    pub kind: Kind,
    /// Its seed.
    pub seed: u64,
}

impl Job {
    /// What tells it from all other jobs of the same program.
    pub fn key(&self) -> String {
        format!("{} #{}", self.kind, self.seed)
    }

    /// Columns and rows of its picture.
    pub fn picture_size(&self) -> (usize, usize) {
        proving::picture_size(self.kind, self.seed)
    }

    /// Builds and locates.
    pub fn run(&self) -> Record {
        let started = Instant::now();
        let made = proving::build(self.kind, self.seed);
        let simulate_s = started.elapsed().as_secs_f64();
        let started = Instant::now();
        let mut record = Record { simulate_s, ..board::facts(&made) };
        match locate_board(&made, &Settings::default()) {
            Ok((alignment, located)) => {
                record.locate_s = started.elapsed().as_secs_f64();
                judge(&made, &located, &mut record);
                rivals::judge(&made, &alignment, &mut record);
            }
            Err(error) => record.error = Some(error.to_string()),
        }
        record
    }
}

/// Aligns by the marked pairs and locates.
pub fn locate_board(
    made: &ProvingBoard,
    settings: &Settings,
) -> Result<(Alignment, Located), Box<dyn std::error::Error>> {
    let alignment = Alignment::fit(&made.simulated.pairs)?;
    let scene = Scene {
        board: &made.board,
        face: &made.face,
        rail: &made.rail,
        alignment: &alignment,
        lead_ohms: made.lead_ohms,
        injection_mm: made.injection_mm,
    };
    let located = locate(&made.simulated.take, &scene, settings, &NoProgress)?;
    Ok((alignment, located))
}

fn judge(made: &ProvingBoard, located: &Located, record: &mut Record) {
    let report = Report::from(located);
    let truth = made.simulated.truth.part.as_deref();
    record.hot_spots = located.hot_spots.len();
    record.false_spots = located.hot_spots.iter().filter(|s| !board::explained(made, s.centre_mm)).count();
    record.rank = report.suspects.iter().position(|s| Some(s.part.as_str()) == truth).map(|i| i + 1);
    record.first = report.suspects.first().map(|s| s.part.clone());
    record.first_probability = report.suspects.first().map(|s| s.probability);
    record.most_probability = report.suspects.iter().map(|s| s.probability).fold(0.0, f64::max);
    record.explained_share = report.explained_share;
    record.warnings = report.warnings;
    if let (Some(spot), Some(px), Some(mm)) =
        (located.hot_spots.first(), made.simulated.truth.centre_px, made.simulated.truth.centre_mm)
    {
        record.off_px = Some((spot.centre_px - px).norm());
        record.off_mm = Some((spot.centre_mm - mm).norm());
    }
    if let Some(spot) = located.hot_spots.first() {
        record.blames = made.blames_the_disturbance(record.first.as_deref(), spot.centre_px, spot.centre_mm);
    }
}
