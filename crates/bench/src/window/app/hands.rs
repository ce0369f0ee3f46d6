//! What is measured, acknowledged and done at the bench: from requests to edits and lines of the case log.

use super::{
    super::{
        bench_edit::{BenchEdit, BenchPart},
        command::Command,
        document::Edit,
        panels::device::DeviceDraft,
        plan::{self, PlanCommand},
        readings::{self, Paste, ReadingsCommand},
        stage::Stage,
        survey::{self, SurveyCommand, SurveyScreen},
    },
    App,
};
use crate::case::intervention::{Doing, Intervention};

impl App {
    fn bench(&mut self, edit: Option<BenchEdit>) -> bool {
        let (Some(edit), Some(session)) = (edit, &mut self.session) else {
            return false;
        };
        session.apply(Edit::Bench(edit));
        true
    }

    /// Takes over what the dialog about the device says.
    pub(super) fn set_device(&mut self, draft: DeviceDraft) {
        let Some(session) = &mut self.session else {
            return;
        };
        let case = &session.document.case;
        let mut device = draft.device;
        // The drawing's name stands for the model anyway.
        if device.model == session.board.name {
            device.model.clear();
        }
        device.opened.clone_from(&case.device.opened);
        let mut edits = Vec::new();
        if device != case.device {
            let record = format!("device: serial {}, symptom: {}", device.serial, device.symptom);
            let part = BenchPart::Device(device);
            edits.push(Edit::Bench(BenchEdit { words: "describe the device".into(), record: Some(record), part }));
        }
        if !draft.name.trim().is_empty() && draft.name.trim() != case.name {
            edits.push(Edit::Name(draft.name.trim().to_owned()));
        }
        session.apply(Edit::Several { words: "describe the device".into(), edits });
    }

    /// Carries out what the readings stage asks for.
    pub(super) fn readings(&mut self, command: ReadingsCommand) {
        let Some(session) = &self.session else {
            return;
        };
        match command {
            ReadingsCommand::Enter { rail, quantity, value } => {
                let edit = readings::enter(session, &self.screen.readings, &rail, quantity, value);
                self.bench(edit);
            }
            ReadingsCommand::MeterLeads(ohms) => {
                self.bench(Some(BenchEdit::meter_leads(ohms)));
            }
            ReadingsCommand::Ask { rail, quantity, face, good_board, against } => {
                self.screen.drawing = None;
                self.screen.survey = None;
                self.screen.stage = Stage::Readings;
                let readings = &mut self.screen.readings;
                (readings.good_board, readings.against, readings.after) = (good_board, against, None);
                if !face.is_empty() {
                    readings.face = face;
                }
                readings.focus(&rail, quantity);
                self.screen.selection.rail = Some(rail);
            }
            ReadingsCommand::AskLeads => {
                self.screen.drawing = None;
                self.screen.survey = None;
                self.screen.stage = Stage::Readings;
                self.screen.readings.ask_leads = true;
            }
            ReadingsCommand::Paste(open) => self.screen.readings.paste = open.then(Paste::default),
            ReadingsCommand::TakePasted => {
                let edit = readings::take_pasted(session, &self.screen.readings);
                self.screen.readings.paste = None;
                if !self.bench(edit) {
                    self.screen.said = Some("Those readings stood there already".to_owned());
                }
            }
        }
    }

    /// Carries out what the survey asks for.
    pub(super) fn survey(&mut self, command: SurveyCommand) {
        match command {
            SurveyCommand::Open => {
                self.screen.drawing = None;
                self.screen.stage = Stage::Readings;
                self.screen.survey = Some(SurveyScreen::default());
            }
            SurveyCommand::Close => self.screen.survey = None,
            command => {
                let Some(session) = &self.session else {
                    return;
                };
                let edit = survey::edit(session, &command);
                let added = matches!(command, SurveyCommand::Add { .. });
                if self.bench(edit)
                    && added
                    && let (Some(screen), Some(session)) = (&mut self.screen.survey, &self.session)
                {
                    screen.focus = session.survey().map(|s| s.points.len() - 1);
                }
            }
        }
    }

    /// Carries out what the plan asks for.
    pub(super) fn plan(&mut self, command: PlanCommand) {
        let Some(session) = &self.session else {
            return;
        };
        let loosened = matches!(command, PlanCommand::Override { .. });
        match plan::edit(session, command) {
            Ok(edit) => {
                self.bench(Some(edit));
                self.screen.plan.refused = None;
                if loosened {
                    self.screen.plan.loosening = Default::default();
                }
            }
            Err(why) => self.screen.plan.refused = Some(format!("Nothing was changed: {why}.")),
        }
    }

    /// Ticks a caution for the connection in force, or takes the tick back.
    pub(super) fn acknowledge(&mut self, caution: &str, seen: bool) {
        let Some(session) = &self.session else {
            return;
        };
        if self.screen.by.is_empty() {
            self.screen.refused = Some("Say who is at the bench first.".to_owned());
            return;
        }
        let edit = session.acknowledging(caution, seen);
        self.bench(edit);
        if self.session.as_ref().is_some_and(|s| s.open_cautions().is_empty()) {
            self.screen.refused = None;
        }
    }

    /// Leads off and on again.
    pub(super) fn new_connection(&mut self) {
        let edit = self.session.as_ref().map(super::super::session::Session::reconnecting);
        self.bench(edit);
    }

    /// Whether an edit marks injection that may not be marked yet; says so, and opens the cautions.
    pub(super) fn refuses(&mut self, edit: &Edit) -> bool {
        let Edit::InjectFrom { frame: Some(_), .. } = edit else {
            return false;
        };
        let Some(session) = &self.session else {
            return false;
        };
        let why = match session.limits_in_words() {
            None => Some("Not marked: the card says that nothing may be injected into this rail.".to_owned()),
            Some(_) => {
                let open: Vec<String> = session.open_cautions().iter().map(|c| c.id.replace('_', " ")).collect();
                let list = super::super::words::list(&open);
                (!open.is_empty()).then(|| format!("Not marked: acknowledge {list} for this connection first."))
            }
        };
        self.screen.fields.inject_from = None;
        self.screen.refused.clone_from(&why);
        why.is_some()
    }

    /// Notes that something was done to the board.
    pub(super) fn did(&mut self, what: Doing, part: String) {
        let Some(session) = &self.session else {
            return;
        };
        let done = session.interventions_with(|number| Intervention {
            number,
            what,
            part,
            time: crate::case::clock::now(),
            by: session.journal.by.clone(),
        });
        self.screen.doing = None;
        self.screen.readings.after = None;
        self.bench(Some(done));
    }

    /// Whether a command of the bench was carried out here.
    pub(super) fn hands(&mut self, command: Command) {
        match command {
            Command::Readings(command) => self.readings(command),
            Command::Plan(command) => self.plan(command),
            Command::Survey(command) => self.survey(command),
            Command::Acknowledge(caution, seen) => self.acknowledge(&caution, seen),
            Command::Measure => {
                let next = self.session.as_ref().and_then(|s| s.judged().measure.as_ref().map(|n| n.command.clone()));
                self.apply(next.unwrap_or(Command::SetStage(Stage::Readings)));
            }
            Command::NewConnection => self.new_connection(),
            Command::Did(what, part) => self.did(what, part),
            _ => {}
        }
    }
}
