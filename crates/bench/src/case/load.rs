//! From a case entry or loose files to everything that locating needs. Each step can be taken alone, so that the window
//! shows a recording that still lacks its point pairs.

use std::path::{Path, PathBuf};

use joulemark_frames::{
    CaptureLog, CountsLaw, InjectFrom, Note, Progress, Take, Timeline,
    read::{self, ReadOptions, Recording},
};
use joulemark_locate::{
    Scene,
    align::{Alignment, PointPair, Refinement, implausible},
    board::Board,
    onset,
};

use nalgebra::Point2;

use super::{BadInput, CaseFolder, TakeEntry, board_file, gains, pairs};

/// Where the point pairs are.
#[derive(Clone, Debug, PartialEq)]
pub enum PairsSource {
    /// In a CSV of their own.
    File(PathBuf),
    /// In the case file, with the mapping that was refined from them.
    Given(Vec<PointPair>, Option<Refinement>),
}

/// One recording with its surroundings, by file. Paths are used as they are.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeSource {
    /// The take's name.
    pub name: String,
    /// The case file, to be named in messages about what it states; `None` for loose files.
    pub case_file: Option<PathBuf>,
    /// A file or a folder of frames.
    pub frames: PathBuf,
    /// The capture log.
    pub log: Option<PathBuf>,
    /// The board drawing.
    pub board: PathBuf,
    /// The shorted rail.
    pub rail: String,
    /// Point pairs.
    pub pairs: PairsSource,
    /// The face in the picture.
    pub face: Option<String>,
    /// The law from counts to kelvin.
    pub counts: Option<CountsLaw>,
    /// Resistance of the leads, both together.
    pub lead_ohms: Option<f64>,
    /// Where the probe touches the face, in millimetres.
    pub probe_mm: Option<(f64, f64)>,
    /// Time from one pulse to the next.
    pub period_s: Option<f64>,
    /// First injected frame; overrides the log's marks.
    pub inject_from: Option<InjectFrom>,
    /// Frames per second, where neither log nor file has times.
    pub rate_hz: Option<f64>,
    /// Treat pixels that are not numbers as absent.
    pub mask_nan: bool,
    /// Most mebibytes that the frames may take.
    pub memory_mib: u64,
    /// Whether the case says that its recordings are simulated.
    pub simulated: bool,
}

/// A doubtful pair is only worth a warning from this residual.
const LEAST_OFF_MM: f64 = 0.3;

/// Default for [`TakeSource::memory_mib`].
pub const MEMORY_MIB: u64 = 8 << 10;

impl TakeSource {
    /// A take of a case.
    pub fn from_case(case: &CaseFolder, entry: &TakeEntry) -> Self {
        Self {
            name: entry.name.clone(),
            case_file: Some(case.file()),
            frames: case.resolve(&entry.frames),
            log: entry.log.as_deref().map(|p| case.resolve(p)),
            board: case.resolve(&case.case.board),
            rail: case.case.rail.clone(),
            pairs: PairsSource::Given(entry.pairs.clone(), entry.refined.clone()),
            face: (!entry.face.is_empty()).then(|| entry.face.clone()),
            counts: entry.counts,
            lead_ohms: case.case.lead_ohms,
            probe_mm: entry.probe_mm,
            period_s: entry.period_s,
            inject_from: entry.inject_from.map(InjectFrom::Frame),
            rate_hz: entry.rate_hz,
            mask_nan: false,
            memory_mib: MEMORY_MIB,
            simulated: case.case.practice.is_some(),
        }
    }

    /// The file to name in messages about point pairs.
    fn pairs_file(&self) -> &Path {
        match (&self.pairs, &self.case_file) {
            (PairsSource::File(file), _) => file,
            (PairsSource::Given(..), Some(file)) => file,
            (PairsSource::Given(..), None) => Path::new("point pairs"),
        }
    }

    fn read_options(&self) -> ReadOptions {
        ReadOptions { memory_limit_bytes: self.memory_mib.saturating_mul(1 << 20), mask_not_a_number: self.mask_nan }
    }
}

