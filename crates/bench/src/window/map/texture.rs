//! The map as a texture, rebuilt only when what it shows changed.

use egui::{Color32, ColorImage, Context, TextureHandle, TextureOptions};
use joulemark_frames::StackShape;
use ndarray::Array2;

use super::super::{
    screen::{Layer, Screen},
    session::TakeView,
};
use crate::theme::ramp::ColourScale;

/// What a texture shows.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Key {
    serial: u64,
    layer: Layer,
    frame: Option<usize>,
    scale: ColourScale,
    range: (f32, f32),
}

/// The texture on screen and the values behind it.
#[derive(Default)]
pub struct MapTexture {
    shown: Option<Key>,
    handle: Option<TextureHandle>,
    /// Values of the layer, row by row.
    values: Vec<f32>,
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
    screen.range.unwrap_or_else(|| view.ranges.of(screen.layer))
}

impl MapTexture {
    /// Brings the texture up to date; does nothing when it is.
    pub fn update(&mut self, ctx: &Context, screen: &Screen, view: &TakeView) {
        let key = Key {
            serial: view.serial,
            layer: screen.layer,
            frame: screen.layer.follows_time().then_some(screen.frame),
            scale: screen.scale,
            range: range(screen, view),
        };
        if self.shown == Some(key) {
            return;
        }
        let shape = view.take.stack.shape();
        let same_values =
            self.shown.is_some_and(|k| (k.serial, k.layer, k.frame) == (key.serial, key.layer, key.frame));
        if !same_values && !self.load(view, screen.layer, screen.frame, shape) {
            self.values.clear();
            self.values.resize(shape.pixels(), f32::NAN);
        }
        if self.table.as_ref().is_none_or(|(scale, _)| *scale != key.scale) {
            self.table = Some((key.scale, key.scale.table()));
        }
        let pixels = match &self.table {
            Some((_, table)) => colour(&self.values, key.range, table),
            None => vec![Color32::TRANSPARENT; self.values.len()],
        };
        let image = ColorImage::new([shape.width_px, shape.height_px], pixels);
        match &mut self.handle {
            Some(handle) => handle.set(image, TextureOptions::NEAREST),
            None => self.handle = Some(ctx.load_texture("map", image, TextureOptions::NEAREST)),
        }
        self.shown = Some(key);
        self.rebuilds += 1;
    }

    /// Fills `values`; false when the layer does not exist for this take.
    fn load(&mut self, view: &TakeView, layer: Layer, frame: usize, shape: StackShape) -> bool {
        let maps = view.located.as_ref().map(|l| &l.maps);
        match layer {
            Layer::Frame | Layer::FrameRise => {
                if frame >= shape.frames {
                    return false;
                }
                self.values.resize(shape.pixels(), 0.0);
                view.take.stack.copy_run(frame, 0..shape.pixels(), &mut self.values);
                if layer == Layer::FrameRise {
                    let Some(before) = maps.map(|m| &m.before).filter(|b| b.len() == self.values.len()) else {
                        return false;
                    };
                    for (value, before) in self.values.iter_mut().zip(before) {
                        *value -= before;
                    }
                }
                true
            }
            Layer::Rise => self.copy(maps.map(|m| &m.rise), shape),
            Layer::Z => self.copy(maps.map(|m| &m.z), shape),
            Layer::TimeConstant => self.copy(maps.map(|m| &m.tau_s), shape),
            Layer::Before => self.copy(maps.map(|m| &m.before), shape),
        }
    }

    fn copy(&mut self, map: Option<&Array2<f32>>, shape: StackShape) -> bool {
        let Some(map) = map.filter(|m| m.len() == shape.pixels()) else {
            return false;
        };
        self.values.clear();
        self.values.extend(map.iter());
        true
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
}
