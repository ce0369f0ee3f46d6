//! A layer of a take, with board, parts and answer over it where they are asked for.

use nalgebra::Point2;

use super::{
    Area, Missing, Pixels, Rendered, Sources, TakeSeen, ViewPlacing, area, furniture,
    placing::{Flat, Kind},
};
use crate::{
    layer::{Layer, colour, shown, values},
    lesson::View,
    picture::{
        marks::{LABEL_HEIGHT, Marks},
        vectors::{LINE_EMS, Vectors},
    },
    report::drawing::Shape,
    theme::scales,
};

/// Room for the colour bar and for two lines below.
const MARGINS: area::Margins = [0.0, 0.3, 5.4, 3.2];

/// What is asked of a take.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    pub layer: Layer,
    pub frame: usize,
    pub outlines: bool,
    pub answer: bool,
}

pub fn render(
    view: &View,
    asked: Asked,
    seen: &TakeSeen<'_>,
    sources: &Sources<'_>,
    area: &Area,
) -> Result<Rendered, Missing> {
    let Asked { layer, frame, outlines, answer } = asked;
    let (take, shape) = (seen.take, seen.take.stack.shape());
    if (layer.needs_answer() || answer) && seen.located.is_none() {
        let what = if layer.needs_answer() { layer.words() } else { "Hot spots and suspects" };
        return Err(Missing(format!("{what} of take '{}' can be shown only after Locate.", take.name)));
    }
    if layer.follows_time() && frame >= shape.frames {
        let (name, frames) = (&take.name, shape.frames);
        return Err(Missing(format!("Take '{name}' has {frames} frames; the step shows frame {}.", frame + 1)));
    }
    let mut values = Vec::new();
    if !values::fill(take, seen.located, layer, frame, &mut values) {
        return Err(Missing(format!(
            "{} of take '{}' does not fit its frames: locate it again.",
            layer.words(),
            take.name
        )));
    }

    let room = area.within(MARGINS);
    let window = whole_pixels(
        area::seen(whole(shape.width_px, shape.height_px), view.zoom, room),
        shape.width_px,
        shape.height_px,
    );
    let [left, top, wide, high] = window;
    let rect = area::fitted(room, wide as f64, high as f64);
    let range = view.range.filter(|(a, b)| b > a).unwrap_or_else(|| seen.ranges.of(layer));
    let table = colour::table(scales::INFERNO);
    let image =
        colour::Map { values: &values, clipped: seen.clipped, width_px: shape.width_px }.paint(window, range, &table);

    let mut shapes = Vec::new();
    if let Some(alignment) = seen.alignment.filter(|_| outlines || answer) {
        // Names in the marks come out at nine tenths of ordinary words.
        let scale = 0.9 * area.words_size * LINE_EMS / LABEL_HEIGHT;
        let factor = f64::from(rect[2]) / wide as f64 / f64::from(scale);
        let marks = Marks {
            board: sources.board,
            face: seen.face,
            rail: sources.rail,
            alignment,
            located: seen.located,
            factor,
            corner_px: [left as f64, top as f64],
            outlines,
            answer,
        };
        marks.draw(&mut Vectors { shapes: &mut shapes, fonts: area.fonts, scale, rect });
    }
    shapes.push(furniture::frame(rect, 0.06 * area.words_size, area.inks.words));

    let corner = [left as f64 - 0.5, top as f64 - 0.5];
    let flat = Flat::onto([corner[0], corner[1], corner[0] + wide as f64, corner[1] + high as f64], rect);
    let (said, time_words) = beside(&mut shapes, asked, seen, area, rect, &flat);
    let offset = shown::offset(take, layer);
    let ends = (range.0 - offset, range.1 - offset);
    furniture::colour_bar(&mut shapes, area, rect, ends, shown::unit(take, layer), &table);

    let face = seen.alignment.map(|a| (seen.face.to_owned(), Box::new(a.clone())));
    let placing = ViewPlacing::new(area, rect, Kind::Map { take: take.name.clone(), face }, flat);
    let unit = shown::unit(take, layer);
    let alt = format!("{said}; colours from {:.2} to {:.2} {unit}{}", ends.0, ends.1, answer_in_words(asked, seen));
    Ok(Rendered {
        picture: Some(Pixels { image, rect, smooth: false }),
        shapes,
        placing,
        alt,
        time_words,
        ends: area.ends(rect, MARGINS),
    })
}

