//! Scores and classes in words.

use crate::exercise::{
    Score,
    class::{Line, Summary},
};

/// A score, line by line.
pub(super) fn score(exercise: &str, student: &str, score: &Score) -> String {
    let who = if student.is_empty() { String::new() } else { format!(", {student}") };
    let mut text = format!("Exercise {exercise}{who}: {} of 100 points\n", score.points);
    for item in &score.items {
        text += &format!("  {:<6} {:>2} of {:>2}  {}\n", item.what, item.points, item.of, item.because);
    }
    text
}

/// A class as a table with its summary.
pub(super) fn class(lines: &[Line], summary: &Summary) -> String {
    if lines.is_empty() {
        return "Nothing was handed in yet.\n".to_owned();
    }
    let rows: Vec<[String; 8]> = lines.iter().map(cells).collect();
    let header = ["student", "exercise", "try", "rail", "part", "mm", "looks", "points"].map(str::to_owned);
    let width = |i: usize| {
        let longest = rows.iter().map(|r| r[i].chars().count()).max().unwrap_or(0);
        longest.max(header[i].len())
    };
    let widths: [usize; 8] = std::array::from_fn(width);
    let mut text = String::new();
    for row in std::iter::once(&header).chain(&rows) {
        let line: Vec<String> = row
            .iter()
            .zip(widths)
            .map(|(cell, width)| format!("{cell}{}", " ".repeat(width - cell.chars().count())))
            .collect();
        text += line.join("  ").trim_end();
        text.push('\n');
    }
    text + "\n" + &summary.words() + ".\nOnly first tries are counted.\n"
}

/// Cells of a line; right and wrong are said in words.
fn cells(line: &Line) -> [String; 8] {
    let mark = |right: bool| if right { "right" } else { "wrong" };
    let part = match line.right_part {
        Some(right) => format!("{} {}", line.part, mark(right)),
        None => "-".to_owned(),
    };
    let one_line = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    [
        one_line(&line.student),
        line.exercise.clone(),
        line.attempt.to_string(),
        if line.rail.is_empty() { "-".to_owned() } else { format!("{} {}", line.rail, mark(line.right_rail_chosen())) },
        part,
        line.distance_mm.map_or("-".to_owned(), |mm| format!("{mm:.1}")),
        line.looks.to_string(),
        line.points.to_string(),
    ]
}
