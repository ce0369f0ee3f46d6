//! Rise maps with board, parts and hot spots as vectors over the picture, with colour bar and scale bar.

use joulemark_locate::Located;
use nalgebra::Point2;

use super::{Block, Known, Section, curve, words};
use crate::{
    case::told::Told,
    picture::{
        self, bars,
        marks::Marks,
        sheet::Sheet,
        stroke::{At, Pen},
    },
    report::{
        drawing::{Anchor, BLACK, Drawing, Ink, Raster, Shape},
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
/// Height of a line of Open Sans in ems: ascender 1.069, descender 0.293 (the font's own table `hhea`).
const LINE_EMS: f32 = 1.362;
const ASCENDER_EMS: f32 = 1.069;

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
    let factor = (CANVAS as f32 / columns).round().max(1.0) as u32;
    let mut vectors = Vectors { drawing: &mut drawing, fonts, scale: scale / factor as f32, size: [width, height] };
    Marks { loaded: &told.loaded, located, factor }.draw(&mut vectors);
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

/// Marks as vectors: canvas pixels become points, and nothing leaves the picture.
struct Vectors<'a> {
    drawing: &'a mut Drawing,
    fonts: &'a Fonts,
    /// Points a canvas pixel.
    scale: f32,
    /// Of the map, points.
    size: [f32; 2],
}

impl Vectors<'_> {
    /// Centres of canvas pixels are at integers.
    fn at(&self, [x, y]: At) -> [f32; 2] {
        [(x + 0.5) * self.scale, (y + 0.5) * self.scale]
    }
}

impl Sheet for Vectors<'_> {
    fn size(&self) -> [f32; 2] {
        self.size.map(|s| s / self.scale)
    }

    fn line(&mut self, points: &[At], closed: bool, pen: Pen) {
        let points: Vec<[f32; 2]> = points.iter().map(|p| self.at(*p)).collect();
        let [w, h] = self.size;
        let inside = |[x, y]: &[f32; 2]| (0.0..=w).contains(x) && (0.0..=h).contains(y);
        let width = pen.width * self.scale;
        let mut put = |points: Vec<[f32; 2]>, closed| {
            let (ink, opacity) = (pen.colour, pen.opacity);
            self.drawing.shapes.push(Shape::Line { points, closed, width, ink, opacity, dash: None });
        };
        if points.iter().all(inside) {
            put(points, closed);
            return;
        }
        let pieces = if closed { points.len() } else { points.len().saturating_sub(1) };
        for i in 0..pieces {
            if let Some(piece) = clipped(points[i], points[(i + 1) % points.len()], [w, h]) {
                put(piece.to_vec(), false);
            }
        }
    }

    fn plate(&mut self, [x0, y0, x1, y1]: [f32; 4], ink: Ink, opacity: f32) {
        let rect = [x0 * self.scale, y0 * self.scale, (x1 - x0) * self.scale, (y1 - y0) * self.scale];
        self.drawing.shapes.push(Shape::Fill { rect, ink, opacity });
    }

    fn words(&mut self, text: &str, [x, y]: At, height: f32, ink: Ink) {
        let size = height * self.scale / LINE_EMS;
        let at = [x * self.scale, y * self.scale + ASCENDER_EMS * size];
        let text = text.to_owned();
        self.drawing.shapes.push(Shape::Words { text, at, size, bold: true, anchor: Anchor::Start, ink });
    }

    fn words_size(&self, text: &str, height: f32) -> (f32, f32) {
        (self.fonts.face(true).width(text, height / LINE_EMS), height)
    }
}

/// The piece of a line within the picture (Liang and Barsky, ACM Trans. Graph. 3 (1984) 1).
fn clipped(a: [f32; 2], b: [f32; 2], size: [f32; 2]) -> Option<[[f32; 2]; 2]> {
    let (mut from, mut to) = (0.0_f32, 1.0_f32);
    for axis in 0..2 {
        let along = b[axis] - a[axis];
        for (way, room) in [(-along, a[axis]), (along, size[axis] - a[axis])] {
            if way == 0.0 {
                if room < 0.0 {
                    return None;
                }
            } else if way < 0.0 {
                from = from.max(room / way);
            } else {
                to = to.min(room / way);
            }
        }
    }
    let at = |t: f32| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
    (from < to).then(|| [at(from), at(to)])
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_at_the_pictures_edge() {
        let size = [10.0, 10.0];
        assert_eq!(clipped([-5.0, 5.0], [15.0, 5.0], size), Some([[0.0, 5.0], [10.0, 5.0]]));
        assert_eq!(clipped([2.0, 2.0], [4.0, 2.0], size), Some([[2.0, 2.0], [4.0, 2.0]]));
        assert_eq!(clipped([-5.0, -1.0], [15.0, -1.0], size), None);
        assert_eq!(clipped([-1.0, 2.0], [-1.0, 4.0], size), None);
        assert_eq!(clipped([5.0, 5.0], [5.0, 20.0], size), Some([[5.0, 5.0], [5.0, 10.0]]));
    }
}
