//! `joulemark inspect`: says what each file is. A bad one is told and the rest still looked at.

use std::{
    io::{self, Write},
    path::{Path, PathBuf},
};

use clap::Args;
use joulemark_frames::{
    CaptureLog, Summary,
    read::{self, RawLayout},
};
use joulemark_locate::align::Alignment;

use super::{Console, Outcome, Reading, exit};
use crate::case::{BadInput, CASE_FILE, CaseFolder, board_file, notation, pairs};

/// Say what files are: frames, case, board drawing, capture log or point pairs.
#[derive(Clone, Debug, Args)]
pub(super) struct InspectArgs {
    /// Files or folders.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) reading: Reading,
}

pub(super) fn run(args: &InspectArgs, console: &Console) -> anyhow::Result<Outcome> {
    let mut outcome = Outcome::Done;
    for file in &args.files {
        let described = describe(file, args, console);
        console.clear();
        match described {
            Ok(text) => writeln!(io::stdout().lock(), "{}", text.trim_end())?,
            Err(error) if exit::is_cancelled(&error) => return Err(error),
            Err(error) => {
                exit::tell(&error);
                outcome = Outcome::BadInputTold;
            }
        }
    }
    Ok(outcome)
}

/// What a file holds, by its content; its name only tells text files apart that could be several things.
enum Kind {
    Case,
    Board,
    Log,
    Pairs,
    Sidecar,
    Frames,
}

/// One line, or a line for each thing to know about frames.
fn describe(file: &Path, args: &InspectArgs, console: &Console) -> anyhow::Result<String> {
    let text = match kind(file)? {
        Kind::Case => describe_case(file),
        Kind::Board => describe_board(file),
        Kind::Log => describe_log(file),
        Kind::Pairs => describe_pairs(file),
        Kind::Sidecar => describe_sidecar(file),
        // The summary names the file itself.
        Kind::Frames => return describe_frames(file, args, console),
    }?;
    Ok(format!("{}: {text}", file.display()))
}

fn kind(file: &Path) -> anyhow::Result<Kind> {
    let meta = std::fs::metadata(file).map_err(|e| BadInput::unreadable(file, &e))?;
    if meta.is_dir() {
        return Ok(if file.join(CASE_FILE).exists() { Kind::Case } else { Kind::Frames });
    }
    if file.file_name().is_some_and(|n| n == CASE_FILE) {
        return Ok(Kind::Case);
    }
    let extension = file.extension().map(|e| e.to_ascii_lowercase()).unwrap_or_default();
    if extension == "json" {
        return Ok(Kind::Board);
    }
    let head = head(file)?;
    if extension == "ron" {
        // Every board has faces, every case takes or a rail; what has neither is the sidecar of raw frames.
        let names = |name: &str| head.contains(&format!("{name}:")) || head.contains(&format!("{name} :"));
        return Ok(match (names("faces"), names("version") || names("takes")) {
            (true, _) => Kind::Board,
            (false, true) => Kind::Case,
            (false, false) => Kind::Sidecar,
        });
    }
    if extension == "csv" {
        let header = head.trim_start_matches('\u{feff}').lines().find(|l| !l.starts_with('#')).unwrap_or("");
        let names: Vec<String> = header.split(',').map(|n| n.trim().to_ascii_lowercase()).collect();
        let has = |wanted: &str| names.iter().any(|n| n == wanted);
        if has("x_px") || has("x_mm") {
            return Ok(Kind::Pairs);
        }
        if has("frame") || has("time_s") || has("injecting") {
            return Ok(Kind::Log);
        }
    }
    Ok(Kind::Frames)
}

/// The first kilobytes as text; what is not text is replaced, since it only decides the kind.
fn head(file: &Path) -> anyhow::Result<String> {
    use std::io::Read;
    const ENOUGH_BYTES: u64 = 16 << 10;
    let mut bytes = Vec::new();
    std::fs::File::open(file)
        .and_then(|f| f.take(ENOUGH_BYTES).read_to_end(&mut bytes))
        .map_err(|e| BadInput::unreadable(file, &e))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

fn describe_case(file: &Path) -> anyhow::Result<String> {
    let CaseFolder { case, .. } = CaseFolder::open(file)?;
    let takes: Vec<&str> = case.takes.iter().map(|t| t.name.as_str()).collect();
    Ok(format!(
        "case {}, rail {}, {}",
        quoted(&case.name),
        quoted(&case.rail),
        if takes.is_empty() { "no takes yet".to_owned() } else { format!("takes: {}", takes.join(", ")) }
    ))
}

fn describe_board(file: &Path) -> anyhow::Result<String> {
    let board = board_file::read(file)?;
    let faces: Vec<String> =
        board.faces.iter().map(|f| format!("face {} with {}", f.name, count(f.parts.len(), "part"))).collect();
    Ok(format!("board {}, {}, {}", quoted(&board.name), faces.join(", "), count(board.rails.len(), "rail")))
}

fn describe_log(file: &Path) -> anyhow::Result<String> {
    let log = CaptureLog::read(file)?;
    let injecting = log.rows.iter().filter(|r| r.injecting).count();
    let mut text = format!("capture log, {}, {injecting} with current", count(log.rows.len(), "row"));
    if let (Some(first), Some(last)) = (log.rows.first(), log.rows.last()) {
        text += &format!(", {:.2} to {:.2} s", first.time_s, last.time_s);
    }
    Ok(text)
}

fn describe_pairs(file: &Path) -> anyhow::Result<String> {
    let pairs = pairs::read(file)?;
    let alignment = Alignment::fit(&pairs).map_err(|e| BadInput::in_file(file, &e))?;
    let worst_mm = alignment.residuals_mm().iter().copied().fold(0.0, f64::max);
    Ok(format!("point pairs, {}, worst {worst_mm:.3} mm off", count(pairs.len(), "pair")))
}

fn describe_sidecar(file: &Path) -> anyhow::Result<String> {
    let layout: RawLayout = notation::read(file)?;
    Ok(format!("sidecar of raw frames, {} x {} pixels", layout.width, layout.height))
}

fn describe_frames(file: &Path, args: &InspectArgs, console: &Console) -> anyhow::Result<String> {
    let recording = read::open(file, &args.reading.options(), console)?;
    Ok(Summary::of(&recording).to_string())
}

fn count(n: usize, word: &str) -> String {
    if n == 1 { format!("1 {word}") } else { format!("{n} {word}s") }
}

fn quoted(name: &str) -> String {
    format!("'{name}'")
}
