//! Rise maps with board, parts and hot spots as vectors over the picture, with colour bar and scale bar.

use joulemark_locate::Located;
use nalgebra::Point2;

use super::{Block, Known, Section, curve, words};
use crate::{
    case::told::Told,
    picture::{self, bars, marks::Marks, vectors::Vectors},
    report::{
        drawing::{Anchor, BLACK, Drawing, Raster, Shape},
        typeface::Fonts,
    },
    theme::scales,
};

const WIDTH: f32 = 480.0;
/// The map is at most this large; the rest is for the colour bar.
const MOST_WIDTH: f32 = 405.0;
const MOST_HEIGHT: f32 = 310.0;
/// Canvas pixels over the map's width: marks are made for a canvas, and this gives names their size on paper.
const CANVAS: usize = 780;
const BAR_STEPS: u32 = 128;
const SMALL: f32 = 8.2;

/// `None` where nothing could be located.
pub fn section(known: &Known<'_>, fonts: &Fonts) -> anyhow::Result<Option<Section>> {
    let takes = known.takes;
    let found: Vec<_> = takes.all().filter_map(|shown| Some((shown, shown.found()?))).collect();
    if found.is_empty() {
        return Ok(None);
    }
    // One range for all maps, so that before and after can be compared by eye.
    let high = found.iter().map(|(_, told)| picture::range(&told.located).1).fold(0.0, f32::max);
    let mut blocks = Vec::new();
    for (shown, told) in found {
        if takes.after.is_some() {
            blocks.push(Block::Sub(format!("{}, {}", shown.entry.name, words::stage(known.case, shown.entry.after))));
        }
        blocks.push(Block::Drawing { drawing: map(told, (0.0, high), fonts)?, caption: caption(told) });
        blocks.extend(curve::curve(told));
    }
    Ok(Some(Section::new("Pictures", blocks)))
}

fn caption(told: &Told) -> String {
    let (loaded, located) = (&told.loaded, &told.located);
    let simulated = if loaded.simulated { "Simulated recording. " } else { "" };
    let found = if located.hot_spots.is_empty() {
        "Nothing above the noise"
    } else {
        "Ring with ticks: 95 % of the spot's centre; heavy frame: suspect; bold outlines: parts on the rail"
    };
    let noise = match located.unit {
        joulemark_frames::Unit::Kelvin => format!("noise {:.3} K a frame", located.noise.netd),
        joulemark_frames::Unit::Relative => "relative values, no temperature".to_owned(),
    };
    format!(
        "{simulated}{}: rise at the end of injection into {}, face {}. {found}; {noise}.",
        located.take, loaded.rail, located.face
    )
}

fn map(told: &Told, range: (f32, f32), fonts: &Fonts) -> anyhow::Result<Drawing> {
    let located = &told.located;
    let (rows, columns) = located.maps.rise.dim();
    let (rows, columns) = (rows.max(1) as f32, columns.max(1) as f32);
    let scale = (MOST_WIDTH / columns).min(MOST_HEIGHT / rows);
    let (width, height) = (columns * scale, rows * scale);
    let mut drawing = Drawing::new(WIDTH, height + 26.0, alt(located));
    let raster = Raster::of(&picture::paint(&located.maps.rise, range, 1))?;
    drawing.shapes.push(Shape::Picture { rect: [0.0, 0.0, width, height], raster });
    let factor = (CANVAS as f32 / columns).round().max(1.0);
    let rect = [0.0, 0.0, width, height];
    let mut vectors = Vectors { shapes: &mut drawing.shapes, fonts, scale: scale / factor, rect };
    Marks::of(&told.loaded, located, factor.into()).draw(&mut vectors);
    drawing.frame([0.0, 0.0, width, height], 0.6, BLACK);
    colour_bar(&mut drawing, width, height, range, words::unit(located.unit))?;
    scale_bar(&mut drawing, told, scale, width, height);
    Ok(drawing)
}

fn alt(located: &Located) -> String {
    let spots = located.hot_spots.iter().enumerate();
    let spots: Vec<String> =
        spots.map(|(i, s)| format!("hot spot {} at {:.1}, {:.1} mm", i + 1, s.centre_mm.x, s.centre_mm.y)).collect();
    let spots = if spots.is_empty() { "no hot spot".to_owned() } else { spots.join(", ") };
    format!("Map of the rise on face {}: {spots}", located.face)
}

fn colour_bar(
    drawing: &mut Drawing,
    map_width: f32,
    map_height: f32,
    (low, high): (f32, f32),
    unit: &str,
) -> anyhow::Result<()> {
    let (left, top) = (map_width + 16.0, 16.0);
    let height = map_height - top;
    drawing.words(format!("rise, {unit}"), [left, 8.5], SMALL, Anchor::Start);
    let strip = image::RgbImage::from_fn(1, BAR_STEPS, |_, y| {
        image::Rgb(scales::at(scales::INFERNO, 1.0 - y as f32 / (BAR_STEPS - 1) as f32))
    });
    let rect = [left, top, 11.0, height];
    drawing.shapes.push(Shape::Picture { rect, raster: Raster::of(&strip)? });
    drawing.frame(rect, 0.5, BLACK);
    let (values, decimals) = bars::ticks(low.into(), high.into());
    for value in values {
        let y = top + height * (1.0 - ((value as f32 - low) / (high - low).max(f32::MIN_POSITIVE)));
        drawing.line(&[[left + 11.0, y], [left + 14.5, y]], 0.6, BLACK);
        drawing.words(format!("{value:.decimals$}"), [left + 17.0, y + 2.9], SMALL, Anchor::Start);
    }
    Ok(())
}

/// Millimetres at the picture's middle.
fn scale_bar(drawing: &mut Drawing, told: &Told, pt_per_px: f32, map_width: f32, map_height: f32) {
    let (rows, columns) = told.located.maps.rise.dim();
    let centre = Point2::new((columns as f64 - 1.0) / 2.0, (rows as f64 - 1.0) / 2.0);
    let mm_per_pt = told.loaded.alignment.mm_per_px(centre) / f64::from(pt_per_px);
    let long_mm = bars::round_at_most(0.25 * f64::from(map_width) * mm_per_pt);
    let long = (long_mm / mm_per_pt) as f32;
    if !long.is_finite() {
        return;
    }
    let y = map_height + 14.0;
    drawing.line(&[[0.5, y], [0.5 + long, y]], 1.4, BLACK);
    drawing.line(&[[0.5, y - 4.0], [0.5, y + 4.0]], 1.0, BLACK);
    drawing.line(&[[0.5 + long, y - 4.0], [0.5 + long, y + 4.0]], 1.0, BLACK);
    drawing.words(format!("{long_mm} mm"), [long + 8.0, y + 3.0], SMALL, Anchor::Start);
}
