//! The answer as a picture: the rise map with board, parts, rings, names, colour bar and scale bar.

pub(crate) mod bars;
pub mod compare;
pub(crate) mod marks;
pub mod painter;
pub(crate) mod sheet;
pub(crate) mod stroke;
mod text;
pub(crate) mod vectors;

use std::{io::Cursor, path::Path};

use image::{ImageFormat, Rgb, RgbImage, imageops};
use joulemark_frames::Unit;
use joulemark_locate::Located;
use nalgebra::Point2;
use ndarray::Array2;

use crate::{
    case::{BadInput, atomic, load::Loaded},
    theme::scales,
};
use marks::Marks;
use sheet::Raster;
use stroke::Pen;
use text::Typeface;

/// The map is scaled up by the whole number that brings it nearest to this width.
const MAP_WIDTH: f64 = 1200.0;
const MARGIN: u32 = 24;
const HEAD: u32 = 92;
const FOOT: u32 = 72;
const BAR_ROOM: u32 = 170;
const BAR_WIDTH: f32 = 28.0;
const TITLE: f32 = 34.0;
const BODY: f32 = 24.0;

const GROUND: [u8; 3] = [24, 26, 30];
const TEXT: [u8; 3] = [240, 240, 240];
const WEAK: [u8; 3] = [180, 184, 190];

/// Renders the picture and writes it beside and renames, as PNG.
pub fn write(file: &Path, loaded: &Loaded, located: &Located) -> anyhow::Result<()> {
    save(file, &render(loaded, located)?)
}

/// The picture is replaced when it exists; a recording given by a slip of the hand must not be.
pub fn check_name(out: &Path) -> anyhow::Result<()> {
    if out.extension().is_some_and(|e| e.eq_ignore_ascii_case("png")) {
        Ok(())
    } else {
        Err(BadInput::at(out, "", "the picture is written as PNG", "give a name that ends in .png"))
    }
}

fn save(file: &Path, picture: &RgbImage) -> anyhow::Result<()> {
    let mut bytes = Vec::new();
    picture.write_to(&mut Cursor::new(&mut bytes), ImageFormat::Png)?;
    atomic::write(file, &bytes).map_err(|e| BadInput::unwritable(file, &e))
}

/// Renders the picture.
pub fn render(loaded: &Loaded, located: &Located) -> anyhow::Result<RgbImage> {
    let typeface = Typeface::bundled()?;
    let rise = &located.maps.rise;
    let (height, width) = rise.dim();
    let factor = factor(width);
    let range = range(located);
    let mut map = paint(rise, range, factor);
    Marks::of(loaded, located, factor.into()).draw(&mut Raster { map: &mut map, typeface: &typeface });

    let (map_width, map_height) = (width as u32 * factor, height as u32 * factor);
    let mut canvas = RgbImage::from_pixel(MARGIN + map_width + BAR_ROOM, HEAD + map_height + FOOT, Rgb(GROUND));
    imageops::replace(&mut canvas, &map, MARGIN.into(), HEAD.into());
    let frame = Frame { left: MARGIN as f32, top: HEAD as f32, width: map_width as f32, height: map_height as f32 };
    draw_head(&mut canvas, &typeface, &frame, loaded, located);
    draw_colour_bar(&mut canvas, &typeface, &frame, range, located.unit);
    draw_foot(&mut canvas, &typeface, &frame, factor, loaded, located);
    Ok(canvas)
}

/// Canvas pixels a picture pixel.
pub(crate) fn factor(width: usize) -> u32 {
    (MAP_WIDTH / width.max(1) as f64).round().max(1.0) as u32
}

/// Where the map lies on the canvas.
struct Frame {
    left: f32,
    top: f32,
    width: f32,
    height: f32,
}

/// The value that this share of a map lies below; 0 of an empty one.
fn quantile(map: &Array2<f32>, share: f64) -> f32 {
    let mut values: Vec<f32> = map.iter().copied().filter(|v| v.is_finite()).collect();
    values.sort_unstable_by(f32::total_cmp);
    values.get(((values.len().saturating_sub(1)) as f64 * share).round() as usize).copied().unwrap_or(0.0)
}

/// From zero to the strongest rise, but never so narrow that bare noise fills the scale.
pub(crate) fn range(located: &Located) -> (f32, f32) {
    const TOP: f64 = 0.9995;
    /// Standard errors that the scale spans at least.
    const LEAST_SPAN: f32 = 12.0;
    let strongest = located.hot_spots.iter().map(|s| s.rise.end as f32).fold(0.0, f32::max);
    let noise = quantile(&located.maps.rise_se, 0.5);
    let high = quantile(&located.maps.rise, TOP).max(strongest).max(LEAST_SPAN * noise);
    (0.0, if high > 0.0 { high } else { 1.0 })
}

