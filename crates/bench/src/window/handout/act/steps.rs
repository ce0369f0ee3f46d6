//! Steps of a lesson.

use super::{
    super::{Change, HandoutCommand, HandoutScreen},
    Said,
};
use crate::lesson::{Lesson, Shows, Step};

/// What a new step is headed: nothing where it has no picture that could be named.
pub fn heading(shows: &Shows) -> String {
    if *shows == Shows::Words { String::new() } else { shows.words().to_owned() }
}

/// Whether two pictures differ in a number alone, which is dragged or typed.
fn only_numbers(before: &Shows, after: &Shows) -> bool {
    let mut same = before.clone();
    match (&mut same, after) {
        (Shows::Map { frame, .. }, Shows::Map { frame: to, .. }) => *frame = *to,
        (Shows::Curve { at_px, .. }, Shows::Curve { at_px: to, .. }) => *at_px = *to,
        _ => {}
    }
    same == *after
}

pub fn change(lesson: &mut Lesson, screen: &mut HandoutScreen, command: HandoutCommand) -> Option<Said> {
    let (at, last) = (screen.step, lesson.steps.len().checked_sub(1));
    let number = at + 1;
    match command {
        HandoutCommand::Step(index) => {
            screen.go_to(index.min(last?));
            None
        }
        HandoutCommand::StepBy(by) => {
            screen.go_to(at.saturating_add_signed(by).min(last?));
            None
        }
        HandoutCommand::AddStep(view) => {
            let index = last.map_or(0, |last| at.min(last) + 1);
            lesson.steps.insert(index, Step { title: heading(&view.shows), view, ..Step::default() });
            screen.go_to(index);
            Some(Said::once(format!("add step {}", index + 1)))
        }
        HandoutCommand::MoveStep(by) => {
            let to = at.checked_add_signed(by).filter(|&to| Some(to) <= last)?;
            let step = lesson.steps.remove(at);
            lesson.steps.insert(to, step);
            screen.step = to;
            Some(Said::once(format!("move step {number} to {}", to + 1)))
        }
        HandoutCommand::DuplicateStep => {
            let copy = lesson.steps.get(at)?.clone();
            lesson.steps.insert(at + 1, copy);
            screen.go_to(at + 1);
            Some(Said::once(format!("copy step {number}")))
        }
        HandoutCommand::DeleteStep => {
            (at <= last?).then(|| lesson.steps.remove(at))?;
            (screen.mark, screen.look, screen.gesture) = (None, None, None);
            screen.step = at.min(lesson.steps.len().saturating_sub(1));
            Some(Said::once(format!("delete step {number}")))
        }
        HandoutCommand::Change(change) => {
            let step = lesson.steps.get_mut(at)?;
            let (what, goes_on) = put(step, screen, change);
            Some(Said { words: format!("{what} of step {number}"), goes_on })
        }
        _ => None,
    }
}

/// Puts a change in place and says what it is.
fn put(step: &mut Step, screen: &mut HandoutScreen, change: Change) -> (&'static str, bool) {
    match change {
        Change::Title(title) => {
            step.title = title;
            ("write the heading", true)
        }
        Change::Text(text) => {
            step.text = text;
            ("write the text", true)
        }
        Change::Shows(shows) => {
            // A part of another picture means nothing for this one, nor does its scale.
            let same = step.view.shows.words() == shows.words() && step.view.shows.take() == shows.take();
            if !same {
                (step.view.zoom, step.view.range, screen.look) = (None, None, None);
                step.plays = step.plays.filter(|_| matches!(shows, Shows::Map { .. }));
            }
            let goes_on = only_numbers(&step.view.shows, &shows);
            step.view.shows = shows;
            ("change the picture", goes_on)
        }
        Change::Zoom(zoom) => {
            (step.view.zoom, screen.look) = (zoom, None);
            ("change the part shown", false)
        }
        Change::Range(range) => {
            step.view.range = range;
            ("change the colour range", true)
        }
        Change::KeepsEarlier(keeps) => {
            step.keeps_earlier = keeps;
            ("keep or drop the earlier marks", false)
        }
        Change::Plays(plays) => {
            let goes_on = step.plays.is_some() && plays.is_some();
            step.plays = plays;
            ("change the playback", goes_on)
        }
    }
}
