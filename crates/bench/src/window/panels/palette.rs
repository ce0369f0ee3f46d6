//! The command palette: every command, stage, layer, take, part and rail by name.

use egui::{Id, Key, Modal, Modifiers, RichText, ScrollArea, Ui, WidgetInfo};

use super::super::{
    command::{Command, Pick},
    compare::{CompareCommand, How},
    desk::DeskCommand,
    document::Edit,
    drawing::{self, Draw},
    exercise::{ExerciseCommand, Tab, gate},
    handout::{HandoutCommand, HandoutFile, Tool},
    lining::LiningCommand,
    plan::PlanCommand,
    practice,
    readings::ReadingsCommand,
    screen::{Bench, Layer, Over, Range, Screen},
    session::Session,
    stage::Stage,
    survey::SurveyCommand,
};
use crate::case::{intervention::Doing, reading::Quantity};
use crate::theme::{Palette, SMALL, SPACE, ramp::ColourScale};

/// At most this many entries are listed.
const MOST_LISTED: usize = 40;

/// Something that can be found by name.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// What it does.
    pub words: String,
    /// Its key.
    pub keys: &'static str,
    /// The command.
    pub command: Command,
}

/// Everything that can be done at present.
pub fn entries(session: Option<&Session>) -> Vec<Entry> {
    let mut all = Vec::new();
    let mut add = |words: String, keys: &'static str, command: Command| all.push(Entry { words, keys, command });
    add("Open a case".into(), "Ctrl+O", Command::Pick(Pick::Case));
    add("New case from files".into(), "Ctrl+N", Command::NewCase(Box::default()));
    add("New case from a drawing".into(), "", Command::NewDrawing(String::new()));
    add("Open the practice case".into(), "", Command::OpenPractice);
    for (name, folder) in practice::lessons() {
        add(format!("Open the lesson: {name}"), "", Command::Open(vec![folder]));
    }
    add("Draw the board".into(), "D", Command::Draw(Draw::Open));
    add("Shop library, and the lead's desk".into(), "", Command::Desk(DeskCommand::Open));
    add("Shop: letterhead and paper".into(), "", Command::Shop);
    add("Dark theme".into(), "", Command::SetBench(Bench::Dark));
    add("Light theme".into(), "", Command::SetBench(Bench::Light));
    for (index, stage) in Stage::ALL.into_iter().enumerate() {
        let keys = ["1", "2", "3", "4", "5", "6", "7"][index];
        add(format!("Stage: {}", stage.words()), keys, Command::SetStage(stage));
    }
    add("Show the keys".into(), "F1", Command::Keys(true));
    add("Quit".into(), "Ctrl+Q", Command::Quit);
    add("Make an exercise of this case".into(), "", Command::Exercise(ExerciseCommand::Make(true)));
    add("Class results from a class file".into(), "", Command::Pick(Pick::ClassFile));
    let Some(session) = session else {
        return all;
    };
    if session.document.case.exercise.is_some() {
        for (tab, words, key) in Tab::ALL {
            add(
                format!("Exercise: {}", words.to_lowercase()),
                key.symbol_or_name(),
                Command::Exercise(ExerciseCommand::Tab(tab)),
            );
        }
        add("Exercise: hand in".into(), "", Command::Exercise(ExerciseCommand::HandIn));
    }
    add("Add a take to this case".into(), "", Command::AddTake(Vec::new()));
    if session.document.take(&session.shown).is_some() {
        let words = format!("Remove take {} from this case", session.shown);
        add(words, "", Command::Edit(Edit::RemoveTake(session.shown.clone())));
    }
    add("Save the case".into(), "Ctrl+S", Command::Save);
    add("Undo".into(), "Ctrl+Z", Command::Undo);
    add("Redo".into(), "Ctrl+Shift+Z", Command::Redo);
    add("Locate again".into(), "", Command::Locate);
    add("Line up the picture with the drawing".into(), "L", Command::Lining(LiningCommand::Open));
    add("Fit the picture".into(), "F", Command::Fit);
    add("Zoom in".into(), "+", Command::Zoom(1.5));
    add("Zoom out".into(), "-", Command::Zoom(1.0 / 1.5));
    add("All cautions".into(), "", Command::ShowCautions(true));
    for caution in session.judged().cautions.iter().filter(|c| c.before_injection) {
        let words = format!("Acknowledge {}", caution.id.replace('_', " "));
        add(words, "", Command::Acknowledge(caution.id.clone(), true));
    }
    add("New connection of the supply".into(), "", Command::NewConnection);
    add("Measure what is asked for next".into(), "M", Command::Measure);
    add("Paste a meter's log".into(), "", Command::Readings(ReadingsCommand::Paste(true)));
    add("Millivolt survey".into(), "", Command::Survey(SurveyCommand::Open));
    for doing in Doing::ALL {
        add(format!("Note: {}", doing.done()), "C", Command::AskDone(doing, String::new()));
    }
    for step in 0..session.judged().plan.steps.len() {
        add(format!("Plan: put step {} in force", step + 1), "", Command::Plan(PlanCommand::Step(step)));
    }
    add("Handout: add a step of this view".into(), "H", Command::Handout(HandoutCommand::AddThisView));
    add("Handout: start a lesson from this case".into(), "", Command::Handout(HandoutCommand::FromCase));
    add("Handout: empty lesson".into(), "", Command::Handout(HandoutCommand::New));
    add("Handout: present the lesson".into(), "F5", Command::Handout(HandoutCommand::Present));
    for kind in HandoutFile::ALL {
        add(format!("Handout as {}", kind.words()), "", Command::Pick(Pick::Handout(kind)));
    }
    for (tool, _) in Tool::ALL.into_iter().skip(1) {
        let words = format!("Handout: add {} at the middle of the view", tool.in_sentence());
        add(words, "", Command::Handout(HandoutCommand::AddInMiddle(tool)));
    }
    add("Write the report as PDF or web page".into(), "", Command::Pick(Pick::Report));
    add("Device and symptom".into(), "", Command::Device);
    for how in How::ALL {
        add(format!("Repair check: {}", how.words().to_lowercase()), "", Command::Compare(CompareCommand::How(how)));
    }
    add("Repair check: put the verdict on record".into(), "", Command::Compare(CompareCommand::Record));
    add("Print the bench card".into(), "", Command::Pick(Pick::BenchCard));
    add("Before filming: the list".into(), "", Command::BeforeFilming(true));
    add("Case log, and who is at the bench".into(), "", Command::CaseLog(true));
    for rail in &session.board.rails {
        let ask = ReadingsCommand::Ask {
            rail: rail.name.clone(),
            quantity: Quantity::Ohms,
            face: String::new(),
            good_board: false,
            against: String::new(),
        };
        add(format!("Measure ohms of {}", rail.name), "", Command::Readings(ask));
        add(format!("Choose {} as the shorted rail", rail.name), "", Command::Edit(Edit::Rail(rail.name.clone())));
    }
    for (words, keys, draw) in drawing::listed() {
        add(format!("Drawing: {words}"), keys, Command::Draw(draw));
    }
    for kind in drawing::KINDS {
        add(format!("Drawing: kind {}", kind.words()), "", Command::Draw(Draw::Kind(kind)));
    }
    add("Drawing: choose a photo".into(), "", Command::Pick(Pick::Photo));
    for layer in Layer::ALL {
        add(format!("Layer: {}", layer.words()), "", Command::SetLayer(layer));
    }
    for layer in Layer::ALL {
        let over = Over { layer, share: 0.7, by_value: true };
        add(format!("Second layer: {}", layer.words()), "", Command::SetOver(Some(over)));
    }
    add("Second layer: none".into(), "", Command::SetOver(None));
    add("Range: by percentiles 2 % to 99.5 %".into(), "", Command::SetRange(Range::Percentiles(2.0, 99.5)));
    add("Range: automatic".into(), "", Command::SetRange(Range::Auto));
    add("Range: keep for every take".into(), "", Command::KeepRange(true));
    for scale in ColourScale::ALL {
        add(format!("Colour scale: {}", scale.words()), "", Command::SetScale(scale));
    }
    for take in &session.document.case.takes {
        add(format!("Take: {}", take.name), "", Command::ShowTake(take.name.clone()));
    }
    let spots = session.view().and_then(|v| v.located.as_ref()).map_or(0, |l| l.hot_spots.len());
    for spot in 0..spots {
        add(format!("Hot spot {}", spot + 1), "", Command::SelectSpot(spot));
    }
    for rail in &session.board.rails {
        add(format!("Rail {}", rail.name), "", Command::SelectRail(rail.name.clone()));
    }
    for part in session.face().into_iter().flat_map(|f| &f.parts) {
        add(format!("Part {}", part.designator), "", Command::ShowPart(part.designator.clone()));
    }
    all
}

