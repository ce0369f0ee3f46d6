//! The exercise sheet: what a technician would have in hand, without the answer, and lines to fill in.

use super::{Handout, pages};
use crate::{
    case::{Case, case_log::LogFile},
    layer::Layer,
    lesson::{
        Shows, View,
        render::{self, Rendered},
    },
    report::{
        Block, Drawing, Raster, Section, Shape,
        content::{self, injection, readings, takes::Takes, words},
        pdf::moved,
    },
};

/// The board's drawing is at most this large, in points.
const BOARD: [f32; 2] = [482.0, 264.0];
/// Each of two frames side by side.
const FRAME: [f32; 2] = [236.0, 200.0];
const GAP: f32 = 10.0;

/// The sections of the sheet.
pub fn sections(handout: &Handout, log: &LogFile, warnings: &mut Vec<String>) -> anyhow::Result<Vec<Section>> {
    let case = &handout.material.case;
    let task = "Find the part that shorts a supply rail of this device. You have the readings as it came in, the drawing and \
                two moments of a recording. Nothing on these pages names the part.";
    let mut blocks = vec![Block::Text(task.into())];
    let facts: Vec<(String, String)> = [
        ("Device", words::subject(case)),
        ("Board", handout.material.board.name.clone()),
        ("Symptom", case.device.symptom.trim().to_owned()),
        // Notes of a real case are written by who knows the end of it.
        ("Story", if case.practice.is_some() { case.notes.trim().to_owned() } else { String::new() }),
    ]
    .into_iter()
    .filter(|(_, value)| !value.is_empty())
    .map(|(name, value)| (name.to_owned(), value))
    .collect();
    blocks.push(Block::Facts(facts));
    blocks.push(Block::Sub("Meter readings as it came in".into()));
    blocks.extend(readings_as_it_came_in(handout, log));

    let face = handout.take().map(|t| t.entry.face.clone()).filter(|f| !f.is_empty());
    let face = face.or_else(|| handout.material.board.faces.first().map(|f| f.name.clone())).unwrap_or_default();
    blocks.push(Block::Sub("The board".into()));
    let view = View { shows: Shows::Drawing { face, rail: None }, ..View::default() };
    match drawn(handout, &view, BOARD)? {
        Ok((drawing, _)) => blocks.push(Block::Drawing { drawing, caption: String::new() }),
        Err(why) => told(&mut blocks, warnings, &why),
    }
    blocks.push(Block::Sub("The recording".into()));
    blocks.extend(recording(handout, warnings)?);

    let names = [
        ("Shorted rail", 1),
        ("Inject, volts", 1),
        ("Inject, amps", 1),
        ("For so many seconds", 1),
        ("Where heat starts, x and y in mm", 1),
        ("Part", 1),
        ("Why this part and no other", 4),
    ];
    let blanks = Block::Blanks(names.map(|(name, lines)| (name.to_owned(), lines)).into());
    Ok(vec![
        Section::new("Exercise sheet", blocks).on_own_page(),
        Section::new("Your answer", vec![blanks]),
        injection::cautions(),
    ])
}

/// A later reading would tell what was done.
fn readings_as_it_came_in(handout: &Handout, log: &LogFile) -> Vec<Block> {
    let case = &handout.material.case;
    let readings = case.readings.iter().filter(|r| r.after == 0).cloned().collect();
    // Sorting puts the case's own rail first: here no rail goes before the others.
    let early = Case { readings, rail: String::new(), ..case.clone() };
    let takes = Takes::default();
    let known = content::Known { case: &early, board: &handout.material.board, takes: &takes, log };
    readings::section(&known).blocks
}

/// The first frame, and the last one with current, side by side in one scale.
fn recording(handout: &Handout, warnings: &mut Vec<String>) -> anyhow::Result<Vec<Block>> {
    let Some(kept) = handout.take() else { return Ok(vec![Block::Text("There is no recording.".into())]) };
    let take = kept.seen().take;
    let frames = take.stack.shape().frames;
    let last = take.timeline.injecting.iter().rposition(|&on| on).unwrap_or(frames.saturating_sub(1));
    let mut both = Drawing::new(2.0 * FRAME[0] + GAP, 0.0, String::new());
    for (i, frame) in [0, last].into_iter().enumerate() {
        let name = kept.entry.name.clone();
        let shows = Shows::Map { take: name, layer: Layer::Frame, frame, outlines: false, answer: false };
        match drawn(handout, &View { shows, ..View::default() }, FRAME)? {
            Ok((drawing, alt)) => {
                let shift = [i as f32 * (FRAME[0] + GAP), 0.0];
                both.shapes.extend(drawing.shapes.iter().map(|s| moved(s, shift, 1.0)));
                both.height = both.height.max(drawing.height);
                both.alt += &format!("{}{alt}", if i > 0 { ". Beside it: " } else { "" });
            }
            Err(why) => {
                let mut blocks = Vec::new();
                told(&mut blocks, warnings, &why);
                return Ok(blocks);
            }
        }
    }
    let time_s = &take.timeline.time_s;
    let long = time_s.last().zip(time_s.first()).map_or(0.0, |(b, a)| b - a);
    let simulated = if case_is_simulated(handout) { "Simulated recording. " } else { "" };
    let caption = format!(
        "{simulated}Left: the first of {frames} frames. Right: the last one with current. The recording lasts {long:.0} s. \
         Bright is not the same as warmed."
    );
    Ok(vec![Block::Drawing { drawing: both, caption }])
}

fn case_is_simulated(handout: &Handout) -> bool {
    handout.material.case.practice.is_some()
}

/// A view without marks, with its description; or what is missing.
fn drawn(handout: &Handout, view: &View, size: [f32; 2]) -> anyhow::Result<Result<(Drawing, String), String>> {
    let area = pages::area(size)?;
    let rendered = handout.material.with(|sources| render::render(view, sources, &area));
    let Rendered { picture, shapes, alt, ends, .. } = match rendered {
        Ok(rendered) => rendered,
        Err(missing) => return Ok(Err(missing.to_string())),
    };
    let mut drawing = Drawing::new(ends[0], ends[1], alt.clone());
    if let Some(pixels) = picture {
        drawing.shapes.push(Shape::Picture { rect: pixels.rect, raster: Raster::of(&pixels.image)? });
    }
    drawing.shapes.extend(shapes);
    Ok(Ok((drawing, alt)))
}

fn told(blocks: &mut Vec<Block>, warnings: &mut Vec<String>, why: &str) {
    blocks.push(Block::Text(why.to_owned()));
    warnings.push(format!("exercise sheet: {why}"));
}
