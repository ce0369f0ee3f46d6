//! `joulemark locate`: hot spots and suspects of one take, from a case or from loose files.

use std::{
    io::{self, Write},
    path::PathBuf,
};

use clap::{Args, ValueEnum};
use joulemark_frames::{CountsLaw, InjectFrom};
use joulemark_locate::{EarlierCases, Repairs, Settings, locate_knowing, report::Report};

use super::{Console, Outcome, Reading, words};
use crate::{
    case::{
        BadInput, CaseFolder,
        load::{self, Loaded, PairsSource, TakeSource},
        told::{self, name_file},
    },
    library, picture,
};

/// Find hot spots in a take and the parts under them.
#[derive(Clone, Debug, Args)]
#[command(
    after_help = "Give a case folder, or --frames, --board, --rail and --pairs (and a --log where there is one)."
)]
pub(super) struct LocateArgs {
    /// Case folder.
    #[arg(required_unless_present = "frames", conflicts_with_all = ["frames", "log", "board", "rail", "pairs", "face"])]
    case: Option<PathBuf>,
    /// Which take of the case; the newest when left out.
    #[arg(long, value_name = "NAME", requires = "case")]
    take: Option<String>,
    /// Frame file or folder of frames.
    #[arg(long, value_name = "PATH", requires_all = ["board", "rail", "pairs"])]
    frames: Option<PathBuf>,
    /// Capture log: frame,time_s,injecting,volts,amps.
    #[arg(long, value_name = "LOG.csv")]
    log: Option<PathBuf>,
    /// Board drawing, board.ron or board.json.
    #[arg(long, value_name = "BOARD")]
    board: Option<PathBuf>,
    /// The shorted rail.
    #[arg(long, value_name = "NAME")]
    rail: Option<String>,
    /// Point pairs between picture and board: x_px,y_px,x_mm,y_mm.
    #[arg(long, value_name = "PAIRS.csv")]
    pairs: Option<PathBuf>,
    /// The face in the picture; may be left out when the board has one.
    #[arg(long, value_name = "NAME")]
    face: Option<String>,
    /// How counts become kelvin: centikelvin, or linear:GAIN,OFFSET.
    #[arg(long, value_name = "LAW", allow_hyphen_values = true)]
    counts: Option<CountsLaw>,
    /// Resistance of both leads together, in ohms.
    #[arg(long, value_name = "R")]
    lead_ohms: Option<f64>,
    /// Where the probe that feeds the rail touches the face: X,Y in millimetres of the drawing. Heat at it counts less, and
    /// a warm track from it is not taken for the short.
    #[arg(long, value_name = "X,Y", value_parser = probe, allow_hyphen_values = true)]
    probe: Option<(f64, f64)>,
    /// Seconds from one pulse of the injection to the next, where you know better than the log's marks.
    #[arg(long, value_name = "SECONDS", value_parser = period)]
    period: Option<f64>,
    /// Leave a repair of the recording out; may be given more than once.
    #[arg(long, value_name = "REPAIR", value_enum)]
    without: Vec<RepairName>,
    /// First frame with current (the first frame is 0), or auto to have it proposed; overrides the log's marks.
    #[arg(long, value_name = "N|auto")]
    inject_from: Option<InjectFrom>,
    /// Frames per second, where neither log nor file has times.
    #[arg(long, value_name = "HZ")]
    rate: Option<f64>,
    /// Leave out what the shop's library knows of this board model and rail.
    #[arg(long)]
    no_history: bool,
    /// Print the joulemark.locate/1 document instead of words.
    #[arg(long)]
    json: bool,
    /// Also write a picture of the rise map with board, hot spots and suspects.
    #[arg(long, value_name = "OUT.png")]
    picture: Option<PathBuf>,
    #[command(flatten)]
    pub(super) reading: Reading,
}

pub(super) fn run(args: &LocateArgs, console: &Console) -> anyhow::Result<Outcome> {
    if let Some(out) = &args.picture {
        picture::check_name(out)?;
    }
    let source = source(args)?;
    refuse_plain(args)?;
    let loaded = load::load(&source, console)?;
    let settings = Settings {
        mask_not_a_number: source.mask_nan,
        period_s: loaded.period_s,
        repairs: repairs(&args.without),
        ..Settings::default()
    };
    let earlier = earlier(args, &loaded, console);
    let located = locate_knowing(&loaded.take, &loaded.scene(), &settings, &earlier, console)
        .map_err(|e| name_file(e, &source))?;
    if let Some(out) = &args.picture {
        picture::write(out, &loaded, &located)?;
    }
    let warnings = told::warnings(&loaded, &located);
    console.clear();
    for repaired in &located.repairs {
        console.note(&format!("repaired: {}", repaired.did));
    }
    for warning in &warnings {
        console.warn(warning);
    }
    let text = if args.json {
        let report = Report { warnings, ..Report::from(&located) };
        serde_json::to_string_pretty(&report)? + "\n"
    } else {
        words::describe(&loaded, &located)
    };
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(if located.hot_spots.is_empty() { Outcome::NothingFound } else { Outcome::Done })
}

