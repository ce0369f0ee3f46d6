//! The PDF: pages of steps, then the exercise sheet, then the answer sheet.

use joulemark_frames::Progress;

use super::{Handout, Parts, answer, exercise};
use crate::{
    case::case_log,
    lesson::{
        What, markdown,
        render::{Area, Inks, step_drawing},
    },
    report::{
        Block, Report, Section,
        content::{self, record, words},
        typeface::Fonts,
    },
};

/// A step's picture is at most this large, in points: two steps go on a page.
const PICTURE: [f32; 2] = [482.0, 258.0];
/// Pixels a point of photos: 216 to the inch.
const DOTS: f32 = 3.0;
const WORDS: f32 = 8.6;

/// What is laid out.
pub fn report(handout: &mut Handout, parts: Parts) -> anyhow::Result<Report> {
    let mut warnings = Vec::new();
    let head = content::letterhead(&handout.shop, &mut warnings);
    let case = &handout.material.case;
    let log = case_log::read(&handout.material.folder)?;
    let mut sections = Vec::new();
    if parts.steps {
        let about = markdown::parse(&handout.lesson.about);
        if !about.is_empty() {
            sections.push(Section::new(&handout.lesson.name, vec![Block::Prose(about)]));
        }
        for step in 0..handout.lesson.steps.len() {
            sections.push(section(handout, step, &mut warnings)?);
        }
    }
    if parts.exercise {
        sections.extend(exercise::sections(handout, &log, &mut warnings)?);
    }
    if parts.answers {
        sections.extend(answer::sections(handout, &log)?);
    }
    let title = match (parts.steps, parts.exercise, parts.answers) {
        (false, true, false) => "Exercise",
        (false, false, true) => "Answers",
        _ => "Handout",
    };
    let report = Report {
        title: title.into(),
        subject: words::subject(case),
        simulated: case.practice.is_some(),
        date: record::newest_time(case, &log),
        head,
        sections,
        software: content::software(),
        warnings: Vec::new(),
    };
    warnings.retain(|w| !handout.warnings.contains(w));
    handout.warnings.extend(warnings);
    Ok(report)
}

fn section(handout: &Handout, index: usize, warnings: &mut Vec<String>) -> anyhow::Result<Section> {
    let step = &handout.lesson.steps[index];
    let mut blocks = Vec::new();
    let area = area(PICTURE)?;
    let drawn = handout.material.with(|sources| step_drawing(&handout.lesson, index, u32::MAX, sources, &area));
    match drawn {
        Ok(drawing) if drawing.shapes.is_empty() => {}
        Ok(drawing) => blocks.push(Block::Drawing { drawing, caption: String::new() }),
        Err(error) => {
            warnings.push(format!("step {}: {error}", index + 1));
            blocks.push(Block::Note(error.to_string()));
        }
    }
    let text = markdown::parse(&step.text);
    if !text.is_empty() {
        blocks.push(Block::Prose(text));
    }
    let legend = legend(handout, index);
    if !legend.is_empty() {
        blocks.push(Block::Legend(legend));
    }
    Ok(Section::new(&heading(handout, index), blocks))
}

/// A step's number and title.
pub fn heading(handout: &Handout, index: usize) -> String {
    let title = handout.lesson.steps.get(index).map_or("", |s| s.title.trim());
    let number = index + 1;
    if title.is_empty() { format!("Step {number}") } else { format!("{number}  {title}") }
}

/// The callouts in sight, by number.
pub fn legend(handout: &Handout, index: usize) -> Vec<(u32, String)> {
    let marks = handout.lesson.marks_in_sight(index, u32::MAX).into_iter();
    let mut legend: Vec<(u32, String)> = marks
        .filter_map(|m| match &m.what {
            What::Callout { number, text, .. } if !text.trim().is_empty() => {
                Some((*number, text.split_whitespace().collect::<Vec<_>>().join(" ")))
            }
            _ => None,
        })
        .collect();
    legend.sort_by_key(|(number, _)| *number);
    legend
}

/// Room for a picture on paper, in points.
pub fn area([width, height]: [f32; 2]) -> anyhow::Result<Area> {
    let fonts = Fonts::shared()?;
    Ok(Area { rect: [0.0, 0.0, width, height], words_size: WORDS, dots: DOTS, inks: Inks::PAPER, fonts })
}

/// Stops between two pieces of long work.
///
/// # Errors
/// When the work was cancelled.
pub fn go_on(progress: &dyn Progress) -> anyhow::Result<()> {
    if progress.cancelled() { Err(joulemark_frames::FramesError::Cancelled.into()) } else { Ok(()) }
}