/// Everything that locating needs, and what the user should know about how it was come by.
#[derive(Clone, Debug)]
pub struct Loaded {
    /// The recording.
    pub take: Take,
    /// The drawing.
    pub board: Board,
    /// Pixels to millimetres.
    pub alignment: Alignment,
    /// The face in the picture.
    pub face: String,
    /// The shorted rail.
    pub rail: String,
    /// Resistance of the leads.
    pub lead_ohms: Option<f64>,
    /// Where the probe touches the face, in millimetres.
    pub probe_mm: Option<(f64, f64)>,
    /// Time from one pulse to the next, where the user knows better than the log.
    pub period_s: Option<f64>,
    /// Whether the recording is simulated.
    pub simulated: bool,
    /// Sentences with their remedies, the take's own notes among them.
    pub warnings: Vec<String>,
}

impl Loaded {
    /// What the take looks at, for `joulemark_locate::locate`.
    pub fn scene(&self) -> Scene<'_> {
        Scene {
            board: &self.board,
            face: &self.face,
            rail: &self.rail,
            alignment: &self.alignment,
            lead_ohms: self.lead_ohms,
            injection_mm: self.probe_mm.map(|(x, y)| Point2::new(x, y)),
        }
    }
}

/// Loads all of it. Small files come first, so that their faults show at once.
pub fn load(source: &TakeSource, progress: &dyn Progress) -> anyhow::Result<Loaded> {
    let board = board_file::read(&source.board)?;
    board_file::check_rail(&source.board, &board, &source.rail)?;
    let (face, face_warning) = board_file::choose_face(&source.board, &board, source.face.as_deref())?;
    if source.lead_ohms.is_some_and(|r| !r.is_finite() || r < 0.0) {
        return Err(BadInput::flag("lead resistance", "not zero or more ohms", "give both leads together, in ohms"));
    }
    let (pairs, alignment) = load_pairs(source)?;
    let mut take = load_take(source, progress)?;
    let shape = take.stack.shape();
    let picture_px = (shape.width_px, shape.height_px);
    if let Some(problem) = board.face(&face).and_then(|f| implausible(&pairs, &alignment, f, picture_px)) {
        let remedy = "give the pairs of this picture and face, in the columns x_px,y_px,x_mm,y_mm";
        return Err(BadInput::at(source.pairs_file(), "", problem, remedy));
    }
    require_injection(source, &take)?;
    if let Some(drawn) = board.face(&face) {
        gains::undo(&mut take, drawn, &alignment, progress)?;
    }
    let simulated = source.simulated.then(|| "practice case: this recording is simulated".to_owned());
    let warnings = simulated
        .into_iter()
        .chain(face_warning)
        .chain(alignment_warning(source, &alignment))
        .chain(take.notes.iter().map(Note::to_string))
        .collect();
    Ok(Loaded {
        take,
        board,
        alignment,
        face,
        rail: source.rail.clone(),
        lead_ohms: source.lead_ohms,
        probe_mm: source.probe_mm,
        period_s: source.period_s,
        simulated: source.simulated,
        warnings,
    })
}

/// Fits the mapping from the point pairs.
pub fn load_alignment(source: &TakeSource) -> anyhow::Result<Alignment> {
    load_pairs(source).map(|(_, alignment)| alignment)
}

fn load_pairs(source: &TakeSource) -> anyhow::Result<(Vec<PointPair>, Alignment)> {
    let (pairs, refined) = match &source.pairs {
        PairsSource::File(file) => (pairs::read(file)?, None),
        PairsSource::Given(pairs, refined) => (pairs.clone(), refined.as_ref()),
    };
    let alignment = Alignment::of(&pairs, refined).map_err(|e| {
        let place = if source.case_file.is_some() { format!("take '{}'", source.name) } else { String::new() };
        BadInput::at(source.pairs_file(), place, e.to_string(), "")
    })?;
    Ok((pairs, alignment))
}

/// Names the pair that spoils an otherwise good fit.
fn alignment_warning(source: &TakeSource, alignment: &Alignment) -> Option<String> {
    let pair = alignment.suspicious_pair()?;
    let off_mm = alignment.residuals_mm().get(pair)?;
    // Well within a part nobody needs to act, however unlikely the click.
    if *off_mm < LEAST_OFF_MM {
        return None;
    }
    Some(format!(
        "{}: point pair {} of {} lies {off_mm:.2} mm from where the others put it: correct or remove it",
        source.pairs_file().display(),
        pair + 1,
        alignment.residuals_mm().len()
    ))
}

