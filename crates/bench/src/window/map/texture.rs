//! The map as a texture, rebuilt only when what it shows changed.

use egui::{Color32, ColorImage, Context, TextureHandle, TextureOptions};
use joulemark_frames::StackShape;

use super::{
    super::{
        screen::{Layer, Range, Screen},
        session::TakeView,
    },
    patterns,
};
use crate::{layer::values, theme::ramp::ColourScale};

/// What a texture is asked to show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown {
    /// The layer.
    pub layer: Layer,
    /// The frame, for layers that follow time.
    pub frame: usize,
    /// Its colours.
    pub scale: ColourScale,
    /// From where to where.
    pub range: (f32, f32),
    /// How it lies over another layer; `None` for the lowest, which is opaque.
    pub over: Option<Fade>,
}

/// How much of an upper layer is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fade {
    /// Share, 0 to 1.
    pub share: f32,
    /// Whether the share grows with the value, from nothing at the lower end.
    pub by_value: bool,
}

impl Shown {
    /// The layer that the screen shows.
    pub fn of(screen: &Screen, view: &TakeView) -> Self {
        let (layer, frame, scale) = (screen.layer, screen.frame, screen.scale);
        Self { layer, frame, scale, range: range(screen, view), over: None }
    }

    /// The second layer, where there is one: in the screen's colours over grey, so that both are told apart.
    pub fn above(screen: &Screen, view: &TakeView) -> Option<Self> {
        let over = screen.over.filter(|o| o.layer != screen.layer)?;
        let fade = Fade { share: over.share, by_value: over.by_value };
        let range = view.ranges.of(over.layer);
        Some(Self { layer: over.layer, frame: screen.frame, scale: screen.scale, range, over: Some(fade) })
    }
}

/// What a texture shows.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Key {
    serial: u64,
    shown: Shown,
}

/// The texture on screen and the values behind it.
#[derive(Default)]
pub struct MapTexture {
    shown: Option<Key>,
    handle: Option<TextureHandle>,
    /// Values of the layer, row by row.
    values: Vec<f32>,
    /// How many of them are not numbers.
    unknown: usize,
    table: Option<(ColourScale, [Color32; 256])>,
    /// How often it was rebuilt; for tests.
    pub rebuilds: u64,
}

impl std::fmt::Debug for MapTexture {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("MapTexture").field("shown", &self.shown).field("rebuilds", &self.rebuilds).finish()
    }
}

/// The range in force.
pub fn range(screen: &Screen, view: &TakeView) -> (f32, f32) {
    match screen.range {
        Range::Auto => view.ranges.of(screen.layer),
        Range::Between(low, high) => (low, high),
        Range::Percentiles(low, high) => view.ranges.percentiles(screen.layer, low, high),
    }
}

impl MapTexture {
    /// Brings the texture up to date; does nothing when it is.
    pub fn update(&mut self, ctx: &Context, view: &TakeView, mut shown: Shown) {
        let frame = shown.frame;
        // A layer of the whole take is the same at every frame.
        shown.frame = if shown.layer.follows_time() { frame } else { 0 };
        let key = Key { serial: view.serial, shown };
        if self.shown == Some(key) {
            return;
        }
        let shape = view.take.stack.shape();
        let same_values = self
            .shown
            .is_some_and(|k| (k.serial, k.shown.layer, k.shown.frame) == (key.serial, shown.layer, shown.frame));
        if !same_values {
            if !values::fill(&view.take, view.located.as_deref(), shown.layer, frame, &mut self.values) {
                self.values.clear();
                self.values.resize(shape.pixels(), f32::NAN);
            }
            self.unknown = self.values.iter().filter(|v| v.is_nan()).count();
        }
        if self.table.as_ref().is_none_or(|(scale, _)| *scale != shown.scale) {
            self.table = Some((shown.scale, shown.scale.table()));
        }
        let mut pixels = match &self.table {
            Some((_, table)) => colour(&self.values, shown.range, table),
            None => vec![Color32::TRANSPARENT; self.values.len()],
        };
        match shown.over {
            Some(fade) => fade_out(&mut pixels, &self.values, shown.range, fade),
            None => patterns::mark(&mut pixels, &self.values, &view.clipped, shape.width_px),
        }
        let image = ColorImage::new([shape.width_px, shape.height_px], pixels);
        match &mut self.handle {
            Some(handle) => handle.set(image, TextureOptions::NEAREST),
            None => self.handle = Some(ctx.load_texture("map", image, TextureOptions::NEAREST)),
        }
        self.shown = Some(key);
        self.rebuilds += 1;
    }

    /// How many pixels of the layer have no value.
    pub fn unknown(&self) -> usize {
        self.unknown
    }

    /// The texture, once there is one.
    pub fn handle(&self) -> Option<&TextureHandle> {
        self.handle.as_ref()
    }

    /// The value shown at a pixel.
    pub fn value(&self, [x_px, y_px]: [usize; 2], shape: StackShape) -> Option<f32> {
        self.values.get(y_px * shape.width_px + x_px).copied()
    }
}

/// Colours values; what is not a number stays transparent, so that the canvas shows through.
fn colour(values: &[f32], (low, high): (f32, f32), table: &[Color32; 256]) -> Vec<Color32> {
    let scale = 255.0 / (high - low).max(f32::MIN_POSITIVE);
    // A float cast saturates, and turns "not a number" into 0, which is why that is asked first.
    let colour =
        |&v: &f32| if v.is_nan() { Color32::TRANSPARENT } else { table[((v - low) * scale + 0.5) as u8 as usize] };
    values.iter().map(colour).collect()
}

/// Makes an upper layer as transparent as it is asked to be.
fn fade_out(pixels: &mut [Color32], values: &[f32], (low, high): (f32, f32), fade: Fade) {
    let span = (high - low).max(f32::MIN_POSITIVE);
    for (pixel, &v) in pixels.iter_mut().zip(values) {
        let share = if fade.by_value { fade.share * ((v - low) / span).clamp(0.0, 1.0) } else { fade.share };
        // What is not a number is transparent already.
        *pixel = pixel.gamma_multiply(if share.is_nan() { 0.0 } else { share });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_outside_the_range_take_the_end_colours() {
        let table = ColourScale::Grey.table();
        let out = colour(&[-5.0, 0.0, 0.5, 1.0, 9.0, f32::NAN], (0.0, 1.0), &table);
        let greys: Vec<u8> = out.iter().map(Color32::r).collect();
        assert_eq!(greys, [0, 0, 128, 255, 255, 0]);
        assert_eq!(out[5], Color32::TRANSPARENT);
    }

    #[test]
    fn an_upper_layer_fades_evenly_or_with_its_value() {
        let values = [0.0, 0.5, 1.0, f32::NAN];
        let table = ColourScale::Grey.table();
        let alphas = |fade| {
            let mut pixels = colour(&values, (0.0, 1.0), &table);
            fade_out(&mut pixels, &values, (0.0, 1.0), fade);
            pixels.iter().map(Color32::a).collect::<Vec<u8>>()
        };
        assert_eq!(alphas(Fade { share: 1.0, by_value: false }), [255, 255, 255, 0]);
        assert_eq!(alphas(Fade { share: 0.0, by_value: false }), [0, 0, 0, 0]);
        let by_value = alphas(Fade { share: 1.0, by_value: true });
        assert_eq!((by_value[0], by_value[2], by_value[3]), (0, 255, 0));
        assert!((120..=135).contains(&by_value[1]), "{by_value:?}");
    }
}
