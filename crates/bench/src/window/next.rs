//! The next sensible action, always one, in words, with the reason for it.

use super::{
    command::Command,
    drawing::Draw,
    lining::LiningCommand,
    session::Session,
    stage::{Stage, Standing},
};
use crate::case::intervention::Doing;

/// A suspect at this probability or more is worth the iron.
const WORTH_LIFTING: f64 = 0.8;

/// The next sensible action.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// On the button.
    pub words: String,
    /// Below it.
    pub because: String,
    /// What the button does.
    pub command: Command,
    /// What the hands must know for it.
    pub cautions: Vec<String>,
}

fn next(words: impl Into<String>, because: impl Into<String>, command: Command) -> Next {
    Next { words: words.into(), because: because.into(), command, cautions: Vec::new() }
}

/// What to do next in a case. `busy` is true while it is being read or located.
pub fn next_action(session: &Session, busy: bool) -> Option<Next> {
    if busy {
        return None;
    }
    // What was measured and done goes before what was filmed, as long as no take waits for a hand.
    let bench = session.judged().next.clone().map(|n| Next {
        words: n.words,
        because: n.because,
        command: n.command,
        cautions: n.cautions,
    });
    if session.document.case.takes.is_empty()
        && let Some(bench) = bench
    {
        return Some(bench);
    }
    if session.waits_for_take() {
        let because = "Film the board before and while current flows. What you drew is kept with Ctrl+S.";
        return Some(next("Add a take", because, Command::AddTake(Vec::new())));
    }
    if session.document.case.takes.is_empty() {
        return Some(next(
            "Draw the board",
            "No take yet: draw while you set the camera up.",
            Command::Draw(Draw::Open),
        ));
    }
    let Some(view) = session.view() else {
        return Some(next(
            "Read and locate this take",
            "The take was not read yet.",
            Command::ShowTake(session.shown.clone()),
        ));
    };
    if session.out_of_date() {
        return Some(next("Locate again", "You changed what the answer was computed from.", Command::Locate));
    }
    if let Some(look_for) = view.inputs.shows.look_for() {
        let mut lift = next(
            "Note which part was lifted",
            format!("{look_for} That part comes off first; then measure again."),
            Command::AskDone(Doing::Lifted, String::new()),
        );
        lift.cautions = view.inputs.shows.cautions().iter().map(|c| (*c).to_owned()).collect();
        return Some(lift);
    }
    let pairs = session.document.take(&session.shown).map_or(0, |t| t.pairs.len());
    if pairs < 2 {
        return Some(next(
            "Line the picture up",
            "Pairs of points tell where the drawing lies in the picture.",
            Command::Lining(LiningCommand::Open),
        ));
    }
    if let Standing::Needs(what) = Stage::Capture.standing(Some(session)) {
        return Some(next("Complete the capture", format!("This take {what}."), Command::SetStage(Stage::Capture)));
    }
    let Some(located) = &view.located else {
        return Some(next("Find the hot spots", "The take was read but not located.", Command::Locate));
    };
    if session.folder.is_none() {
        return Some(next("Save the case", "It is not in a folder yet.", Command::Save));
    }
    if bench.is_some() {
        return bench;
    }
    if located.hot_spots.is_empty() {
        return Some(next(
            "Film longer, or one step higher",
            "Nothing rises above this recording's own noise. The limits are on the card.",
            Command::SetStage(Stage::Injection),
        ));
    }
    if let Some(advice) = &located.reach.advice {
        return Some(next("Film a close-up of the spot", advice.clone(), Command::SetStage(Stage::Capture)));
    }
    let rail = &session.document.case.rail;
    let (spot, answer) = located.leading()?;
    let Some(leading) = answer.suspects.first() else {
        return Some(next(
            "Look at the spot through a lens",
            "Heat starts where the drawing has no part.",
            Command::SelectSpot(spot),
        ));
    };
    if answer.off_drawing_probability > leading.probability {
        return Some(next(
            "Look at the spot through a lens",
            "Something that is not on the drawing is likelier than any part.",
            Command::SelectSpot(spot),
        ));
    }
    let part = leading.part.clone();
    let together: f64 = answer
        .suspects
        .iter()
        .filter(|s| s.part == leading.part || leading.group.contains(&s.part))
        .map(|s| s.probability)
        .sum();
    let show = Command::ShowPart(part.clone());
    if !leading.group.is_empty() && together >= WORTH_LIFTING {
        let because = format!("One of {} parts that this picture cannot tell apart.", leading.group.len() + 1);
        return Some(next(format!("Lift {part} first, then measure {rail}"), because, show));
    }
    if leading.probability >= WORTH_LIFTING {
        return Some(next(
            format!("Lift {part}, then measure {rail}"),
            "Power off and board cold first. The button shows where it is.",
            show,
        ));
    }
    Some(next(
        "Film again, longer or closer",
        format!("{part} leads, but not clearly enough to lift it."),
        Command::SetStage(Stage::Capture),
    ))
}