/// Reads frames and log. The take may still lack any injected frame.
pub fn load_take(source: &TakeSource, progress: &dyn Progress) -> anyhow::Result<Take> {
    if let Some(rate) = source.rate_hz
        && !(rate.is_finite() && rate > 0.0)
    {
        return Err(BadInput::flag("rate", format!("{rate} frames per second"), "give a rate above zero"));
    }
    // The log is small: its faults are told before minutes of reading frames.
    let log = source.log.as_deref().map(|file| CaptureLog::read(file).map(|log| (file, log))).transpose()?;
    let recording = read::open(&source.frames, &source.read_options(), progress)?;
    let (mut timeline, notes) = timeline(source, log, &recording)?;
    let frames = timeline.len();
    if let Some(InjectFrom::Frame(from)) = source.inject_from {
        if from >= frames {
            return Err(BadInput::at(
                &source.frames,
                "",
                format!("injection cannot start at frame {from}: there are {frames} frames, the first is frame 0"),
                "give an earlier frame",
            ));
        }
        timeline.inject_from(from);
    }
    let mut take = recording.into_take(&source.name, source.counts, timeline)?;
    take.notes.extend(notes);
    if source.inject_from == Some(InjectFrom::Auto) {
        propose_injection(source, &mut take)?;
    }
    Ok(take)
}

/// Times and marks: from the log, else from the file, else from the stated rate, else one frame per second.
fn timeline(
    source: &TakeSource,
    log: Option<(&Path, CaptureLog)>,
    recording: &Recording,
) -> anyhow::Result<(Timeline, Vec<Note>)> {
    let frames = recording.samples.shape().frames;
    if let Some((file, log)) = log {
        let (timeline, mut notes) = log.align(file, frames, &recording.names)?;
        if source.rate_hz.is_some() {
            notes.push(Note::new("the stated frame rate was not used", "the log has a time for every frame"));
        }
        return Ok((timeline, notes));
    }
    if let Some(time_s) = &recording.time_s {
        let notes = source
            .rate_hz
            .is_some()
            .then(|| Note::new("the stated frame rate was not used", "the file has its own times"))
            .into_iter()
            .collect();
        return Ok((Timeline { time_s: time_s.clone(), ..Timeline::steady(frames, 1.0) }, notes));
    }
    match source.rate_hz {
        Some(rate) => Ok((Timeline::steady(frames, rate), Vec::new())),
        None => Ok((
            Timeline::steady(frames, 1.0),
            vec![Note::new(
                "no log and no frame rate: one frame per second is assumed, so every time shown is a guess",
                "give a log, or --rate HZ",
            )],
        )),
    }
}

/// Marks injection where the recording itself shows it, and says that this is a proposal.
fn propose_injection(source: &TakeSource, take: &mut Take) -> anyhow::Result<()> {
    let proposal = onset::propose(take).ok_or_else(|| {
        BadInput::at(
            &source.frames,
            "",
            "nothing in this recording shows where injection starts",
            "give the first frame with current by --inject-from N",
        )
    })?;
    take.timeline.inject_from(proposal.frame);
    take.notes.push(Note::new(
        format!(
            "injection is proposed, not known, to start at frame {} ({:.2} s), with {:.0} % certainty to a frame",
            proposal.frame,
            proposal.time_s,
            100.0 * proposal.confidence
        ),
        "confirm it with --inject-from N",
    ));
    Ok(())
}

/// Without any injected frame there is nothing to locate.
fn require_injection(source: &TakeSource, take: &Take) -> anyhow::Result<()> {
    if take.timeline.first_injected().is_some() {
        return Ok(());
    }
    Err(match &source.log {
        Some(log) => BadInput::at(
            log,
            "column injecting",
            "no frame of this recording is marked",
            "mark the frames with current by 1, or give --inject-from N (auto proposes one)",
        ),
        None => BadInput::at(
            &source.frames,
            "",
            "nothing says which frames have current",
            "give a log with --log, or the first such frame with --inject-from N (auto proposes one)",
        ),
    })
}