/// Scale bar, time and what the picture is; gives the latter, and which shape says the time.
fn beside(
    shapes: &mut Vec<Shape>,
    asked: Asked,
    seen: &TakeSeen<'_>,
    area: &Area,
    rect: [f32; 4],
    flat: &Flat,
) -> (String, Option<usize>) {
    if let Some(alignment) = seen.alignment {
        let [x, y, w, h] = rect.map(f64::from);
        let middle = [(x + w / 2.0 - flat.shift[0]) / flat.scale[0], (y + h / 2.0 - flat.shift[1]) / flat.scale[1]];
        let mm_per_px = alignment.mm_per_px(Point2::from(middle));
        furniture::scale_bar(shapes, area, rect, mm_per_px / flat.scale[0]);
    }
    let mut time_words = None;
    let time = asked.layer.follows_time().then(|| time(seen, asked.frame));
    if let Some(time) = &time {
        time_words = Some(shapes.len());
        furniture::beside_scale(shapes, area, rect, time);
    }
    let simulated = if seen.simulated { ", simulated recording" } else { "" };
    let said = format!("{}, {}{simulated}", asked.layer.words(), seen.take.name);
    furniture::caption(shapes, area, rect, &said);
    (time.map_or(said.clone(), |time| format!("{said}, at {time}")), time_words)
}

/// When a frame was taken, and whether current flowed.
pub fn time(seen: &TakeSeen<'_>, frame: usize) -> String {
    let timeline = &seen.take.timeline;
    let time = timeline.time_s.get(frame).map_or_else(|| format!("frame {}", frame + 1), |t| format!("{t:.1} s"));
    match timeline.injecting.get(frame) {
        Some(true) => format!("{time}, current on"),
        Some(false) => format!("{time}, current off"),
        None => time,
    }
}

fn answer_in_words(asked: Asked, seen: &TakeSeen<'_>) -> String {
    let Some(located) = seen.located.filter(|_| asked.answer) else { return String::new() };
    let spots = located.hot_spots.iter().enumerate();
    let spots = spots.map(|(i, s)| format!("; hot spot {} at {:.1}, {:.1} mm", i + 1, s.centre_mm.x, s.centre_mm.y));
    let first = located.leading().and_then(|(_, answer)| answer.suspects.first());
    let first = first.map(|s| format!("; first suspect {}, {}", s.part, crate::numbers::percent(s.probability)));
    let all: String = spots.chain(first).collect();
    if all.is_empty() { "; nothing above the noise".to_owned() } else { all }
}

/// All pixels: centres are at integers.
fn whole(width_px: usize, height_px: usize) -> [f64; 4] {
    [-0.5, -0.5, width_px as f64 - 0.5, height_px as f64 - 0.5]
}

/// The pixels that a window touches: left, top, width, height. Whole ones, so that the picture ends where the window does.
fn whole_pixels([left, top, right, bottom]: [f64; 4], width_px: usize, height_px: usize) -> [usize; 4] {
    let span = |from: f64, to: f64, size: usize| {
        let first = ((from + 0.5).floor().max(0.0) as usize).min(size.saturating_sub(1));
        let end = ((to + 0.5).ceil().max(0.0) as usize).clamp(first + 1, size.max(1));
        (first, end - first)
    };
    let ((x, w), (y, h)) = (span(left, right, width_px), span(top, bottom, height_px));
    [x, y, w, h]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_are_whole_pixels() {
        assert_eq!(whole_pixels(whole(160, 120), 160, 120), [0, 0, 160, 120]);
        assert_eq!(whole_pixels([9.6, 9.4, 20.4, 20.6], 160, 120), [10, 9, 11, 13]);
        assert_eq!(whole_pixels([159.4, 0.0, 159.5, 0.1], 160, 120), [159, 0, 1, 1]);
    }
}
