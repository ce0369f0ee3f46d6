//! `joulemark handout`: class material from a case.

use std::{
    fs,
    io::{self, Write},
    path::{Path, PathBuf},
};

use clap::Args;

use super::{Console, Outcome, PaperName, Reading};
use crate::{
    case::{
        BadInput, CaseFolder, atomic,
        settings::{self, Paper},
    },
    handout::{Handout, Options, Parts},
};

/// Write class material from a case: PDF, web page, picture or animation, by the name's ending; a folder gets all of them.
#[derive(Clone, Debug, Args)]
#[command(
    after_help = "A case without a lesson gets one made from what is in it. The same case gives the same bytes. See docs/handout.md."
)]
pub(super) struct HandoutArgs {
    /// Case folder.
    case: PathBuf,
    /// OUT.pdf, OUT.html, OUT.png, OUT.gif, or a folder for all of them.
    #[arg(value_name = "OUT")]
    out: PathBuf,
    /// The lesson, where the case has several.
    #[arg(long, value_name = "NAME")]
    lesson: Option<String>,
    /// The step of a picture or an animation, counted from 1.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    step: Option<u32>,
    /// The recording of the exercise and answer sheets.
    #[arg(long, value_name = "NAME")]
    take: Option<String>,
    /// For students: no answer sheet, and no step that shows hot spots and suspects.
    #[arg(long)]
    without_answers: bool,
    /// Only the exercise sheet, as PDF.
    #[arg(long)]
    exercise_only: bool,
    /// Size of a page, instead of the one in the settings.
    #[arg(long, value_name = "SIZE", value_enum)]
    paper: Option<PaperName>,
    #[command(flatten)]
    pub(super) reading: Reading,
}

/// What is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Format {
    Pdf,
    Html,
    Png,
    Gif,
    All,
}

impl Format {
    fn of(out: &Path) -> anyhow::Result<Self> {
        if out.is_dir() {
            return Ok(Self::All);
        }
        let extension = out.extension().map(|e| e.to_string_lossy().to_lowercase());
        match extension.as_deref() {
            Some("pdf") => Ok(Self::Pdf),
            Some("html" | "htm") => Ok(Self::Html),
            Some("png") => Ok(Self::Png),
            Some("gif") => Ok(Self::Gif),
            // A recording or a case given by a slip of the hand must not be replaced.
            None if !out.exists() => Ok(Self::All),
            _ => Err(BadInput::at(
                out,
                "",
                "a handout is a PDF, a web page, a PNG or a GIF",
                "give a name that ends in .pdf, .html, .png or .gif, or a folder for all of them",
            )),
        }
    }
}

pub(super) fn run(args: &HandoutArgs, console: &Console) -> anyhow::Result<Outcome> {
    // A slip of the hand must not cost minutes of locating.
    let format = Format::of(&args.out)?;
    check_flags(args, format)?;
    let folder = CaseFolder::open_told(&args.case)?;
    if format == Format::All && same_folder(&args.out, &folder.folder) {
        let remedy = "give another folder, for instance handout within it";
        return Err(BadInput::at(&args.out, "", "the handout would lie among the case's own files", remedy));
    }
    let mut shop = settings::file().map(|file| settings::load(&file)).unwrap_or_default().shop;
    shop.paper = args.paper.map_or(shop.paper, Paper::from);
    let options = Options {
        lesson: args.lesson.clone(),
        take: args.take.clone(),
        answers: !args.without_answers && !args.exercise_only,
        mask_nan: args.reading.mask_nan,
        memory_mib: args.reading.memory_mib,
        ..Options::new(shop)
    };
    let mut handout = Handout::gather(&folder, &options, console)?;
    let steps = handout.lesson.steps.len();
    if args.step.is_some_and(|n| n as usize > steps) {
        let steps = if steps == 1 { "1 step".to_owned() } else { format!("{steps} steps") };
        return Err(BadInput::flag("--step", format!("the lesson has {steps}"), "give one of them, counted from 1"));
    }
    if format == Format::All {
        fs::create_dir_all(&args.out).map_err(|e| BadInput::unwritable(&args.out, &e))?;
    }
    let mut writer = Writer { args, console, written: Vec::new() };
    match format {
        Format::Pdf => writer.pdf(&mut handout, &args.out)?,
        Format::Html => writer.put(&args.out, handout.html(console)?)?,
        Format::Png => writer.png(&handout, args.step.map_or(0, |n| n as usize - 1), &args.out)?,
        Format::Gif => {
            let step = args.step.map(|n| n as usize - 1).or_else(|| handout.playing_step());
            writer.gif(&handout, step, &args.out)?;
        }
        Format::All => writer.all(&mut handout)?,
    }
    console.clear();
    for warning in &handout.warnings {
        console.warn(warning);
    }
    let mut out = io::stdout().lock();
    for file in &writer.written {
        writeln!(out, "Handout written to {}", file.display())?;
    }
    Ok(Outcome::Done)
}

