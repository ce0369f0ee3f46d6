//! Class material from a case: pages of a lesson with an exercise sheet and an answer sheet as PDF, a step as PNG, the rise
//! as an animated GIF, and the lesson as one web page that needs no other file.
//!
//! No clock is read: the same case and options give the same bytes.

mod answer;
mod exercise;
mod film;
mod gif;
mod html;
mod kept;
mod pages;
mod png;

use joulemark_frames::Progress;

pub use film::Film;
pub use gif::MOST_FRAMES as GIF_MOST_FRAMES;
pub use html::MOST_BYTES as HTML_MOST_BYTES;
pub use kept::{Kept, Material};

use crate::{
    case::{BadInput, CaseFolder, load::MEMORY_MIB, settings::Shop},
    lesson::{Lesson, Shows, Step, outline, render::render},
    report::{content::takes::choose, pdf},
};

/// Which parts a PDF has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Parts {
    /// The steps of the lesson.
    pub steps: bool,
    /// The exercise sheet.
    pub exercise: bool,
    /// The answer sheet.
    pub answers: bool,
}

impl Parts {
    /// All of them.
    pub const ALL: Self = Self { steps: true, exercise: true, answers: true };
}

/// What is handed out, and how.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// The lesson by name, where the case has several.
    pub lesson: Option<String>,
    /// The recording of the exercise and answer sheets, instead of the first one before the repair.
    pub take: Option<String>,
    /// Whether steps that show hot spots and suspects are in it.
    pub answers: bool,
    /// The letterhead, and the paper in the shop's printer.
    pub shop: Shop,
    /// Treat pixels that are not numbers as absent.
    pub mask_nan: bool,
    /// Most mebibytes that the frames of one take may need.
    pub memory_mib: u64,
}

impl Options {
    /// With everything in it.
    pub fn new(shop: Shop) -> Self {
        Self { lesson: None, take: None, answers: true, shop, mask_nan: false, memory_mib: MEMORY_MIB }
    }
}

/// A lesson with everything that it shows.
#[derive(Debug)]
pub struct Handout {
    /// The lesson.
    pub lesson: Lesson,
    /// The case's files.
    pub material: Material,
    /// Name of the recording of the exercise and answer sheets.
    take: Option<String>,
    shop: Shop,
    /// What could not be shown, one sentence each.
    pub warnings: Vec<String>,
}

impl Handout {
    /// Reads what a case's lesson shows, and locates in it; so it may take as long as locating does.
    ///
    /// # Errors
    /// When the case has no such lesson or take, its drawing cannot be read, or the work is cancelled. A take that cannot be
    /// located is said in the warnings.
    pub fn gather(folder: &CaseFolder, options: &Options, progress: &dyn Progress) -> anyhow::Result<Self> {
        let case = &folder.case;
        let lesson = choose_lesson(folder, options.lesson.as_deref())?;
        let take = match &options.take {
            Some(name) => Some(folder.take(Some(name))?.name.clone()),
            None => choose(case).0.or(case.takes.first()).map(|t| t.name.clone()),
        };
        let shown = lesson.iter().flat_map(|l| &l.steps).filter_map(|s| s.view.shows.take());
        let mut names: Vec<String> = take.iter().cloned().chain(shown.map(str::to_owned)).collect();
        names.sort();
        names.dedup();
        let (material, mut warnings) = Material::read(folder, &names, options, progress)?;
        let mut lesson = lesson.unwrap_or_else(|| {
            let seen = take.as_deref().and_then(|name| material.takes.get(name)).map(Kept::seen);
            outline::from_case(case, &material.board, seen.as_ref())
        });
        if !options.answers {
            let all = lesson.steps.len();
            lesson.steps.retain(|step| !shows_answer(step));
            if lesson.steps.len() < all {
                warnings.push(format!("{} of {all} steps show the answer and are left out", all - lesson.steps.len()));
            }
        }
        Ok(Self { lesson, material, take, shop: options.shop.clone(), warnings })
    }

    /// The PDF.
    ///
    /// # Errors
    /// When the document cannot be put together.
    pub fn pdf(&mut self, parts: Parts, progress: &dyn Progress) -> anyhow::Result<Vec<u8>> {
        progress.report("writing the pages", 0, 1);
        let report = pages::report(self, parts)?;
        pdf::write(&report, self.shop.paper)
    }

    /// A step, counted from 0, as PNG.
    ///
    /// # Errors
    /// When it shows something that is not there.
    pub fn png(&self, step: usize) -> anyhow::Result<Vec<u8>> {
        png::write(self, step)
    }

    /// The recording in a step's view, counted from 0, as an animated GIF.
    ///
    /// # Errors
    /// When the step shows no recording, or the work is cancelled.
    pub fn gif(&self, step: usize, progress: &dyn Progress) -> anyhow::Result<Vec<u8>> {
        gif::write(self, step, progress)
    }

    /// The lesson as one web page.
    ///
    /// # Errors
    /// When a picture cannot be written, or the work is cancelled.
    pub fn html(&mut self, progress: &dyn Progress) -> anyhow::Result<Vec<u8>> {
        html::write(self, progress)
    }

    /// The first step that plays a piece of a recording; else the first one that shows a map.
    pub fn playing_step(&self) -> Option<usize> {
        let steps = &self.lesson.steps;
        let map = |s: &Step| matches!(s.view.shows, Shows::Map { .. });
        steps.iter().position(|s| s.plays.is_some() && map(s)).or_else(|| steps.iter().position(map))
    }

    /// Whether a step, counted from 0, shows a picture, and all that it shows is there.
    pub fn shows_picture(&self, step: usize) -> bool {
        let Some(step) = self.lesson.steps.get(step).filter(|s| s.view.shows != Shows::Words) else { return false };
        let Ok(area) = pages::area([400.0, 300.0]) else { return false };
        self.material.with(|sources| render(&step.view, sources, &area).is_ok())
    }

    /// The recording of the exercise and answer sheets.
    fn take(&self) -> Option<&Kept> {
        self.material.takes.get(self.take.as_deref()?)
    }
}

/// Whether a step gives away what a class is to find.
fn shows_answer(step: &Step) -> bool {
    match &step.view.shows {
        Shows::Map { answer, .. } => *answer,
        Shows::Curve { fit, .. } => *fit,
        Shows::Words | Shows::Photo { .. } | Shows::Drawing { .. } => false,
    }
}

/// The lesson by name, or the only one; `None` where the case has none and none is asked for.
fn choose_lesson(folder: &CaseFolder, name: Option<&str>) -> anyhow::Result<Option<Lesson>> {
    let lessons = &folder.case.lessons;
    let names = || lessons.iter().map(|l| format!("'{}'", l.name)).collect::<Vec<_>>().join(", ");
    let file = folder.file();
    match (name, lessons.as_slice()) {
        (None, []) => Ok(None),
        (None, [one]) => Ok(Some(one.clone())),
        (None, _) => {
            let problem = format!("there are {} lessons: {}", lessons.len(), names());
            Err(BadInput::at(&file, "lessons", problem, "say which by --lesson NAME"))
        }
        (Some(name), []) => {
            let problem = format!("no lesson is named '{name}': the case has none");
            Err(BadInput::at(&file, "lessons", problem, "leave --lesson out to get one made from the case"))
        }
        (Some(name), _) => match lessons.iter().find(|l| l.name == name) {
            Some(lesson) => Ok(Some(lesson.clone())),
            None => {
                let problem = format!("no lesson is named '{name}'");
                Err(BadInput::at(&file, "lessons", problem, format!("its lessons are {}", names())))
            }
        },
    }
}
