//! The repair check: what it is asked, and the work behind it.

use std::sync::Arc;

use super::{
    super::{
        command::Command,
        compare::{self, CompareCommand, work::Asked},
        document::Edit,
        stage::Stage,
        work::{self, Outcome},
    },
    App, COMPARING,
};

impl App {
    /// Whether keys and zoom belong to the repair check.
    pub(super) fn comparing(&self) -> bool {
        self.screen.stage == Stage::RepairCheck && self.session.as_ref().is_some_and(|s| s.compared().is_some())
    }

    /// Carries a command of the repair check out.
    pub(super) fn compare(&mut self, command: CompareCommand) {
        let screen = &mut self.screen.compare;
        match command {
            CompareCommand::Before(name) => screen.before = Some(name),
            CompareCommand::After(name) => screen.after = Some(name),
            CompareCommand::How(how) => screen.how = how,
            CompareCommand::AtTime(at_time) => screen.at_time = at_time,
            CompareCommand::Time(time_s) => (screen.since_onset_s, screen.at_time) = (time_s, true),
            CompareCommand::Other => {
                (screen.after_in_sight, screen.blinking) = (!screen.after_in_sight, false);
            }
            CompareCommand::Blink(on) => screen.blinking = on,
            CompareCommand::Fit => screen.view = None,
            CompareCommand::Run => {
                screen.tried = None;
                self.compare_now();
            }
            command @ (CompareCommand::Record | CompareCommand::SignOff(_) | CompareCommand::Unsign) => {
                let Some(session) = &self.session else { return };
                match compare::edit(session, &command) {
                    Ok(edit) => self.apply(Command::Edit(Edit::Bench(edit))),
                    Err(why) => self.screen.said = Some(why),
                }
            }
        }
    }

    /// Moves the time cursor by frames of the take before.
    pub(super) fn step_compared(&mut self, by: i64) {
        let Some(compared) = self.session.as_ref().and_then(|s| s.compared()) else {
            return;
        };
        let (first, last) = compared.span_s();
        let times = &compared.before.take.timeline.time_s;
        let step_s = (times.last().copied().unwrap_or(0.0) - times.first().copied().unwrap_or(0.0))
            / times.len().saturating_sub(1).max(1) as f64;
        let screen = &mut self.screen.compare;
        screen.since_onset_s = (screen.since_onset_s + by as f64 * step_s).clamp(first, last);
        screen.at_time = true;
    }

    /// At the stage, takes are compared without being asked, once.
    pub(super) fn compare_by_itself(&mut self) {
        if self.screen.stage != Stage::RepairCheck || self.screen.lining.is_some() || self.running().next().is_some() {
            return;
        }
        let Some(session) = &self.session else { return };
        let Some((before, after)) = compare::pair(&session.document.case, &self.screen.compare) else {
            return;
        };
        let shown = session.compared().map(|c| c.names());
        let tried = self.screen.compare.tried.as_ref();
        let same = |b: &str, a: &str| (b, a) == (before.as_str(), after.as_str());
        // What was changed since is said beside the verdict; only other takes start by themselves.
        let again = tried.is_some_and(|(b, a, changes)| {
            same(b, a) && (*changes == session.changes() || shown.is_some_and(|(b, a)| same(b, a)))
        });
        if !again {
            self.compare_now();
        }
    }

    fn compare_now(&mut self) {
        let Some(session) = &self.session else { return };
        let Some((before, after)) = compare::pair(&session.document.case, &self.screen.compare) else {
            return;
        };
        let changes = session.changes();
        self.screen.compare.tried = Some((before.clone(), after.clone(), changes));
        // A view that is out of date would be compared with what it no longer is.
        let view = |name: &str| {
            let view = session.views.get(name).cloned()?;
            let inputs = super::super::session::Inputs::of(&session.document, name)?;
            (inputs == view.inputs).then_some(view)
        };
        let takes = [(before.clone(), view(&before)), (after.clone(), view(&after))];
        let (folder, document, serial) = (session.folder.clone(), session.document.clone(), session.serial);
        let board = Arc::clone(&session.board);
        self.cancel_all(&[COMPARING]);
        self.start(COMPARING, move |progress| {
            let asked = Asked { folder: folder.as_deref(), document: &document, board: &board, takes, changes };
            match compare::work::compare(&asked, progress) {
                Ok(compared) => Outcome::Compared(serial, Box::new(compared)),
                Err(error) => Outcome::Failed(work::fault("Could not compare", &error)),
            }
        });
    }
}
