//! What a step shows, drawn from the case: one way for the screen, a picture and paper.
//!
//! Everything is in the units of the [`Area`] that it is drawn on: points of a page or of the screen, or pixels.

mod area;
mod curve;
mod face;
mod furniture;
mod map;
mod missing;
mod photo;
mod placing;
mod sources;

pub use area::{Area, Inks};
pub use map::time;
pub use missing::Missing;
pub use placing::ViewPlacing;
pub use sources::{Sources, TakeSeen};

use image::RgbImage;

use super::{Lesson, Shows, View, What, shapes};
use crate::report::{
    clip,
    drawing::{Drawing, Raster, Shape},
};

/// A view, drawn.
#[derive(Clone, Debug)]
pub struct Rendered {
    /// Pixels, below everything else.
    pub picture: Option<Pixels>,
    /// Outlines, names, scale bar, colour bar, axes: the first one below. Marks come over them.
    pub shapes: Vec<Shape>,
    /// Where places of the case lie.
    pub placing: ViewPlacing,
    /// What it shows, for who cannot see it.
    pub alt: String,
    /// Which of the shapes says when the frame was taken, where one does.
    pub time_words: Option<usize>,
    /// Right and lower end of what was drawn: a picture seldom has the shape of its area.
    pub ends: [f32; 2],
}

/// Pixels in their place.
#[derive(Clone, Debug)]
pub struct Pixels {
    /// The pixels; not yet encoded, since frames are played.
    pub image: RgbImage,
    /// Left, top, width, height.
    pub rect: [f32; 4],
    /// Whether neighbours run into each other when it is made larger: photos do, pixels of a recording stay apart.
    pub smooth: bool,
}

/// Draws what a step shows, without its marks.
///
/// # Errors
/// When something that it shows is not there; one sentence.
pub fn render(view: &View, sources: &Sources<'_>, area: &Area) -> Result<Rendered, Missing> {
    match &view.shows {
        Shows::Words => {
            let (placing, ends) = (ViewPlacing::nothing(area), [area.rect[0], area.rect[1]]);
            Ok(Rendered { picture: None, shapes: Vec::new(), placing, alt: String::new(), time_words: None, ends })
        }
        Shows::Map { take, layer, frame, outlines, answer } => {
            let seen = sources.of_take(take)?;
            let asked = map::Asked { layer: *layer, frame: *frame, outlines: *outlines, answer: *answer };
            map::render(view, asked, &seen, sources, area)
        }
        Shows::Photo { face, outlines } => photo::render(view, face, *outlines, sources, area),
        Shows::Drawing { face, rail } => face::render(view, face, rail.as_deref(), sources, area),
        Shows::Curve { take, at_px, fit } => curve::render(view, *at_px, *fit, &sources.of_take(take)?, area),
    }
}

/// A step as one drawing, as large as the area or smaller: view and the marks in sight, none of which leaves the picture.
///
/// # Errors
/// Those of [`render`].
pub fn step_drawing(
    lesson: &Lesson,
    step: usize,
    revealed: u32,
    sources: &Sources<'_>,
    area: &Area,
) -> anyhow::Result<Drawing> {
    let empty = View::default();
    let view = lesson.steps.get(step).map_or(&empty, |s| &s.view);
    let rendered = render(view, sources, area)?;
    let mut drawing = Drawing::new(rendered.ends[0], rendered.ends[1], rendered.alt.clone());
    if let Some(Pixels { image, rect, .. }) = &rendered.picture {
        drawing.shapes.push(Shape::Picture { rect: *rect, raster: Raster::of(image)? });
    }
    drawing.shapes.extend(rendered.shapes.iter().cloned());
    drawing.shapes.extend(marks(lesson, step, revealed, &rendered.placing));
    drawing.alt += &callouts(lesson, step, revealed);
    Ok(drawing)
}

/// The marks in sight in a step, cut to its picture.
pub fn marks(lesson: &Lesson, step: usize, revealed: u32, placing: &ViewPlacing) -> Vec<Shape> {
    let marks = lesson.marks_in_sight(step, revealed).into_iter();
    let rect = super::place::Placing::rect(placing);
    marks.flat_map(|mark| shapes::shapes(mark, placing)).flat_map(|shape| clip::shape(shape, rect)).collect()
}

/// Callouts and words of marks in sight, to follow a view's own description.
pub fn callouts(lesson: &Lesson, step: usize, revealed: u32) -> String {
    let marks = lesson.marks_in_sight(step, revealed).into_iter();
    let said = marks.filter_map(|mark| match &mark.what {
        What::Callout { number, text, .. } => Some(format!("; callout {number}: {}", one_line(text))),
        What::Text { text, .. } => Some(format!("; marked: {}", one_line(text))),
        _ => None,
    });
    said.collect()
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests;
