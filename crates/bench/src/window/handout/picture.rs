//! The picture of a step on the screen. It is drawn anew only when what it shows or where it lies changed.

use egui::{ColorImage, Context, Painter, Rect, TextureHandle, TextureOptions, Vec2, pos2, vec2};

use super::{paint, sources};
use crate::{
    lesson::{
        View, Zoom,
        place::Placing,
        render::{Area, Inks, Missing, Rendered, Sources, ViewPlacing, render},
    },
    report::{drawing::Shape, typeface::Fonts},
    window::session::Session,
};

/// Closest look: so little of a picture, in pixels or millimetres.
const LEAST_ACROSS: f64 = 0.5;
/// Pixels a point while only the layout is asked for.
const COARSE: f32 = 0.05;

/// What a picture was drawn from.
#[derive(Clone, Debug, PartialEq)]
struct Key {
    session: u64,
    /// How often the case changed.
    changes: u64,
    take: Option<u64>,
    photos: usize,
    view: View,
    room: Rect,
    words_size: f32,
    dots: f32,
}

/// See the module.
#[derive(Default)]
pub struct Picture {
    key: Option<Key>,
    drawn: Option<Result<Rendered, Missing>>,
    ground: Option<TextureHandle>,
    inner: Vec<TextureHandle>,
    /// How often it was drawn; for tests.
    pub rebuilds: u64,
}

impl std::fmt::Debug for Picture {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Picture").field("key", &self.key).field("rebuilds", &self.rebuilds).finish_non_exhaustive()
    }
}

impl Picture {
    /// Brings the picture up to date; does nothing when it is.
    pub fn update(
        &mut self,
        ctx: &Context,
        session: &Session,
        photos: &sources::Photos,
        view: &View,
        room: Rect,
        words_size: f32,
    ) {
        let take = view.shows.take().and_then(|t| session.views.get(t)).map(|v| v.serial);
        let key = Key {
            session: session.serial,
            changes: session.changes(),
            take,
            photos: photos.count(),
            view: view.clone(),
            room,
            words_size,
            dots: ctx.pixels_per_point(),
        };
        if self.key.as_ref() == Some(&key) {
            return;
        }
        let drawn = sources::with(session, photos, |sources| in_the_middle(sources, &key));
        self.load(ctx, drawn.as_ref().ok());
        (self.key, self.drawn) = (Some(key), Some(drawn));
        self.rebuilds += 1;
    }

    fn load(&mut self, ctx: &Context, drawn: Option<&Rendered>) {
        let texture = |name: &str, image: &image::RgbImage, smooth: bool| {
            let size = [image.width() as usize, image.height() as usize];
            let options = if smooth { TextureOptions::LINEAR } else { TextureOptions::NEAREST };
            ctx.load_texture(name, ColorImage::from_rgb(size, image.as_raw()), options)
        };
        let pixels = drawn.and_then(|d| d.picture.as_ref());
        self.ground = pixels.map(|p| texture("step", &p.image, p.smooth));
        let rasters = drawn.into_iter().flat_map(|d| &d.shapes).filter_map(|s| match s {
            Shape::Picture { raster, .. } => Some(raster),
            _ => None,
        });
        // A picture that cannot be read back leaves an empty one, so that the others keep their order.
        let decoded = rasters.map(|r| image::load_from_memory(&r.png).map(|i| i.to_rgb8()).unwrap_or_default());
        self.inner = decoded.map(|image| texture("within a step", &image, true)).collect();
    }

    /// From places to the screen; nothing while there is no picture.
    pub fn placing(&self) -> Option<&dyn Placing> {
        self.view_placing().map(|p| p as &dyn Placing)
    }

    fn view_placing(&self) -> Option<&ViewPlacing> {
        self.drawn.as_ref()?.as_ref().ok().map(|d| &d.placing)
    }

    /// Where the picture itself lies, without what stands beside it.
    pub fn rect(&self) -> Option<Rect> {
        let [x, y, w, h] = self.placing()?.rect();
        Some(Rect::from_min_size(pos2(x, y), vec2(w, h)))
    }

    /// Why there is no picture.
    pub fn fault(&self) -> Option<&str> {
        self.drawn.as_ref()?.as_ref().err().map(|m| m.0.as_str())
    }

    /// What it shows, for who cannot see it.
    pub fn alt(&self) -> &str {
        self.drawn.as_ref().and_then(|d| d.as_ref().ok()).map_or("", |d| d.alt.as_str())
    }

    /// Draws it, without marks.
    pub fn paint(&self, painter: &Painter) {
        let Some(Ok(drawn)) = &self.drawn else {
            return;
        };
        if let (Some(ground), Some(pixels)) = (&self.ground, &drawn.picture) {
            paint::picture(painter, pixels.rect, ground);
        }
        paint::shapes(painter, &drawn.shapes, &self.inner);
    }

    /// The part shown after zooming about a point of the screen, or about the middle. `None` where there is nothing to zoom.
    pub fn zoomed(&self, factor: f32, about: Option<[f32; 2]>) -> Option<Zoom> {
        let placing = self.view_placing()?;
        let about = about.unwrap_or_else(|| self.rect().map(|r| r.center().into()).unwrap_or_default());
        let zoom = placing.zoom(about, f64::from(factor))?;
        (zoom.across >= LEAST_ACROSS || factor < 1.0).then_some(zoom)
    }

    /// The part shown after the picture was moved by points of the screen.
    pub fn panned(&self, by: Vec2) -> Option<Zoom> {
        let placing = self.view_placing()?;
        let zoom = placing.zoom([0.0, 0.0], 1.0)?;
        let scale = placing.flat().scale;
        Some(Zoom { middle: [0, 1].map(|i| zoom.middle[i] - f64::from(by[i]) / scale[i]), ..zoom })
    }
}

/// Draws a view in the middle of its room: what is drawn begins at the upper left of the area that it is given.
fn in_the_middle(sources: &Sources<'_>, key: &Key) -> Result<Rendered, Missing> {
    let fonts = Fonts::shared().map_err(|e| Missing(format!("The fonts cannot be read: {e}.")))?;
    let area = |room: Rect, dots| Area {
        rect: [room.left(), room.top(), room.width(), room.height()],
        words_size: key.words_size,
        dots,
        inks: Inks::DARK,
        fonts,
    };
    let first = render(&key.view, sources, &area(key.room, COARSE))?;
    let [x, y, w, h] = first.placing.rect();
    let drawn = Rect::from_min_size(pos2(x, y), vec2(w, h));
    // What stands beside the picture keeps its room on the right and below.
    let beside = first.shapes.iter().fold(drawn, |all, shape| all.union(paint::rough(shape, fonts)));
    let spare = (key.room.max - beside.max).max(Vec2::ZERO) / 2.0;
    render(&key.view, sources, &area(Rect::from_min_max(key.room.min + spare, key.room.max - spare), key.dots))
}
