//! The values of a layer, pixel by pixel.

use joulemark_frames::Take;
use joulemark_locate::Located;
use ndarray::Array2;

use super::Layer;

/// Fills `values` row by row, in the take's own unit (kelvin where it has any; seconds for the time constant); false, and
/// `values` as they were, where the layer is not there for this take.
pub fn fill(take: &Take, located: Option<&Located>, layer: Layer, frame: usize, values: &mut Vec<f32>) -> bool {
    let pixels = take.stack.shape().pixels();
    let maps = located.map(|l| &l.maps);
    let whole = |map: &Array2<f32>, values: &mut Vec<f32>| {
        if map.len() == pixels {
            values.clear();
            values.extend(map.iter());
        }
        map.len() == pixels
    };
    match (layer, maps) {
        (Layer::Frame, _) => self::frame(take, frame, values),
        (_, None) => false,
        (Layer::FrameRise, Some(maps)) => {
            if maps.before.len() != pixels || !self::frame(take, frame, values) {
                return false;
            }
            values.iter_mut().zip(&maps.before).for_each(|(value, before)| *value -= before);
            true
        }
        (Layer::Rise, Some(maps)) => whole(&maps.rise, values),
        (Layer::Z, Some(maps)) => whole(&maps.z, values),
        (Layer::TimeConstant, Some(maps)) => whole(&maps.tau_s, values),
        (Layer::Before, Some(maps)) => whole(&maps.before, values),
    }
}

fn frame(take: &Take, frame: usize, values: &mut Vec<f32>) -> bool {
    let shape = take.stack.shape();
    if frame >= shape.frames {
        return false;
    }
    values.resize(shape.pixels(), 0.0);
    take.stack.copy_run(frame, 0..shape.pixels(), values);
    true
}
