//! A lesson made from a case as it stands: something to begin with, or to hand out as it is.

use joulemark_locate::board::Board;

use super::{
    Lesson, Mark, Plays, Shows, Space, Step, View, What,
    mark::{Style, Weight},
    render::TakeSeen,
};
use crate::{
    case::Case,
    layer::Layer,
    numbers::{percent, with_error},
};

/// What a lesson made from a case is called.
pub const NAME: &str = "From the case";
/// A recording is played so fast that it lasts about so long.
const SECONDS: f64 = 10.0;
/// Frames without current that are played before it flows.
const BEFORE: usize = 6;

/// The board, the picture before, the rise, the answer. `take` is the recording that it is about; without one the lesson
/// is about the drawing alone, without an answer it ends with the rise.
pub fn from_case(case: &Case, board: &Board, take: Option<&TakeSeen<'_>>) -> Lesson {
    let mut steps = Vec::new();
    let face = take.map(|t| t.face.to_owned()).or_else(|| board.faces.first().map(|f| f.name.clone()));
    if let Some(face) = face.filter(|f| board.face(f).is_some_and(|f| f.outline.len() > 2 || !f.parts.is_empty())) {
        steps.push(the_board(case, board, face));
    }
    if let Some(take) = take {
        steps.push(before(take));
        steps.push(rise(take));
        steps.extend(answer(case, take));
        steps.extend(curve(take));
    }
    let simulated = if case.practice.is_some() { " The recording is simulated." } else { "" };
    let about = format!("How the short of this device is found, step by step.{simulated}");
    Lesson { name: NAME.to_owned(), about, steps }
}

fn the_board(case: &Case, board: &Board, face: String) -> Step {
    let rail = (!case.rail.is_empty()).then(|| case.rail.clone());
    let volts = rail.as_deref().and_then(|r| board.rail(r)).and_then(|r| r.nominal_volts);
    let volts = volts.map_or_else(String::new, |v| format!(", nominally {v} V"));
    let on_rail = rail.as_ref().map_or_else(String::new, |rail| {
        format!("The rail in question is {rail}{volts}. Every part with a cross sits on it: each of them may be the short.\n\n")
    });
    let symptom = case.device.symptom.trim();
    let symptom = if symptom.is_empty() { String::new() } else { format!("Symptom: {symptom}\n\n") };
    Step {
        title: "The board".into(),
        text: format!("{symptom}{on_rail}Which of them would you suspect, before any current flows?"),
        view: View { shows: Shows::Drawing { face, rail }, ..View::default() },
        ..Step::default()
    }
}

fn map(take: &TakeSeen<'_>, layer: Layer, frame: usize, answer: bool) -> View {
    let shows = Shows::Map { take: take.take.name.clone(), layer, frame, outlines: take.alignment.is_some(), answer };
    View { shows, ..View::default() }
}

fn before(take: &TakeSeen<'_>) -> Step {
    let layer = if take.located.is_some() { Layer::Before } else { Layer::Frame };
    Step {
        title: "Before the current".into(),
        text:
            "No current flows yet. What is bright here is not warm because of the short: metal mirrors the room, bare \
               copper radiates little, and the board has not settled."
                .into(),
        view: map(take, layer, 0, false),
        ..Step::default()
    }
}

fn rise(take: &TakeSeen<'_>) -> Step {
    let timeline = &take.take.timeline;
    let frames = take.take.stack.shape().frames;
    let last = timeline.injecting.iter().rposition(|&on| on).unwrap_or(frames.saturating_sub(1));
    let from = timeline.first_injected().unwrap_or(0).saturating_sub(BEFORE);
    let layer = if take.located.is_some() { Layer::FrameRise } else { Layer::Frame };
    let long = timeline.time_s.get(last).zip(timeline.time_s.get(from)).map_or(0.0, |(b, a)| b - a);
    let speed = (long / SECONDS).max(1.0).round() as f32;
    let plays = (last > from).then_some(Plays { from, to: last, speed });
    Step {
        title: "The rise".into(),
        text: "Current flows. Watch where it begins to warm, not only where it is warmest in the end: copper carries heat \
               away from where it is made."
            .into(),
        view: map(take, layer, last, false),
        plays,
        ..Step::default()
    }
}

fn answer(case: &Case, take: &TakeSeen<'_>) -> Option<Step> {
    let located = take.located?;
    let mut step = Step { title: "Where heat starts".into(), view: map(take, Layer::Rise, 0, true), ..Step::default() };
    let Some((leading, answer)) = located.leading() else {
        step.text = "Nothing warmed above the noise: this recording names no part.".into();
        return Some(step);
    };
    let spot = located.hot_spots.get(leading)?;
    let unit = crate::layer::shown::unit(take.take, Layer::Rise);
    let rise = with_error(spot.rise.end, spot.rise.end_se);
    let first = answer.suspects.first();
    let part = first.map_or_else(String::new, |s| {
        let because: Vec<String> = s.because.iter().map(|b| format!("- {b}\n")).collect();
        format!("First suspected: **{}**, {}.\n\n{}\n", s.part, percent(s.probability), because.concat())
    });
    step.text = format!(
        "Hot spot {} rises by {rise} {unit} (\u{b1} one standard error).\n\n{part}A probability is no proof: lift the part, \
         then measure {} again.",
        leading + 1,
        if case.rail.is_empty() { "the rail" } else { &case.rail }
    );
    let at = [spot.centre_px.x, spot.centre_px.y];
    let shape = take.take.stack.shape();
    // To the upper left where there is room: names of suspects stand to the right.
    let aside = |i: usize, size: usize| if at[i] > 0.3 * size as f64 { -0.22 } else { 0.22 } * size as f64;
    let label = [at[0] + aside(0, shape.width_px), at[1] + aside(1, shape.height_px)];
    step.marks.push(Mark {
        space: Space::Frame(take.take.name.clone()),
        what: What::Callout { at, label, number: 1, text: "heat starts here".into() },
        style: Style { weight: Weight::Normal, ..Style::default() },
        reveal: 1,
    });
    Some(step)
}

fn curve(take: &TakeSeen<'_>) -> Option<Step> {
    let located = take.located?;
    let (leading, _) = located.leading()?;
    let spot = located.hot_spots.get(leading)?;
    let shows = Shows::Curve {
        take: take.take.name.clone(),
        at_px: [spot.centre_px.x, spot.centre_px.y],
        fit: spot.curve.time_s.len() > 1,
    };
    Some(Step {
        title: "The same place over time".into(),
        text:
            "A source warms from the moment the current flows. What only drifts, cools or mirrors does not bend there."
                .into(),
        view: View { shows, ..View::default() },
        ..Step::default()
    })
}