pub(crate) fn paint(rise: &Array2<f32>, (low, high): (f32, f32), factor: u32) -> RgbImage {
    let (height, width) = rise.dim();
    RgbImage::from_fn(width as u32 * factor, height as u32 * factor, |x, y| {
        let value = rise[[(y / factor) as usize, (x / factor) as usize]];
        Rgb(scales::at(scales::INFERNO, (value - low) / (high - low)))
    })
}

fn draw_head(canvas: &mut RgbImage, typeface: &Typeface, frame: &Frame, loaded: &Loaded, located: &Located) {
    let room = canvas.width() as f32 - 2.0 * frame.left;
    let simulated = if loaded.simulated { " (simulated)" } else { "" };
    let title = format!("{}: {}{simulated}", loaded.board.name, located.take);
    typeface.draw(canvas, &typeface.fit(&title, TITLE, room), [frame.left, 12.0], TITLE, TEXT);
    let what = format!("Rise at the end of injection into {}, face {}", loaded.rail, located.face);
    typeface.draw(canvas, &typeface.fit(&what, BODY, room), [frame.left, 52.0], BODY, WEAK);
}

fn draw_colour_bar(canvas: &mut RgbImage, typeface: &Typeface, frame: &Frame, range: (f32, f32), unit: Unit) {
    let left = frame.left + frame.width + 24.0;
    let caption = match unit {
        Unit::Kelvin => "rise, K",
        Unit::Relative => "rise, relative",
    };
    typeface.draw(canvas, caption, [left, frame.top - 4.0], BODY, TEXT);
    let (top, bottom) = (frame.top + 40.0, frame.top + frame.height - 1.0);
    let rows = (bottom - top) as u32;
    for row in 0..=rows {
        let y = top + row as f32;
        let colour = scales::at(scales::INFERNO, 1.0 - row as f32 / rows.max(1) as f32);
        stroke::fill(canvas, [left, y, left + BAR_WIDTH, y], colour, 1.0);
    }
    let (low, high) = (f64::from(range.0), f64::from(range.1));
    let (values, decimals) = bars::ticks(low, high);
    for value in values {
        let y = bottom - ((value - low) / (high - low)) as f32 * (bottom - top);
        let pen = Pen { colour: TEXT, opacity: 1.0, width: 1.5 };
        stroke::polyline(canvas, &[[left + BAR_WIDTH, y], [left + BAR_WIDTH + 8.0, y]], false, pen);
        let text = format!("{value:.decimals$}");
        let (_, line) = typeface.size(&text, BODY);
        typeface.draw(canvas, &text, [left + BAR_WIDTH + 14.0, y - line / 2.0], BODY, TEXT);
    }
}

fn draw_foot(
    canvas: &mut RgbImage,
    typeface: &Typeface,
    frame: &Frame,
    factor: u32,
    loaded: &Loaded,
    located: &Located,
) {
    let (height, width) = located.maps.rise.dim();
    let centre = Point2::new((width as f64 - 1.0) / 2.0, (height as f64 - 1.0) / 2.0);
    let mm_per_canvas_px = loaded.alignment.mm_per_px(centre) / f64::from(factor);
    let bar_mm = bars::round_at_most(0.2 * f64::from(frame.width) * mm_per_canvas_px);
    let y = frame.top + frame.height + 30.0;
    let text_right = bars::draw_scale_bar(canvas, typeface, [frame.left, y], bar_mm, 1.0 / mm_per_canvas_px);

    let noise = match located.unit {
        Unit::Kelvin => format!("noise {:.3} K a frame", located.noise.netd),
        Unit::Relative => "relative take, no temperature".to_owned(),
    };
    let found = if located.hot_spots.is_empty() {
        "nothing above the noise".to_owned()
    } else {
        "ring: 95 % of the spot's centre; heavy frame: suspect; bold parts: on the rail".to_owned()
    };
    let legend_left = text_right + 40.0;
    let room = canvas.width() as f32 - frame.left - legend_left;
    let legend = typeface.fit(&format!("{found}; {noise}"), BODY, room);
    let (_, line) = typeface.size(&legend, BODY);
    typeface.draw(canvas, &legend, [legend_left, y - line / 2.0], BODY, WEAK);
}
