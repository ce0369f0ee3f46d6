//! A lesson before a class: one step at a time on the whole screen, by keys alone.

mod keys;
mod show;

pub use keys::{KEYS, asked};
pub use show::show;

use crate::lesson::{Lesson, Step};
use crate::window::play::{self, Playing};

/// What is shown to the class. The step is that of the stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Presenting {
    /// Marks up to this one in the order of the step are in sight.
    pub revealed: u32,
    /// Whether the screen is blank, so that the class looks at who speaks.
    pub blank: bool,
    /// The recording, while it is played or held at a frame.
    pub playing: Option<Playing>,
}

/// What the presenter asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Turn {
    /// Reveal the next mark, or go to the next step.
    Next,
    /// Hide the mark that came last, or go to the step before.
    Back,
    /// Go to the next step.
    NextStep,
    /// Go to the step before.
    StepBefore,
    /// Go to the first step.
    First,
    /// Go to the last step.
    Last,
    /// Play the recording, or hold it.
    Play,
    /// Blank the screen, or show it again.
    Blank,
    /// End.
    Leave,
}

/// The next level of reveals at which a step shows more.
fn more(step: &Step, revealed: u32) -> Option<u32> {
    step.marks.iter().map(|m| m.reveal).filter(|&r| r > revealed).min()
}

/// The level before, at which it shows less.
fn less(step: &Step, revealed: u32) -> Option<u32> {
    let shown = step.marks.iter().map(|m| m.reveal).filter(|&r| r > 0 && r <= revealed).max()?;
    Some(step.marks.iter().map(|m| m.reveal).filter(|&r| r < shown).max().unwrap_or(0))
}

impl Presenting {
    /// Carries out what is asked for and returns the step to be shown, or `None` to end. `now` is the window's clock in
    /// seconds.
    pub fn turn(&mut self, turn: Turn, lesson: &Lesson, at: usize, now: f64) -> Option<usize> {
        let last = lesson.steps.len().checked_sub(1)?;
        let step = lesson.steps.get(at)?;
        // A blank screen comes back with whatever is asked for next.
        let blank = std::mem::take(&mut self.blank);
        let to = match turn {
            Turn::Leave => return None,
            Turn::Blank => {
                self.blank = !blank;
                return Some(at);
            }
            Turn::Play => {
                self.playing = step.plays.map(|plays| play::toggled(self.playing, plays, now));
                return Some(at);
            }
            Turn::Next => match more(step, self.revealed) {
                Some(level) => {
                    self.revealed = level;
                    return Some(at);
                }
                None => (at + 1).min(last),
            },
            Turn::Back => match less(step, self.revealed) {
                Some(level) => {
                    self.revealed = level;
                    return Some(at);
                }
                None => at.saturating_sub(1),
            },
            Turn::NextStep => (at + 1).min(last),
            Turn::StepBefore => at.saturating_sub(1),
            Turn::First => 0,
            Turn::Last => last,
        };
        if to != at {
            // Going back shows the step as it was left: with everything that was asked for.
            let back = to < at && matches!(turn, Turn::Back | Turn::StepBefore);
            self.revealed = if back { lesson.steps[to].reveals() } else { 0 };
            self.playing = None;
        }
        Some(to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lesson::{Mark, Plays, Shows, Space, View, What, mark::Style};

    fn step(reveals: &[u32]) -> Step {
        let mark = |&reveal: &u32| Mark {
            space: Space::Board("top".into()),
            what: What::Arrow { from: [0.0, 0.0], to: [1.0, 1.0] },
            style: Style::default(),
            reveal,
        };
        Step { marks: reveals.iter().map(mark).collect(), ..Step::default() }
    }

    fn lesson() -> Lesson {
        Lesson { steps: vec![step(&[0, 1, 3]), step(&[]), step(&[2])], ..Lesson::default() }
    }

    #[test]
    fn going_on_reveals_first_and_then_turns_the_page() {
        let (lesson, mut shown) = (lesson(), Presenting::default());
        let mut seen = Vec::new();
        let mut at = 0;
        for _ in 0..6 {
            at = shown.turn(Turn::Next, &lesson, at, 0.0).unwrap();
            seen.push((at, shown.revealed));
        }
        // Level 2 of the first step has nothing to show: it is passed over. The last step stays.
        assert_eq!(seen, [(0, 1), (0, 3), (1, 0), (2, 0), (2, 2), (2, 2)]);
        let mut back = Vec::new();
        for _ in 0..5 {
            at = shown.turn(Turn::Back, &lesson, at, 0.0).unwrap();
            back.push((at, shown.revealed));
        }
        assert_eq!(back, [(2, 0), (1, 0), (0, 3), (0, 1), (0, 0)]);
    }

    #[test]
    fn a_blank_screen_comes_back_with_the_next_key() {
        let (lesson, mut shown) = (lesson(), Presenting::default());
        shown.turn(Turn::Blank, &lesson, 1, 0.0);
        assert!(shown.blank);
        shown.turn(Turn::Blank, &lesson, 1, 0.0);
        assert!(!shown.blank);
        shown.turn(Turn::Blank, &lesson, 1, 0.0);
        assert_eq!(shown.turn(Turn::Next, &lesson, 1, 0.0), Some(2));
        assert!(!shown.blank);
        assert_eq!(shown.turn(Turn::Leave, &lesson, 1, 0.0), None);
        assert_eq!(shown.turn(Turn::First, &Lesson::default(), 0, 0.0), None, "nothing to show");
    }

    #[test]
    fn the_recording_plays_holds_and_starts_afresh() {
        let mut lesson = lesson();
        let shows = Shows::Map {
            take: "a".into(),
            layer: crate::layer::Layer::Frame,
            frame: 7,
            outlines: false,
            answer: false,
        };
        lesson.steps[1].view = View { shows, ..View::default() };
        let mut shown = Presenting::default();
        shown.turn(Turn::Play, &lesson, 1, 0.0);
        assert_eq!(shown.playing, None, "the step plays nothing");
        lesson.steps[1].plays = Some(Plays { from: 10, to: 19, speed: 2.0 });
        // Ten frames a second at twice the speed: twenty frames a second.
        let times: Vec<f64> = (0..40).map(|i| f64::from(i) / 10.0).collect();
        shown.turn(Turn::Play, &lesson, 1, 100.0);
        let frame =
            |shown: &Presenting, now: f64| shown.playing.unwrap().frame(lesson.steps[1].plays.unwrap(), &times, now);
        assert_eq!(frame(&shown, 100.0), 10);
        assert_eq!(frame(&shown, 100.26), 15);
        assert_eq!(frame(&shown, 999.0), 19, "it stays at its last frame");
        shown.turn(Turn::Play, &lesson, 1, 100.26);
        assert_eq!(frame(&shown, 500.0), 15, "held");
        shown.turn(Turn::Play, &lesson, 1, 600.0);
        assert_eq!(frame(&shown, 600.11), 17, "goes on where it was held");
        shown.playing = shown.playing.map(|p| p.settled(lesson.steps[1].plays.unwrap(), &times, 999.0));
        shown.turn(Turn::Play, &lesson, 1, 1000.0);
        assert_eq!(frame(&shown, 1000.0), 10, "from the end it starts afresh");
        shown.turn(Turn::NextStep, &lesson, 1, 1001.0);
        assert_eq!(shown.playing, None);
    }
}