/// Entries that contain every typed word, in any order and case; those that start with the text come first.
pub fn matching(entries: Vec<Entry>, typed: &str) -> Vec<Entry> {
    let typed = typed.trim().to_lowercase();
    let mut found: Vec<Entry> = entries
        .into_iter()
        .filter(|e| {
            let words = e.words.to_lowercase();
            typed.split_whitespace().all(|t| words.contains(t))
        })
        .collect();
    found.sort_by_key(|e| {
        let words = e.words.to_lowercase();
        (!words.starts_with(&typed), !words.split([' ', ':']).any(|w| w == typed))
    });
    found
}

/// Up, down and Enter for a list below a text field, taken before the field sees them.
pub(super) fn list_keys(ui: &Ui) -> (bool, bool, bool) {
    ui.input_mut(|i| {
        (
            i.consume_key(Modifiers::NONE, Key::ArrowUp),
            i.consume_key(Modifiers::NONE, Key::ArrowDown),
            i.consume_key(Modifiers::NONE, Key::Enter),
        )
    })
}

/// Draws the palette when it is open.
pub fn show(ui: &Ui, session: Option<&Session>, screen: &mut Screen, out: &mut Vec<Command>) {
    let Some(mut state) = screen.palette.take() else {
        return;
    };
    let mut close = false;
    let area = Modal::default_area(Id::unique("palette")).anchor(egui::Align2::CENTER_TOP, [0.0, 72.0]);
    let response = Modal::new(Id::unique("palette")).area(area).show(ui.ctx(), |ui| {
        let p = Palette::of(ui);
        ui.set_width(440.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        // The keys of the list are taken before the text field sees them.
        let (up, down, take) = list_keys(ui);
        let field = egui::TextEdit::singleline(&mut state.text)
            .desired_width(f32::INFINITY)
            .hint_text("Find a command, part or rail");
        let response = ui.add(field).accessible_name("Find a command, part or rail");
        response.request_focus();
        if response.changed() {
            state.at = 0;
        }
        let mut open = entries(session);
        open.retain(|e| gate::refuses(session, &e.command).is_none());
        let found = matching(open, &state.text);
        let last = found.len().min(MOST_LISTED).saturating_sub(1);
        state.at = (state.at + usize::from(down)).saturating_sub(usize::from(up)).min(last);
        ui.add_space(SPACE);
        if found.is_empty() {
            ui.label("Nothing has that name.");
        }
        ScrollArea::vertical().max_height(320.0).show(ui, |ui| {
            for (index, entry) in found.iter().take(MOST_LISTED).enumerate() {
                let here = index == state.at;
                let button = egui::Button::selectable(here, entry.words.as_str())
                    .right_text(RichText::new(entry.keys).size(SMALL).color(p.weak))
                    .min_size(egui::vec2(ui.available_width(), 0.0));
                let response = ui.add(button);
                response.widget_info(|| WidgetInfo::selected(egui::Role::ListBoxOption, true, here, &entry.words));
                if here && (up || down) {
                    response.scroll_to_me(None);
                }
                if response.clicked() || (here && take) {
                    out.push(entry.command.clone());
                    close = true;
                }
            }
        });
        if found.len() > MOST_LISTED {
            let text = format!("and {} more: type on", found.len() - MOST_LISTED);
            ui.label(RichText::new(text).size(SMALL).color(p.weak));
        }
    });
    close |= response.backdrop_response.clicked();
    if !close {
        screen.palette = Some(state);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_found_by_words_in_any_order() {
        let found = matching(entries(None), "theme light");
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].command, Command::SetBench(Bench::Light));
        assert!(matching(entries(None), "no such thing").is_empty());
        assert_eq!(matching(entries(None), "").len(), entries(None).len());
    }
}
