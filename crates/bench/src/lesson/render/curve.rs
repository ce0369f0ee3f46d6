//! A curve over time: the frames' own values at a pixel, or a hot spot's curve with what was fitted to it.

use joulemark_locate::HotSpot;

use super::{
    Area, Missing, Rendered, TakeSeen, ViewPlacing, area, furniture,
    placing::{Flat, Kind},
};
use crate::{
    layer::{Layer, shown},
    lesson::View,
    numbers::on_times,
    picture::bars,
    report::{
        clip,
        drawing::{Anchor, Shape},
    },
};

/// Room for the axes' numbers, the legend and the caption.
const MARGINS: area::Margins = [4.6, 2.0, 0.8, 4.4];
/// A hot spot further away than this many pixels is not the one that is meant.
const NEAR_PX: f64 = 12.0;
/// Finer than any printer.
const MOST_POINTS: usize = 2000;

/// What is plotted.
struct Plotted {
    time_s: Vec<f64>,
    measured: Vec<f64>,
    fitted: Vec<f64>,
    /// What the values are, with their unit.
    axis: String,
    said: String,
}

pub fn render(view: &View, at_px: [f64; 2], fit: bool, seen: &TakeSeen<'_>, area: &Area) -> Result<Rendered, Missing> {
    let plotted = if fit { at_spot(at_px, seen)? } else { at_pixel(at_px, seen)? };
    let name = &seen.take.name;
    let no_curve = || Missing(format!("The curve of take '{name}' has no length."));
    let (first, last) = (*plotted.time_s.first().ok_or_else(no_curve)?, *plotted.time_s.last().ok_or_else(no_curve)?);
    let (low, high) =
        view.range.map_or_else(|| ends(&plotted), |(a, b)| Some((a.into(), b.into()))).ok_or_else(no_curve)?;
    if !(last > first && high > low) {
        return Err(no_curve());
    }
    let rect = area.within(MARGINS);
    let flat = Flat::onto([first, high, last, low], rect);
    let mut shapes = vec![Shape::Fill { rect, ink: area.inks.ground, opacity: 1.0 }];
    current(&mut shapes, seen, &flat, rect, area);
    axes(&mut shapes, (first, last), (low, high), &flat, rect, area);
    let unit = area.words_size;
    let path = |values: &[f64]| {
        let step = values.len().div_ceil(MOST_POINTS).max(1);
        let points = plotted.time_s.iter().zip(values).step_by(step).filter(|(_, v)| v.is_finite());
        points.map(|(t, v)| flat.at([*t, *v])).collect::<Vec<_>>()
    };
    let mut put = |points, width, ink, dash| {
        let line = Shape::Line { points, closed: false, width, ink, opacity: 1.0, dash };
        shapes.extend(clip::shape(line, rect));
    };
    put(path(&plotted.measured), 0.09 * unit, area.inks.weak, None);
    put(path(&plotted.fitted), 0.18 * unit, area.inks.words, Some(0.6 * unit));
    shapes.push(furniture::frame(rect, 0.07 * unit, area.inks.words));
    legend(&mut shapes, &plotted, rect, area);
    let simulated = if seen.simulated { ", simulated recording" } else { "" };
    let said = format!("{}, {name}{simulated}", plotted.said);
    let below = [rect[0], rect[1], rect[2], rect[3] + 1.2 * unit];
    furniture::caption(&mut shapes, area, below, &said);
    let placing = ViewPlacing::new(area, rect, Kind::Curve(name.clone()), flat);
    let alt = format!("Curve: {said}; {}, from {low:.2} to {high:.2} over {:.0} s", plotted.axis, last - first);
    Ok(Rendered { picture: None, shapes, placing, alt, time_words: None, ends: area.ends(rect, MARGINS) })
}

/// The nearest hot spot's curve, with what was fitted to it.
fn at_spot(at_px: [f64; 2], seen: &TakeSeen<'_>) -> Result<Plotted, Missing> {
    let name = &seen.take.name;
    let located =
        seen.located.ok_or_else(|| Missing(format!("The fit in take '{name}' is there only after Locate.")))?;
    let distance = |s: &HotSpot| (s.centre_px.x - at_px[0]).hypot(s.centre_px.y - at_px[1]);
    let near = located.hot_spots.iter().enumerate().filter(|(_, s)| distance(s) <= NEAR_PX);
    let (index, spot) = near
        .min_by(|(_, a), (_, b)| distance(a).total_cmp(&distance(b)))
        .ok_or_else(|| Missing(format!("No hot spot of take '{name}' is near the place of this curve.")))?;
    Ok(Plotted {
        time_s: spot.curve.time_s.clone(),
        measured: spot.curve.measured.clone(),
        fitted: spot.curve.fitted.clone(),
        axis: format!("rise, {}", shown::unit(seen.take, Layer::Rise)),
        said: format!("Hot spot {} over time, the first value taken off", index + 1),
    })
}

