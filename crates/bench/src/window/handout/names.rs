//! What marks and places are called, in a list, in "Undo: ..." and read aloud.

use crate::lesson::{Anchored, Mark, Space, Step, What};

/// What a mark of a step is called: a callout by its number, others by their kind, counted where there are several.
pub fn mark_name(step: &Step, index: usize) -> String {
    let Some(mark) = step.marks.get(index) else {
        return "mark".to_owned();
    };
    let kind = mark.what.words();
    if let What::Callout { number, .. } = mark.what {
        return format!("{kind} {number}");
    }
    let same = |m: &&Mark| m.what.words() == kind;
    if step.marks.iter().filter(same).count() < 2 {
        return kind.to_owned();
    }
    format!("{kind} {}", step.marks.iter().take(index + 1).filter(same).count())
}

/// The same within a sentence.
pub fn in_sentence(step: &Step, index: usize) -> String {
    mark_name(step, index).to_lowercase()
}

/// A place in words.
pub fn place_words(space: &Space, [x, y]: Anchored) -> String {
    match space {
        Space::Board(face) => format!("{x:.1}, {y:.1} mm on {face}"),
        Space::Frame(take) => format!("{x:.0}, {y:.0} px of {take}"),
        Space::Curve(take) => format!("{x:.1} s, {y:.2} of {take}"),
    }
}

/// A mark with its place, as it is read aloud.
pub fn aloud(step: &Step, index: usize) -> String {
    let name = mark_name(step, index);
    let Some(mark) = step.marks.get(index) else {
        return name;
    };
    let said = match &mark.what {
        What::Callout { text, .. } | What::Text { text, .. } if !text.is_empty() => {
            format!(", {}", text.lines().collect::<Vec<_>>().join(" "))
        }
        What::Measure { from, to } => format!(", {}", crate::lesson::shapes::length(&mark.space, *from, *to)),
        _ => String::new(),
    };
    let at = mark.what.places().first().map_or_else(String::new, |p| place_words(&mark.space, *p));
    format!("{name}{said}, at {at}")
}

/// What one of a mark's places is.
pub fn handle_name(what: &What, place: usize) -> &'static str {
    match (what, place) {
        (What::Callout { .. }, 0) => "the place that is meant",
        (What::Callout { .. }, _) => "the number",
        (What::Arrow { .. }, 0) => "tail",
        (What::Arrow { .. }, _) => "tip",
        (What::Measure { .. }, 0) => "one end",
        (What::Measure { .. }, _) => "other end",
        (What::Loop { .. } | What::Dim { .. }, 1) => "width",
        (What::Loop { .. } | What::Dim { .. }, 2) => "height",
        (What::Loop { .. } | What::Dim { .. }, _) => "middle",
        (What::Text { .. }, _) => "where the words begin",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lesson::mark::Style;

    fn step() -> Step {
        let space = Space::Board("top".into());
        let all = [
            What::Callout { at: [9.0, 7.04], label: [12.0, 4.0], number: 3, text: "heat\nstarts".into() },
            What::Arrow { from: [0.0, 0.0], to: [1.0, 1.0] },
            What::Measure { from: [0.0, 0.0], to: [3.0, 4.0] },
            What::Arrow { from: [5.0, 0.0], to: [1.0, 1.0] },
        ];
        let mark = |what| Mark { space: space.clone(), what, style: Style::default(), reveal: 0 };
        Step { marks: all.map(mark).to_vec(), ..Step::default() }
    }

    #[test]
    fn marks_are_told_apart_by_name() {
        let names: Vec<String> = (0..5).map(|i| mark_name(&step(), i)).collect();
        assert_eq!(names, ["Callout 3", "Arrow 1", "Measuring line", "Arrow 2", "mark"]);
        assert_eq!(in_sentence(&step(), 3), "arrow 2");
    }

    #[test]
    fn marks_are_read_aloud_with_words_and_place() {
        assert_eq!(aloud(&step(), 0), "Callout 3, heat starts, at 9.0, 7.0 mm on top");
        assert_eq!(aloud(&step(), 2), "Measuring line, 5.0 mm, at 0.0, 0.0 mm on top");
        assert_eq!(place_words(&Space::Frame("inject 1".into()), [36.2, 28.0]), "36, 28 px of inject 1");
    }
}
