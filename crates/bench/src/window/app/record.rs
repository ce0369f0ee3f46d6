//! The case log and who is at the bench: what is kept beside the case while the window works.

use std::{
    path::PathBuf,
    thread,
    time::{Duration, Instant},
};

use super::{
    super::{
        journal::{self, LogWork},
        work::{self, Outcome},
    },
    App, EXPORTING, REPORT,
};
use crate::{
    case::{
        BadInput, CaseFolder, atomic,
        settings::{self, Settings},
    },
    report::{self, Format, Options},
};

impl App {
    /// Says who is at the bench from now on, and remembers it.
    pub fn set_by(&mut self, name: &str) {
        let name = name.trim();
        if self.screen.by == name {
            return;
        }
        name.clone_into(&mut self.screen.by);
        if let Some(session) = &mut self.session {
            name.clone_into(&mut session.journal.by);
        }
        let at_the_bench = name.to_owned();
        self.remember(|s| s.at_the_bench = at_the_bench);
    }

    /// What is remembered between cases.
    pub(super) fn remembered(&self) -> Settings {
        self.settings_file.as_deref().map(settings::load).unwrap_or_default()
    }

    /// Changes what is remembered; says so and returns false where it cannot be written.
    pub(super) fn remember(&mut self, change: impl FnOnce(&mut Settings)) -> bool {
        let Some(file) = &self.settings_file else { return true };
        let mut remembered = settings::load(file);
        change(&mut remembered);
        let saved = settings::save(file, &remembered);
        if let Err(error) = &saved {
            self.screen.said = Some(format!("{error:#}"));
        }
        saved.is_ok()
    }

    /// Writes the report of the case as it is now, saved or not.
    pub(super) fn write_report(&mut self, file: PathBuf) {
        let Some(session) = &self.session else {
            return;
        };
        let folder =
            CaseFolder { folder: session.folder.clone().unwrap_or_default(), case: session.document.case.clone() };
        let shop = self.remembered().shop;
        self.start(REPORT, move |progress| {
            let written = Format::of(&file).and_then(|format| {
                let written = report::write(&folder, &Options::new(format, shop), progress)?;
                atomic::write(&file, &written.bytes).map_err(|e| BadInput::unwritable(&file, &e))?;
                Ok(written.warnings)
            });
            match written {
                Ok(warnings) => {
                    let but = warnings.first().map(|w| format!("; {w}")).unwrap_or_default();
                    Outcome::Done(format!("report written to {}{but}", file.display()))
                }
                Err(error) => Outcome::Failed(work::fault("Could not write the report", &error)),
            }
        });
    }

    /// Notes in the case log what was just done.
    pub fn note(&mut self, action: impl Into<String>) {
        if let Some(session) = &mut self.session {
            session.journal.note(action);
        }
    }

    /// After a case was opened: its log is read, and the opening noted.
    pub(super) fn open_log(&mut self) {
        let (by, ctx) = (self.screen.by.clone(), self.ctx.clone());
        let Some(session) = &mut self.session else {
            return;
        };
        session.journal.by = by;
        session.journal.note("case opened");
        if let Some(folder) = session.folder.clone() {
            session.journal.reading = true;
            let serial = session.serial;
            self.log_work.start(ctx.as_ref(), "Case log", move |_| journal::read(serial, &folder));
        }
    }

    /// Hands waiting lines to a thread, and takes in what earlier ones did. Called once a frame.
    pub(super) fn keep_log(&mut self) {
        for finished in self.log_work.poll() {
            let Some(session) = &mut self.session else {
                continue;
            };
            match finished.result {
                Some(LogWork::Read(serial, read)) if serial == session.serial => session.journal.arrived(read),
                Some(LogWork::Written(serial, result)) if serial == session.serial => session.journal.written(result),
                Some(_) => {}
                None => {
                    session.journal.reading = false;
                    session.journal.written(Err("work on the case log was broken off; it will be tried again".into()));
                }
            }
        }
        let Some(session) = self.session.as_mut().filter(|s| s.keeps_log()) else {
            return;
        };
        if let (Some(folder), Some(lines)) = (session.folder.clone(), session.journal.take_waiting()) {
            let serial = session.serial;
            let ctx = self.ctx.clone();
            self.log_work.start(ctx.as_ref(), "Case log", move |_| journal::write(serial, &folder, &lines));
        }
    }

    /// Before the window closes or another case is opened: lines that wait are written now.
    pub(super) fn close_log(&mut self) {
        let until = Instant::now() + Duration::from_secs(2);
        while !self.log_work.running().is_empty() && Instant::now() < until {
            self.keep_log();
            thread::sleep(Duration::from_millis(2));
        }
        let Some(session) = self.session.as_mut().filter(|s| s.keeps_log()) else {
            return;
        };
        if let (Some(folder), Some(lines)) = (session.folder.clone(), session.journal.take_waiting())
            && let LogWork::Written(_, result) = journal::write(session.serial, &folder, &lines)
        {
            session.journal.written(result);
        }
    }

    /// Writes the bench card.
    pub(super) fn print_card(&mut self, path: PathBuf) {
        let Some(session) = &self.session else {
            return;
        };
        let html = super::super::engine::bench_card(session);
        self.note(format!("bench card printed to {}", path.display()));
        self.start(EXPORTING, move |_| match atomic::write(&path, html.as_bytes()) {
            Ok(()) => Outcome::Done(format!("Written: {}. Open it in a browser to print it.", path.display())),
            Err(error) => {
                Outcome::Failed(work::fault("Could not print the bench card", &BadInput::unwritable(&path, &error)))
            }
        });
    }
}
