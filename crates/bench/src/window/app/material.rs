//! Writes class material of the lesson shown, off the window's thread.

use std::path::Path;

use joulemark_frames::Progress;

use super::{
    super::{
        handout::HandoutFile,
        work::{self, Outcome},
    },
    App, MATERIAL,
};
use crate::{
    case::{BadInput, CaseFolder, atomic},
    handout::{Handout, Options, Parts},
    lesson::Shows,
};

impl App {
    /// Writes the lesson shown as a file of a kind.
    pub(super) fn write_handout(&mut self, kind: HandoutFile, file: &Path) {
        let Some(session) = &self.session else {
            return;
        };
        let case = session.document.case.clone();
        let Some(lesson) = self.screen.handout.lesson(&case).map(|l| l.name.clone()) else {
            self.screen.said = Some("There is no lesson to hand out yet".to_owned());
            return;
        };
        let whole = matches!(kind, HandoutFile::Picture | HandoutFile::Animation);
        let answers = whole || !self.screen.handout.without_answers;
        let step = self.screen.handout.step;
        let folder = CaseFolder { folder: session.folder.clone().unwrap_or_default(), case };
        let options = Options { lesson: Some(lesson), answers, ..Options::new(self.remembered().shop) };
        let file = kind.named(file);
        self.start(MATERIAL, move |progress| match write(kind, &folder, &options, step, &file, progress) {
            Ok(warnings) => {
                let but = warnings.first().map(|w| format!("; {w}")).unwrap_or_default();
                Outcome::Done(format!("handout written to {}{but}", file.display()))
            }
            Err(error) => Outcome::Failed(work::fault("Could not write the handout", &error)),
        });
    }
}

fn write(
    kind: HandoutFile,
    folder: &CaseFolder,
    options: &Options,
    step: usize,
    file: &Path,
    progress: &dyn Progress,
) -> anyhow::Result<Vec<String>> {
    let mut handout = Handout::gather(folder, options, progress)?;
    let bytes = match kind {
        HandoutFile::Pdf => handout.pdf(Parts { answers: options.answers, ..Parts::ALL }, progress)?,
        HandoutFile::Page => handout.html(progress)?,
        HandoutFile::Picture => handout.png(step)?,
        HandoutFile::Animation => {
            let map = handout.lesson.steps.get(step).is_some_and(|s| matches!(s.view.shows, Shows::Map { .. }));
            let none = || {
                BadInput::at(&folder.file(), "lesson", "no step shows a recording", "show a map in one of its steps")
            };
            let step = if map { Some(step) } else { handout.playing_step() };
            handout.gif(step.ok_or_else(none)?, progress)?
        }
    };
    atomic::write(file, &bytes).map_err(|e| BadInput::unwritable(file, &e))?;
    Ok(handout.warnings)
}