fn check_flags(args: &HandoutArgs, format: Format) -> anyhow::Result<()> {
    if args.step.is_some() && !matches!(format, Format::Png | Format::Gif) {
        return Err(BadInput::flag(
            "--step",
            "only a picture or an animation is of one step",
            "give OUT.png or OUT.gif",
        ));
    }
    if args.exercise_only && !matches!(format, Format::Pdf | Format::All) {
        return Err(BadInput::flag("--exercise-only", "the exercise sheet is a PDF", "give OUT.pdf"));
    }
    Ok(())
}

fn same_folder(a: &Path, b: &Path) -> bool {
    let full = |path: &Path| {
        let path = if path.as_os_str().is_empty() { Path::new(".") } else { path };
        fs::canonicalize(path).ok()
    };
    full(a).is_some_and(|a| full(b) == Some(a))
}

/// Writes files beside and renames them.
struct Writer<'a> {
    args: &'a HandoutArgs,
    console: &'a Console,
    written: Vec<PathBuf>,
}

impl Writer<'_> {
    fn put(&mut self, file: &Path, bytes: Vec<u8>) -> anyhow::Result<()> {
        atomic::write(file, &bytes).map_err(|e| BadInput::unwritable(file, &e))?;
        self.written.push(file.to_owned());
        Ok(())
    }

    fn pdf(&mut self, handout: &mut Handout, file: &Path) -> anyhow::Result<()> {
        let only = self.args.exercise_only;
        let parts = Parts { steps: !only, exercise: true, answers: !only && !self.args.without_answers };
        self.put(file, handout.pdf(parts, self.console)?)
    }

    fn png(&mut self, handout: &Handout, step: usize, file: &Path) -> anyhow::Result<()> {
        let bytes = handout.png(step).map_err(|e| self.told(e, step))?;
        self.put(file, bytes)
    }

    fn gif(&mut self, handout: &Handout, step: Option<usize>, file: &Path) -> anyhow::Result<()> {
        let none = || BadInput::flag("--step", "no step of this lesson shows a recording", "show a map in one of them");
        let step = step.ok_or_else(none)?;
        let bytes = handout.gif(step, self.console).map_err(|e| self.told(e, step))?;
        self.put(file, bytes)
    }

    /// What is missing in a step is the case's fault, not the program's.
    fn told(&self, error: anyhow::Error, step: usize) -> anyhow::Error {
        use joulemark_frames::Progress;
        if self.console.cancelled() || error.is::<BadInput>() {
            return error;
        }
        let problem = error.to_string();
        BadInput::at(
            &self.args.case,
            format!("step {}", step + 1),
            problem.trim_end_matches('.'),
            "choose another step by --step N",
        )
    }

    /// The PDF, the page, a picture of every step that has one, an animation of every step that plays.
    fn all(&mut self, handout: &mut Handout) -> anyhow::Result<()> {
        let folder = self.args.out.clone();
        self.pdf(handout, &folder.join("handout.pdf"))?;
        if self.args.exercise_only {
            return Ok(());
        }
        let page = handout.html(self.console)?;
        self.put(&folder.join("lesson.html"), page)?;
        for step in 0..handout.lesson.steps.len() {
            let name = format!("step-{:02}", step + 1);
            if !handout.shows_picture(step) {
                continue;
            }
            self.png(handout, step, &folder.join(name.clone() + ".png"))?;
            if handout.lesson.steps[step].plays.is_some() {
                self.gif(handout, Some(step), &folder.join(name + ".gif"))?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_names_ending_decides_and_no_recording_is_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let format = |name: &str| Format::of(&folder.path().join(name)).ok();
        assert_eq!(format("a.PDF"), Some(Format::Pdf));
        assert_eq!(format("a.htm"), Some(Format::Html));
        assert_eq!([format("a.png"), format("a.gif")], [Some(Format::Png), Some(Format::Gif)]);
        assert_eq!([format("new"), format("")], [Some(Format::All); 2]);
        fs::write(folder.path().join("frames"), "x").unwrap();
        assert_eq!([format("frames"), format("frames.tif"), format("case.ron")], [None; 3]);
    }
}