/// What the shop's library knows of the rail. A library that cannot be read keeps nobody from locating: it is said.
fn earlier(args: &LocateArgs, loaded: &Loaded, console: &Console) -> EarlierCases {
    if args.no_history {
        return EarlierCases::default();
    }
    let known = args.case.as_deref().map(CaseFolder::open_told).transpose().and_then(|case| {
        let learnt = library::earlier::counting(case.as_ref(), &loaded.board.name)?;
        Ok(learnt.on_rail(&loaded.rail))
    });
    known.unwrap_or_else(|error| {
        console.warn(&format!("earlier cases do not count: {error}"));
        EarlierCases::default()
    })
}

/// The names of [`Repairs`]' fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum RepairName {
    Pixels,
    Stripes,
    Motion,
    Pauses,
    Level,
    Drift,
    LogLag,
    Reflection,
    OtherCauses,
    PowerBound,
}

/// Takes that eyes judge have nothing to locate.
fn refuse_plain(args: &LocateArgs) -> anyhow::Result<()> {
    let Some(case) = &args.case else { return Ok(()) };
    let folder = CaseFolder::open_told(case)?;
    let take = folder.take(args.take.as_deref())?;
    match take.shows.look_for() {
        None => Ok(()),
        Some(look_for) => Err(BadInput::at(
            &folder.file(),
            format!("take '{}'", take.name),
            format!("shows {}: nothing is computed from it. {look_for}", take.shows.words()),
            "give --take TAKE, one that shows an injection",
        )),
    }
}

fn repairs(without: &[RepairName]) -> Repairs {
    let mut repairs = Repairs::default();
    for name in without {
        *match name {
            RepairName::Pixels => &mut repairs.pixels,
            RepairName::Stripes => &mut repairs.stripes,
            RepairName::Motion => &mut repairs.motion,
            RepairName::Pauses => &mut repairs.pauses,
            RepairName::Level => &mut repairs.level,
            RepairName::Drift => &mut repairs.drift,
            RepairName::LogLag => &mut repairs.log_lag,
            RepairName::Reflection => &mut repairs.reflection,
            RepairName::OtherCauses => &mut repairs.other_causes,
            RepairName::PowerBound => &mut repairs.power_bound,
        } = false;
    }
    repairs
}

/// Two numbers with a comma between.
fn probe(text: &str) -> Result<(f64, f64), String> {
    let (x, y) = text.split_once(',').ok_or("give two millimetres with a comma between: X,Y")?;
    match (x.trim().parse::<f64>(), y.trim().parse::<f64>()) {
        (Ok(x), Ok(y)) if x.is_finite() && y.is_finite() => Ok((x, y)),
        _ => Err("give two millimetres with a comma between: X,Y".into()),
    }
}

fn period(text: &str) -> Result<f64, String> {
    text.parse::<f64>().ok().filter(|s| s.is_finite() && *s > 0.0).ok_or("give seconds above zero".into())
}

/// From the case or from the loose flags. Flags about counts, leads, rate and injection also override a case.
fn source(args: &LocateArgs) -> anyhow::Result<TakeSource> {
    let mut source = match (&args.case, &args.frames, &args.board, &args.rail, &args.pairs) {
        (Some(path), ..) => {
            let case = CaseFolder::open_told(path)?;
            let entry = case.take(args.take.as_deref())?.clone();
            case.source(&entry)
        }
        (None, Some(frames), Some(board), Some(rail), Some(pairs)) => TakeSource {
            name: frames.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default(),
            case_file: None,
            frames: frames.clone(),
            log: args.log.clone(),
            board: board.clone(),
            rail: rail.clone(),
            pairs: PairsSource::File(pairs.clone()),
            face: args.face.clone(),
            counts: None,
            lead_ohms: None,
            probe_mm: None,
            period_s: None,
            inject_from: None,
            rate_hz: None,
            mask_nan: false,
            memory_mib: load::MEMORY_MIB,
            simulated: false,
        },
        // clap demands one of the two sets before this runs.
        _ => {
            return Err(BadInput::flag(
                "locate",
                "no recording was named",
                "give a case, or --frames and its companions",
            ));
        }
    };
    source.counts = args.counts.or(source.counts);
    source.lead_ohms = args.lead_ohms.or(source.lead_ohms);
    source.probe_mm = args.probe.or(source.probe_mm);
    source.period_s = args.period.or(source.period_s);
    source.inject_from = args.inject_from.or(source.inject_from);
    source.rate_hz = args.rate.or(source.rate_hz);
    source.mask_nan = args.reading.mask_nan;
    source.memory_mib = args.reading.memory_mib;
    Ok(source)
}