/// The frames' values at a pixel.
fn at_pixel(at_px: [f64; 2], seen: &TakeSeen<'_>) -> Result<Plotted, Missing> {
    let (take, shape) = (seen.take, seen.take.stack.shape());
    let inside = |v: f64, size: usize| {
        (v.is_finite() && v >= -0.5 && v < size as f64 - 0.5).then(|| v.round().max(0.0) as usize)
    };
    let (x, y) = inside(at_px[0], shape.width_px)
        .zip(inside(at_px[1], shape.height_px))
        .ok_or_else(|| Missing(format!("The place of this curve lies outside the picture of take '{}'.", take.name)))?;
    let offset = f64::from(shown::offset(take, Layer::Frame));
    let pixel = y * shape.width_px + x;
    let value = |frame: usize| {
        let mut one = [f32::NAN];
        take.stack.copy_run(frame, pixel..pixel + 1, &mut one);
        f64::from(one[0]) - offset
    };
    Ok(Plotted {
        time_s: take.timeline.time_s.clone(),
        measured: (0..shape.frames).map(value).collect(),
        fitted: Vec::new(),
        axis: format!("value, {}", shown::unit(take, Layer::Frame)),
        said: format!("Pixel {x}, {y} over time"),
    })
}

fn ends(plotted: &Plotted) -> Option<(f64, f64)> {
    let finite = || plotted.measured.iter().chain(&plotted.fitted).copied().filter(|v| v.is_finite());
    let (low, high) = (finite().reduce(f64::min)?, finite().reduce(f64::max)?);
    let pad = 0.06 * (high - low).max(1e-6);
    Some((low - pad, high + pad))
}

/// When current flowed: a bar along the foot of the plot.
fn current(shapes: &mut Vec<Shape>, seen: &TakeSeen<'_>, flat: &Flat, rect: [f32; 4], area: &Area) {
    let timeline = &seen.take.timeline;
    for (from, to) in on_times(&timeline.time_s, &timeline.injecting) {
        let (x0, x1) = (flat.at([from, 0.0])[0], flat.at([to, 0.0])[0]);
        let filled = Shape::Fill { rect: [x0, rect[1], x1 - x0, rect[3]], ink: area.inks.words, opacity: 0.12 };
        shapes.extend(clip::shape(filled, rect));
    }
}

fn axes(shapes: &mut Vec<Shape>, times: (f64, f64), values: (f64, f64), flat: &Flat, rect: [f32; 4], area: &Area) {
    let [left, top, width, height] = rect;
    let unit = area.words_size;
    let (ticks, decimals) = bars::ticks(values.0, values.1);
    for value in ticks {
        let y = flat.at([0.0, value])[1];
        let line = furniture::line(&[[left, y], [left + width, y]], 0.04 * unit, area.inks.weak);
        let Shape::Line { points, closed, width, ink, dash, .. } = line else { continue };
        shapes.push(Shape::Line { points, closed, width, ink, opacity: 0.4, dash });
        let at = [left - 0.5 * unit, y + 0.3 * unit];
        shapes.push(furniture::words(area, format!("{value:.decimals$}"), at, Anchor::End, area.inks.words));
    }
    let (ticks, decimals) = bars::ticks(times.0, times.1);
    let bottom = top + height;
    for time in ticks {
        let x = flat.at([time, 0.0])[0];
        shapes.push(furniture::line(&[[x, bottom], [x, bottom + 0.4 * unit]], 0.07 * unit, area.inks.words));
        let at = [x, bottom + 1.35 * unit];
        shapes.push(furniture::words(area, format!("{time:.decimals$}"), at, Anchor::Middle, area.inks.words));
    }
    let at = [left + width, bottom + 2.5 * unit];
    shapes.push(furniture::words(area, "time, s", at, Anchor::End, area.inks.words));
}

/// What the lines are, above the plot.
fn legend(shapes: &mut Vec<Shape>, plotted: &Plotted, [left, top, ..]: [f32; 4], area: &Area) {
    let unit = area.words_size;
    let y = top - 0.6 * unit;
    shapes.push(furniture::words(area, plotted.axis.clone(), [left - 4.2 * unit, y], Anchor::Start, area.inks.words));
    let mut x = left + 4.0 * unit;
    let mut entry = |name: &str, sample: Shape| {
        shapes.push(sample);
        shapes.push(furniture::words(area, name, [x + 2.4 * unit, y], Anchor::Start, area.inks.words));
        x += 3.4 * unit + area.fonts.face(false).width(name, area.small());
        x
    };
    let line = |x: f32, width: f32, ink, dash| Shape::Line {
        points: vec![[x, y - 0.3 * unit], [x + 2.0 * unit, y - 0.3 * unit]],
        closed: false,
        width,
        ink,
        opacity: 1.0,
        dash,
    };
    let mut at = entry("measured", line(left + 4.0 * unit, 0.09 * unit, area.inks.weak, None));
    if !plotted.fitted.is_empty() {
        at = entry("fitted", line(at, 0.18 * unit, area.inks.words, Some(0.6 * unit)));
    }
    let swatch =
        Shape::Fill { rect: [at, y - 0.75 * unit, 2.0 * unit, 0.9 * unit], ink: area.inks.words, opacity: 0.12 };
    entry("current flows", swatch);
}
