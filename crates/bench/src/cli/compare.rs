//! `joulemark compare`: the proof of a repair, from a take before and a take after; or a board against a good one.

mod words;

use std::{
    io::{self, Write as _},
    path::PathBuf,
};

use clap::Args;
use joulemark_locate::repair_check::{self, Bench, Report, Side};

use super::{Console, Outcome, Reading};
use crate::{
    case::{
        BadInput, CaseFolder,
        told::{self, Told},
    },
    picture::{
        self,
        compare::{Compared, Shown},
    },
};

/// Compare a take before a repair with a take after it.
#[derive(Clone, Debug, Args)]
pub(super) struct CompareArgs {
    /// Case folder.
    case: PathBuf,
    /// The take before.
    #[arg(long, value_name = "TAKE")]
    before: String,
    /// The take after; the newest when left out.
    #[arg(long, value_name = "TAKE")]
    after: Option<String>,
    /// Case folder of the take after, where that is another device of the same board model.
    #[arg(long, value_name = "CASE")]
    after_case: Option<PathBuf>,
    /// Resistance of the rail to ground before, meter leads taken off; OL when open.
    #[arg(long, value_name = "R", value_parser = ohms)]
    ohms_before: Option<f64>,
    /// The same after.
    #[arg(long, value_name = "R", value_parser = ohms)]
    ohms_after: Option<f64>,
    /// Diode reading before, in volts, red on ground.
    #[arg(long, value_name = "V")]
    diode_before: Option<f64>,
    /// The same after.
    #[arg(long, value_name = "V")]
    diode_after: Option<f64>,
    /// A part that was lifted or replaced in between; may be given more than once.
    #[arg(long, value_name = "PART")]
    repaired: Vec<String>,
    /// Case folder of a good board of the same model, powered up alike and filmed at the same volts: says which parts warm more on this one. Proves
    /// no repair.
    #[arg(long, value_name = "CASE", conflicts_with_all = ["after_case", "repaired", "ohms_before", "ohms_after", "diode_before", "diode_after"])]
    good_board: Option<PathBuf>,
    /// Also write a picture: before, after and their difference in board millimetres.
    #[arg(long, value_name = "PNG")]
    picture: Option<PathBuf>,
    /// Print the joulemark.compare/1 document instead of words.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    pub(super) reading: Reading,
}

fn ohms(text: &str) -> Result<f64, String> {
    if text.eq_ignore_ascii_case("OL") {
        return Ok(f64::INFINITY);
    }
    match text.replace(',', ".").parse::<f64>() {
        Ok(v) if v.is_finite() && v >= 0.0 => Ok(v),
        _ => Err("zero or more ohms, or OL".to_owned()),
    }
}

fn told(folder: &CaseFolder, take: Option<&str>, args: &CompareArgs, console: &Console) -> anyhow::Result<Told> {
    let mut source = folder.source(folder.take(take)?);
    source.mask_nan = args.reading.mask_nan;
    source.memory_mib = args.reading.memory_mib;
    Told::of(&source, console)
}

pub(super) fn run(args: &CompareArgs, console: &Console) -> anyhow::Result<Outcome> {
    if let Some(out) = &args.picture {
        picture::check_name(out)?;
    }
    let first = CaseFolder::open_told(&args.case)?;
    let second = args.after_case.as_deref().or(args.good_board.as_deref()).map(CaseFolder::open_told).transpose()?;
    let folder = second.as_ref().unwrap_or(&first);
    if second.is_none() && args.after.as_deref().unwrap_or(&folder.take(None)?.name) == args.before {
        return Err(BadInput::at(
            &first.file(),
            format!("take '{}'", args.before),
            "cannot be compared with itself",
            "give --after TAKE, a take that was filmed later",
        ));
    }
    let before = told(&first, Some(&args.before), args, console)?;
    let after = told(folder, args.after.as_deref(), args, console)?;
    if before.loaded.board.name != after.loaded.board.name {
        return Err(BadInput::at(
            &folder.file(),
            "board",
            format!("'{}' is not '{}'", after.loaded.board.name, before.loaded.board.name),
            "compare devices of the same board model",
        ));
    }
    let (before_scene, after_scene) = (before.loaded.scene(), after.loaded.scene());
    let sides = [
        Side { located: &before.located, scene: &before_scene, timeline: &before.loaded.take.timeline },
        Side { located: &after.located, scene: &after_scene, timeline: &after.loaded.take.timeline },
    ];
    let names = [before.located.take.as_str(), after.located.take.as_str()];
    let shown = before.loaded.board.face(&before.located.face).map(|face| Shown {
        board: &before.loaded.board,
        face,
        rail: &before.loaded.rail,
        simulated: before.loaded.simulated || after.loaded.simulated,
    });
    let draw = |picture: &dyn Fn(Shown<'_>, &std::path::Path) -> anyhow::Result<()>| match (&args.picture, shown) {
        (Some(out), Some(shown)) => picture(shown, out),
        _ => Ok(()),
    };
    console.clear();
    for warning in before.located.warnings.iter().chain(&after.located.warnings) {
        console.warn(warning);
    }
    let (report, words) = if args.good_board.is_some() {
        let found = repair_check::against_good(&sides[0], &sides[1]);
        draw(&|shown, out| Compared::against_good(shown, &found, names).write(out))?;
        (Report::against_good(&found, names[0], names[1]), words::against_good(&found, names))
    } else {
        let check = repair_check::check(&sides[0], &sides[1], &bench(args, &first, second.as_ref())?);
        draw(&|shown, out| Compared::repair(shown, &check, names).write(out))?;
        (Report::new(&check, names[0], names[1]), words::repair(&check, names))
    };
    let text = if args.json { serde_json::to_string_pretty(&report)? + "\n" } else { words };
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(Outcome::Done)
}

/// What was done and measured: from the case by the stage that each take was filmed at, flags first.
fn bench(args: &CompareArgs, first: &CaseFolder, second: Option<&CaseFolder>) -> anyhow::Result<Bench> {
    let before = first.take(Some(&args.before))?.after;
    let after = second.unwrap_or(first).take(args.after.as_deref())?.after;
    let known = told::bench(&first.case, before, second.map(|s| &s.case), after);
    Ok(Bench {
        ohms_before: args.ohms_before.or(known.ohms_before),
        ohms_after: args.ohms_after.or(known.ohms_after),
        diode_before: args.diode_before.or(known.diode_before),
        diode_after: args.diode_after.or(known.diode_after),
        repaired: if args.repaired.is_empty() { known.repaired } else { args.repaired.clone() },
        ..known
    })
}
