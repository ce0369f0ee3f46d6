//! The photo of a face, squared up, with the outlines of its parts where they are asked for.

use image::{Rgb, RgbImage, RgbaImage};
use joulemark_locate::align::Alignment;
use nalgebra::Point2;

use super::{
    Area, Missing, Pixels, Rendered, Sources, ViewPlacing,
    face::{self, Pens},
    furniture,
    placing::{Flat, Kind},
};
use crate::{lesson::View, photo, report::drawing::BLACK};

/// Longest side that is drawn, in pixels.
const MOST_PX: f32 = 2400.0;
/// Samples of the file each way that one pixel is the mean of, at most.
const MOST_SAMPLES: usize = 4;

pub fn render(
    view: &View,
    name: &str,
    outlines: bool,
    sources: &Sources<'_>,
    area: &Area,
) -> Result<Rendered, Missing> {
    let face = sources.board.face(name).ok_or_else(|| Missing(format!("Face '{name}' is not on this board.")))?;
    let none = || Missing(format!("Face '{name}' has no photo, or its file could not be read."));
    let placed = face.photo.as_ref().ok_or_else(none)?;
    let loaded = (sources.photo)(name).ok_or_else(none)?;
    let squaring =
        photo::squaring(placed).map_err(|e| Missing(format!("The photo of face '{name}' is not squared up: {e}.")))?;

    let whole = if face.outline.len() > 2 || !face.parts.is_empty() {
        face::extent_mm(face)
    } else {
        [0.0, 0.0, placed.width_mm, placed.height_mm]
    };
    let (rect, flat) = face::place(view, whole, area);
    let image = squared_up(&loaded.image, loaded.size_px, &squaring, rect, &flat, area);
    let mut shapes = Vec::new();
    if outlines {
        let pens = Pens { ink: [255; 3], halo: Some(BLACK) };
        face::lines(&mut shapes, sources.board, face, None, &flat, area, rect, pens);
    }
    shapes.push(furniture::frame(rect, 0.06 * area.words_size, area.inks.words));
    furniture::scale_bar(&mut shapes, area, rect, 1.0 / flat.scale[0]);
    let said = format!("Photo of face {name}");
    furniture::caption(&mut shapes, area, rect, &said);
    let placing = ViewPlacing::new(area, rect, Kind::Face(name.to_owned()), flat);
    Ok(Rendered {
        picture: Some(Pixels { image, rect, smooth: true }),
        shapes,
        placing,
        alt: said,
        time_words: None,
        ends: area.ends(rect, face::MARGINS),
    })
}

/// The photo as the face is looked at squarely; where it has no pixels, the ground.
fn squared_up(
    photo: &RgbaImage,
    size_px: [u32; 2],
    squaring: &Alignment,
    rect: [f32; 4],
    flat: &Flat,
    area: &Area,
) -> RgbImage {
    let dots = area.dots.min(MOST_PX / rect[2].max(rect[3]).max(1.0));
    let (columns, rows) = ((rect[2] * dots).round().max(1.0) as u32, (rect[3] * dots).round().max(1.0) as u32);
    // A reduced photo still counts in the pixels of its file.
    let reduced = [
        f64::from(photo.width()) / f64::from(size_px[0].max(1)),
        f64::from(photo.height()) / f64::from(size_px[1].max(1)),
    ];
    let step = [f64::from(rect[2]) / f64::from(columns), f64::from(rect[3]) / f64::from(rows)];
    let at = |x: f64, y: f64| {
        let own = [f64::from(rect[0]) + x * step[0], f64::from(rect[1]) + y * step[1]];
        let mm = [0, 1].map(|i| (own[i] - flat.shift[i]) / flat.scale[i]);
        let px = squaring.to_image(Point2::from(mm));
        [(px.x + 0.5) * reduced[0], (px.y + 0.5) * reduced[1]]
    };
    let (middle, beside) = (at(f64::from(columns) / 2.0, 0.0), at(f64::from(columns) / 2.0 + 1.0, 0.0));
    let apart = (beside[0] - middle[0]).hypot(beside[1] - middle[1]);
    let samples = if apart.is_finite() { (apart.ceil() as usize).clamp(1, MOST_SAMPLES) } else { 1 };
    RgbImage::from_fn(columns, rows, |x, y| {
        let mut sum = [0.0_f64; 3];
        for i in 0..samples * samples {
            let part = |n: usize| (n as f64 + 0.5) / samples as f64;
            let [px, py] = at(f64::from(x) + part(i % samples), f64::from(y) + part(i / samples));
            let inside = px >= 0.0 && py >= 0.0 && px < f64::from(photo.width()) && py < f64::from(photo.height());
            let ground = area.inks.ground.map(f64::from);
            let colour = if inside {
                let [r, g, b, a] = photo.get_pixel(px as u32, py as u32).0.map(f64::from);
                let over = |c: f64, under: f64| under + (c - under) * a / 255.0;
                [over(r, ground[0]), over(g, ground[1]), over(b, ground[2])]
            } else {
                ground
            };
            sum = std::array::from_fn(|c| sum[c] + colour[c]);
        }
        Rgb(sum.map(|v| (v / (samples * samples) as f64).round() as u8))
    })
}
