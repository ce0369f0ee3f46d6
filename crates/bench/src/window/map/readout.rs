//! What lies under the cursor, in words: pixel, millimetres, value with its doubt, part.

use super::{
    super::{
        screen::{Layer, Screen},
        session::TakeView,
        words,
    },
    texture::MapTexture,
    view::pixel_at,
};
use crate::layer::shown;
pub use crate::layer::shown::ZERO_CELSIUS_K;

/// Whether values of frames have a known zero point, so that degrees Celsius can be said.
pub fn absolute(view: &TakeView) -> bool {
    shown::absolute(&view.take)
}

/// An end of a layer's range: a value with its unit. Ends are chosen, not measured, and have no doubt.
pub fn end(view: &TakeView, layer: Layer, value: f32) -> String {
    match layer {
        Layer::FrameRise => words::plain(value.into(), words::unit(view.take.unit)),
        _ => self::value(view, layer, value, None),
    }
}

/// What is taken off a layer's values when they are shown in degrees Celsius.
pub fn shown_offset(view: &TakeView, layer: Layer) -> f32 {
    shown::offset(&view.take, layer)
}

/// A value of a layer, with its unit, and with its doubt where that is known.
pub fn value(view: &TakeView, layer: Layer, value: f32, se: Option<f32>) -> String {
    let v = f64::from(value);
    let unit = view.take.unit;
    let netd = view.located.as_ref().map(|l| l.noise.netd);
    match layer {
        Layer::TimeConstant if value.is_nan() => "below its noise".to_owned(),
        _ if value.is_nan() => "no value".to_owned(),
        Layer::Rise => {
            se.map_or_else(|| words::plain(v, words::unit(unit)), |se| words::with_doubt(v, se.into(), unit))
        }
        Layer::Z => format!("z {v:.1}"),
        Layer::TimeConstant => words::plain(v, "s"),
        Layer::Before | Layer::Frame if absolute(view) => format!("{:.2} \u{b0}C", v - ZERO_CELSIUS_K),
        Layer::Before | Layer::Frame => words::plain(v, words::unit(unit)),
        Layer::FrameRise => {
            netd.map_or_else(|| words::plain(v, words::unit(unit)), |netd| words::with_doubt(v, netd, unit))
        }
    }
}

/// The readout line; `None` while the pointer was never over the map.
pub fn line(view: &TakeView, screen: &Screen, texture: &MapTexture) -> Option<String> {
    let at = screen.pointer_px?;
    let shape = view.take.stack.shape();
    let [x, y] = pixel_at(at, shape)?;
    let mut said = vec![format!("{x}, {y} px")];
    if let Some(alignment) = &view.alignment {
        let mm = alignment.to_board(nalgebra::Point2::new(at[0], at[1]));
        said.push(format!("{:.2}, {:.2} mm", mm.x, mm.y));
        let se = view.located.as_ref().and_then(|l| l.maps.rise_se.get([y, x]).copied());
        if let Some(v) = texture.value([x, y], shape) {
            said.push(value(view, screen.layer, v, se));
        }
        if view.clipped.get(y * shape.width_px + x) == Some(&true) {
            said.push("at the end of the camera's range: more than it shows".to_owned());
        }
        said.push(view.drawn.part_at(mm.x, mm.y).map_or_else(|| "no part".to_owned(), |p| p.designator.clone()));
    } else if let Some(v) = texture.value([x, y], shape) {
        said.push(value(view, screen.layer, v, None));
    }
    Some(said.join("   "))
}
