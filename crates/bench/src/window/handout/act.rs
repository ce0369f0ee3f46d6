//! From what is asked of the stage to what changes in the lessons. Every change puts the list of lessons as a whole in
//! place, so that it undoes.

mod marks;
mod steps;

use super::{
    super::bench_edit::{BenchEdit, BenchPart},
    HandoutCommand, HandoutScreen,
};
use crate::{case::Case, lesson::Lesson};

pub(super) use marks::space;
pub use marks::{from_points, middle_points, nudged};

/// A change that was asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Done {
    /// The change.
    pub edit: BenchEdit,
    /// Whether it goes on with one like it: letters of a text, steps of a number.
    pub goes_on: bool,
}

/// What a change is called; `goes_on` as in [`Done`].
struct Said {
    words: String,
    goes_on: bool,
}

impl Said {
    fn once(words: impl Into<String>) -> Self {
        Self { words: words.into(), goes_on: false }
    }
}

/// Carries a command out on the screen, and returns the change of the case that it asks for.
pub fn act(case: &Case, screen: &mut HandoutScreen, command: HandoutCommand) -> Option<Done> {
    let mut lessons = case.lessons.clone();
    let said = change(&mut lessons, screen, command)?;
    if lessons == case.lessons {
        return None;
    }
    let edit = BenchEdit { words: said.words, record: None, part: BenchPart::Lessons(lessons) };
    Some(Done { edit, goes_on: said.goes_on })
}

/// Adds a lesson and shows it.
pub fn add_lesson(case: &Case, screen: &mut HandoutScreen, mut lesson: Lesson) -> Done {
    let mut lessons = case.lessons.clone();
    lesson.name = free_name(&lessons, &lesson.name, None);
    let words = format!("add lesson {}", lesson.name);
    lessons.push(lesson);
    show(screen, lessons.len() - 1);
    Done { edit: BenchEdit { words, record: None, part: BenchPart::Lessons(lessons) }, goes_on: false }
}

fn show(screen: &mut HandoutScreen, lesson: usize) {
    screen.lesson = lesson;
    screen.go_to(0);
    (screen.mark, screen.look) = (None, None);
}

/// A name that no other lesson has.
fn free_name(lessons: &[Lesson], wanted: &str, own: Option<usize>) -> String {
    let wanted = if wanted.trim().is_empty() { "Lesson" } else { wanted.trim() };
    let taken = |name: &str| lessons.iter().enumerate().any(|(i, l)| Some(i) != own && l.name == name);
    if !taken(wanted) {
        return wanted.to_owned();
    }
    (2..).map(|n| format!("{wanted} {n}")).find(|n| !taken(n)).unwrap_or_default()
}

fn change(lessons: &mut Vec<Lesson>, screen: &mut HandoutScreen, command: HandoutCommand) -> Option<Said> {
    use HandoutCommand as C;
    match command {
        C::New => {
            let name = free_name(lessons, "Lesson", None);
            lessons.push(Lesson { name: name.clone(), ..Lesson::default() });
            show(screen, lessons.len() - 1);
            Some(Said::once(format!("add lesson {name}")))
        }
        C::Lesson(index) => {
            show(screen, index.min(lessons.len().saturating_sub(1)));
            None
        }
        C::Rename(name) => {
            let name = free_name(lessons, &name, Some(screen.lesson));
            let lesson = lessons.get_mut(screen.lesson)?;
            let words = format!("rename lesson {}", lesson.name);
            lesson.name = name;
            Some(Said::once(words))
        }
        C::About(about) => {
            let lesson = lessons.get_mut(screen.lesson)?;
            lesson.about = about;
            Some(Said { words: format!("describe lesson {}", lesson.name), goes_on: true })
        }
        C::DuplicateLesson => {
            let mut copy = lessons.get(screen.lesson)?.clone();
            copy.name = free_name(lessons, &format!("{}, copy", copy.name), None);
            let words = format!("copy lesson {}", lessons[screen.lesson].name);
            lessons.insert(screen.lesson + 1, copy);
            show(screen, screen.lesson + 1);
            Some(Said::once(words))
        }
        C::DeleteLesson => {
            let lesson = (screen.lesson < lessons.len()).then(|| lessons.remove(screen.lesson))?;
            show(screen, screen.lesson.min(lessons.len().saturating_sub(1)));
            Some(Said::once(format!("delete lesson {}", lesson.name)))
        }
        C::Step(_)
        | C::StepBy(_)
        | C::AddStep(_)
        | C::MoveStep(_)
        | C::DuplicateStep
        | C::DeleteStep
        | C::Change(_) => steps::change(lessons.get_mut(screen.lesson)?, screen, command),
        C::KeepLook => {
            let step = lessons.get_mut(screen.lesson)?.steps.get_mut(screen.step)?;
            step.view.zoom = Some(screen.look.take()?);
            Some(Said::once(format!("keep the closer look of step {}", screen.step + 1)))
        }
        C::Look(look) => {
            screen.look = look;
            None
        }
        C::ZoomBy(factor) => {
            screen.look = screen.picture.zoomed(factor, None).or(screen.look);
            None
        }
        C::Tool(tool) => {
            (screen.tool, screen.gesture) = (tool, None);
            None
        }
        C::WithoutAnswers(on) => {
            screen.without_answers = on;
            None
        }
        C::Preview(on) => {
            screen.previewing = on;
            None
        }
        // The app sees to these: they need more than the lessons.
        C::FromCase | C::AddThisView | C::ReadAgain | C::Present | C::Turn(_) => None,
        command => marks::change(lessons.get_mut(screen.lesson)?.steps.get_mut(screen.step)?, screen, command),
    }
}

#[cfg(test)]
mod tests;
