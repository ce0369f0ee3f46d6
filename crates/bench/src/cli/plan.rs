//! `joulemark plan`: how many volts and amps may go into a rail, step by step. A refusal is an answer, not bad input.

use std::{
    io::{self, Write},
    path::{Path, PathBuf},
};

use clap::{Args, ValueEnum};
use joulemark_locate::{
    board::Board,
    limits::{Camera, Inputs, PlanReport, RailUse, Rules, plan},
};

use super::{Console, Outcome};
use crate::{
    bench_card,
    case::{
        BadInput, CaseFolder, atomic, board_file,
        books::{self, Books},
        read_text,
    },
};

/// Say how many volts and amps may go into a rail, step by step, and why.
#[derive(Clone, Debug, Args)]
#[command(
    after_help = "Give a case folder, or --board and --rail. What is not stated counts as unknown and makes the \
                        plan stricter. A plan that refuses says why and ends with exit code 0."
)]
pub(super) struct PlanArgs {
    /// Case folder.
    #[arg(required_unless_present = "board", conflicts_with = "board")]
    case: Option<PathBuf>,
    /// Board drawing, board.ron or board.json.
    #[arg(long, value_name = "BOARD", requires = "rail")]
    board: Option<PathBuf>,
    /// The rail; the case's own when left out.
    #[arg(long, value_name = "NAME")]
    rail: Option<String>,
    /// Resistance of the rail to ground, meter leads taken off.
    #[arg(long, value_name = "R", value_parser = above_zero)]
    ohms: Option<f64>,
    /// Resistance of both supply leads together, in ohms.
    #[arg(long, value_name = "R", value_parser = not_negative)]
    lead_ohms: Option<f64>,
    /// What the rail is for, where its volts do not say it.
    #[arg(long = "use", value_name = "USE", value_enum)]
    rail_use: Option<UseName>,
    /// Nominal volts; the drawing's when left out. May be negative.
    #[arg(long, value_name = "V", value_parser = number, allow_hyphen_values = true)]
    nominal_volts: Option<f64>,
    /// Lowest volts that the rail works at.
    #[arg(long, value_name = "V", value_parser = above_zero)]
    lowest_volts: Option<f64>,
    /// The most that the supply gives, in volts.
    #[arg(long, value_name = "V", value_parser = above_zero)]
    supply_volts: Option<f64>,
    /// The most that the supply gives, in amps.
    #[arg(long, value_name = "A", value_parser = above_zero)]
    supply_amps: Option<f64>,
    /// Noise of one pixel in one frame, in kelvin; for 9 frames a second and 45 frames before the current.
    #[arg(long, value_name = "K", value_parser = above_zero)]
    netd: Option<f64>,
    /// The shop's changes to the rules, instead of those in the folder for settings.
    #[arg(long, value_name = "FILE")]
    rules: Option<PathBuf>,
    /// Print the joulemark.plan/1 document instead of words.
    #[arg(long)]
    json: bool,
    /// Also write a one-page card for the bench, to print.
    #[arg(long, value_name = "OUT.html")]
    card: Option<PathBuf>,
    /// No progress on stderr; warnings and errors stay.
    #[arg(long)]
    pub(super) quiet: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum UseName {
    MainInput,
    System,
    Memory,
    Core,
    Signal,
}

impl From<UseName> for RailUse {
    fn from(name: UseName) -> Self {
        match name {
            UseName::MainInput => Self::MainInput,
            UseName::System => Self::System,
            UseName::Memory => Self::Memory,
            UseName::Core => Self::Core,
            UseName::Signal => Self::Signal,
        }
    }
}

fn number(text: &str) -> Result<f64, String> {
    text.parse().ok().filter(|v: &f64| v.is_finite()).ok_or_else(|| format!("'{text}' is not a number"))
}

fn above_zero(text: &str) -> Result<f64, String> {
    number(text).and_then(|v| if v > 0.0 { Ok(v) } else { Err(format!("{text} is not above zero")) })
}

fn not_negative(text: &str) -> Result<f64, String> {
    number(text).and_then(|v| if v >= 0.0 { Ok(v) } else { Err(format!("{text} is below zero")) })
}

pub(super) fn run(args: &PlanArgs, console: &Console) -> anyhow::Result<Outcome> {
    let rules = match &args.rules {
        Some(file) => shop_rules(file)?,
        None => {
            let books = Books::in_force();
            books.faults.iter().for_each(|fault| console.warn(fault));
            books.limits.clone()
        }
    };
    let mut inputs = match (&args.case, &args.board) {
        (Some(path), _) => of_case(&CaseFolder::open_told(path)?, args.rail.as_deref())?,
        (None, Some(file)) => of_drawing(file, &board_file::read(file)?, args.rail.as_deref().unwrap_or_default())?,
        (None, None) => return Err(BadInput::flag("--board", "missing", "give a case folder, or --board and --rail")),
    };
    state(&mut inputs, args);
    let plan = plan(&inputs, &rules);
    if let Some(out) = &args.card {
        let page = bench_card::html(&plan, &rules.cautions);
        atomic::write(out, page.as_bytes()).map_err(|e| BadInput::unwritable(out, &e))?;
    }
    console.clear();
    let text = if args.json { serde_json::to_string_pretty(&PlanReport::from(plan))? + "\n" } else { plan.table() };
    io::stdout().lock().write_all(text.as_bytes())?;
    Ok(Outcome::Done)
}

/// The built-in rules with one file of changes over them; a change that is not taken is bad input here, because the file
/// was asked for by name.
fn shop_rules(file: &Path) -> anyhow::Result<Rules> {
    let standard = Books::standard().limits;
    let text = read_text(file)?;
    let changes =
        books::shop_changes(&standard, &text).map_err(|e| BadInput::at(file, e.place, e.problem, e.remedy))?;
    let (rules, told) = standard.changed(&changes);
    match told.into_iter().find_map(|c| c.refused.map(|why| (c.id, why))) {
        Some((id, why)) => Err(BadInput::at(file, format!("rule {id}"), why, "tighten it, or take the line away")),
        None => Ok(rules),
    }
}

fn of_drawing(file: &Path, board: &Board, rail: &str) -> anyhow::Result<Inputs> {
    board_file::check_rail(file, board, rail)?;
    Ok(Inputs::of_board(board, rail))
}

/// What the case holds about a rail. What was acknowledged at one connection does not count for the next, so nothing is
/// taken as confirmed here.
fn of_case(folder: &CaseFolder, rail: Option<&str>) -> anyhow::Result<Inputs> {
    let rail = rail.unwrap_or(&folder.case.rail);
    let board = folder.board()?;
    board_file::check_rail(&folder.resolve(&folder.case.board), &board, rail)?;
    Ok(folder.case.plan_inputs(&board, rail))
}

/// What the flags state goes before what case and drawing hold.
fn state(inputs: &mut Inputs, args: &PlanArgs) {
    if let Some(ohms) = args.ohms {
        inputs.ohms = Some(ohms);
        inputs.ohms_doubt = 0.0;
    }
    inputs.lead_ohms = args.lead_ohms.or(inputs.lead_ohms);
    inputs.kind = args.rail_use.map(RailUse::from).or(inputs.kind);
    inputs.nominal_volts = args.nominal_volts.or(inputs.nominal_volts);
    inputs.least_volts = args.lowest_volts.or(inputs.least_volts);
    inputs.supply_most_volts = args.supply_volts.or(inputs.supply_most_volts);
    inputs.supply_most_amps = args.supply_amps.or(inputs.supply_most_amps);
    // The pace and the length before the current are the least that the list before filming asks for, at a common pace.
    inputs.camera = args.netd.map(|netd_k| Camera { netd_k, rate_hz: 9.0, frames_before: 45 }).or(inputs.camera);
}
