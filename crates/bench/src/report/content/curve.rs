//! The curve of the leading hot spot: measured, fitted, and when current flowed.

use super::{Block, words};
use crate::{
    case::told::Told,
    numbers::on_times,
    picture::bars,
    report::drawing::{Anchor, BLACK, Drawing, HAIRLINE, Ink},
};

const WIDTH: f32 = 480.0;
const HEIGHT: f32 = 165.0;
const LEFT: f32 = 38.0;
const RIGHT: f32 = 470.0;
const TOP: f32 = 18.0;
const BOTTOM: f32 = 136.0;
const SMALL: f32 = 8.2;
/// Finer than any printer.
const MOST_POINTS: usize = 2000;
const ON: Ink = [228; 3];
const MEASURED: Ink = [120; 3];

/// `None` where nothing was found, or the curve has no length.
pub fn curve(told: &Told) -> Option<Block> {
    let located = &told.located;
    let (leading, _) = located.leading()?;
    let curve = &located.hot_spots.get(leading)?.curve;
    let (first, last) = (*curve.time_s.first()?, *curve.time_s.last()?);
    let finite = || curve.measured.iter().chain(&curve.fitted).copied().filter(|v| v.is_finite());
    let (low, high) = (finite().reduce(f64::min)?, finite().reduce(f64::max)?);
    let pad = 0.05 * (high - low);
    let (low, high) = (low - pad, high + pad);
    if !(last > first && high > low) {
        return None;
    }
    let unit = words::unit(located.unit);
    let alt =
        format!("Curve of hot spot {} over {:.0} s, from {low:.2} to {high:.2} {unit}", leading + 1, last - first);
    let mut drawing = Drawing::new(WIDTH, HEIGHT, alt);
    let x = |t: f64| LEFT + ((t - first) / (last - first)) as f32 * (RIGHT - LEFT);
    let y = |v: f64| BOTTOM - ((v - low) / (high - low)) as f32 * (BOTTOM - TOP);

    let timeline = &told.loaded.take.timeline;
    for (from, to) in on_times(&timeline.time_s, &timeline.injecting) {
        let (from, to) = (x(from.clamp(first, last)), x(to.clamp(first, last)));
        drawing.fill([from, TOP, to - from, BOTTOM - TOP], ON);
    }
    let (values, decimals) = bars::ticks(low, high);
    for value in values {
        drawing.line(&[[LEFT, y(value)], [RIGHT, y(value)]], 0.35, HAIRLINE);
        drawing.words(format!("{value:.decimals$}"), [LEFT - 5.0, y(value) + 2.9], SMALL, Anchor::End);
    }
    let (times, decimals) = bars::ticks(first, last);
    for time in times {
        drawing.line(&[[x(time), BOTTOM], [x(time), BOTTOM + 3.5]], 0.6, BLACK);
        drawing.words(format!("{time:.decimals$}"), [x(time), BOTTOM + 12.5], SMALL, Anchor::Middle);
    }
    let path = |values: &[f64]| {
        let step = curve.time_s.len().div_ceil(MOST_POINTS).max(1);
        let points = curve.time_s.iter().zip(values).step_by(step).filter(|(_, v)| v.is_finite());
        points.map(|(t, v)| [x(*t), y(*v)]).collect::<Vec<_>>()
    };
    drawing.line(&path(&curve.measured), 0.7, MEASURED);
    drawing.dashed(&path(&curve.fitted), 1.5, BLACK, 5.0);
    drawing.frame([LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP], 0.6, BLACK);

    drawing.words(format!("rise, {unit}"), [0.0, 9.0], SMALL, Anchor::Start);
    drawing.words("time, s", [RIGHT, BOTTOM + 24.0], SMALL, Anchor::End);
    let mut at = 150.0;
    for (name, width, ink, dash) in
        [("measured", 0.7, MEASURED, None), ("fitted", 1.5, BLACK, Some(5.0)), ("current flows", 8.0, ON, None)]
    {
        let line = [[at, 6.0], [at + 24.0, 6.0]];
        match dash {
            Some(dash) => drawing.dashed(&line, width, ink, dash),
            None if width > 2.0 => {
                drawing.fill([at, 1.5, 24.0, 9.0], ink);
                drawing.frame([at, 1.5, 24.0, 9.0], 0.4, MEASURED);
            }
            None => drawing.line(&line, width, ink),
        }
        drawing.words(name, [at + 29.0, 9.0], SMALL, Anchor::Start);
        at += 100.0;
    }
    let simulated = if told.loaded.simulated { "Simulated recording. " } else { "" };
    let caption =
        format!("{simulated}{}: hot spot {} over time, the first value taken off.", located.take, leading + 1);
    Some(Block::Drawing { drawing, caption })
}
