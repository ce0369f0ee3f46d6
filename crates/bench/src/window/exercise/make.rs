//! What an instructor says to make an exercise: drawn in the Handout stage and in a dialog of its own.

use egui::{Id, Modal, RichText, TextEdit, Ui};

use super::{
    super::{
        command::{Command, Pick},
        screen::Screen,
        session::Session,
    },
    ExerciseCommand,
};
use crate::{
    case::exercise::Difficulty,
    exercise::make::{Truth, Wish},
    theme::{Palette, SMALL, SPACE},
};

/// What is typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct MakeDraft {
    /// Parts at fault, with commas between; empty as the case knows.
    pub parts: String,
    /// Whether nothing is wrong with the board.
    pub nothing_wrong: bool,
    /// Where hand-ins are collected; may be empty.
    pub class: String,
    /// Whether an exercise is made up instead of made of the open case.
    pub made_up: bool,
    /// How hard one that is made up is.
    pub difficulty: Difficulty,
}

impl MakeDraft {
    /// As the engine takes it.
    pub fn wish(&self) -> Wish {
        let parts: Vec<String> =
            self.parts.split([',', ';', ' ']).filter(|p| !p.is_empty()).map(str::to_owned).collect();
        let truth = match (self.nothing_wrong, parts.is_empty()) {
            (true, _) => Truth::NothingWrong,
            (false, true) => Truth::Known,
            (false, false) => Truth::Parts(parts),
        };
        Wish { truth, class: self.class.trim().to_owned(), ..Wish::default() }
    }
}

/// Why an exercise cannot be made of the open case as it is; `None` where it can.
fn lacks(session: Option<&Session>) -> Option<&'static str> {
    let Some(session) = session else { return Some("Open a case first, or let one be made up.") };
    match () {
        () if session.document.case.exercise.is_some() => Some("The open case is an exercise itself."),
        () if session.folder.is_none() || session.unsaved() => {
            Some("Save the case first: the exercise is made of what is saved.")
        }
        () => None,
    }
}

/// What the case knows of its fault.
fn known(session: &Session) -> String {
    let case = &session.document.case;
    match (&case.practice, case.confirmed_culprits()) {
        (Some(practice), _) => match &practice.part {
            Some(_) => "It is a practice case: its fault is known.".to_owned(),
            None => "It is a practice case: nothing is wrong with it, and that is known.".to_owned(),
        },
        (None, []) => "Nobody has proved the fault of this case: state the part, or that nothing is wrong.".to_owned(),
        (None, parts) => format!("A repair check proved {}.", parts.join(", ")),
    }
}

/// Draws the section.
pub fn section(ui: &mut Ui, session: Option<&Session>, draft: &mut MakeDraft, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let small = |text: &str| RichText::new(text.to_owned()).size(SMALL).color(p.weak);
    ui.horizontal_wrapped(|ui| {
        ui.radio_value(&mut draft.made_up, false, "Of the open case");
        ui.radio_value(&mut draft.made_up, true, "Made up by the program");
    });
    if draft.made_up {
        ui.horizontal_wrapped(|ui| {
            ui.label("How hard");
            for difficulty in Difficulty::ALL {
                ui.radio_value(&mut draft.difficulty, difficulty, difficulty.name());
            }
        });
        ui.label(small("Which scenario it is, nobody is told. Students can go on to another one as hard."));
    } else if let Some(session) = session {
        ui.label(small(&known(session)));
        ui.checkbox(&mut draft.nothing_wrong, "Nothing is wrong with this board");
        ui.horizontal_wrapped(|ui| {
            let label = ui.label("Part at fault");
            let field = TextEdit::singleline(&mut draft.parts).desired_width(160.0).hint_text("as the case knows");
            ui.add_enabled(!draft.nothing_wrong, field).labelled_by(label.id);
        });
    }
    ui.horizontal_wrapped(|ui| {
        let label = ui.label("Class file");
        let hint = "may stay empty; where hand-ins are collected";
        ui.add(TextEdit::singleline(&mut draft.class).desired_width(300.0).hint_text(hint)).labelled_by(label.id);
    });
    ui.label(small(
        "The answer is sealed, so that it is not read by accident or in an editor. Whoever has this program or its source can \
         open it: it is no protection for an examination.",
    ));
    let lacks = if draft.made_up { None } else { lacks(session) };
    if let Some(why) = lacks {
        ui.label(RichText::new(why).color(p.caution));
    }
    ui.add_space(SPACE / 2.0);
    if ui.add_enabled(lacks.is_none(), egui::Button::new("Make the exercise\u{2026}")).clicked() {
        out.push(Command::Pick(Pick::MakeExercise));
    }
}

/// Draws the dialog when it is open.
pub fn show(ui: &Ui, session: Option<&Session>, screen: &mut Screen, out: &mut Vec<Command>) {
    if screen.path.is_some() || screen.fault.is_some() {
        return;
    }
    let Some(draft) = &mut screen.exercise.make else { return };
    let response = Modal::new(Id::unique("make exercise")).show(ui.ctx(), |ui| {
        ui.set_width(520.0_f32.min(ui.ctx().content_rect().width() - 80.0));
        ui.label(RichText::new("Make an exercise").strong());
        ui.add_space(SPACE);
        section(ui, session, draft, out);
        if ui.button("Close").clicked() {
            out.push(Command::Exercise(ExerciseCommand::Make(false)));
        }
    });
    if response.backdrop_response.clicked() {
        out.push(Command::Exercise(ExerciseCommand::Make(false)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_says_which_part() {
        let wish = |parts: &str, nothing_wrong| {
            MakeDraft { parts: parts.into(), nothing_wrong, ..MakeDraft::default() }.wish().truth
        };
        assert_eq!(wish(" ", false), Truth::Known);
        assert_eq!(wish("C12, C13", false), Truth::Parts(vec!["C12".into(), "C13".into()]));
        assert_eq!(wish("C12", true), Truth::NothingWrong);
    }
}
