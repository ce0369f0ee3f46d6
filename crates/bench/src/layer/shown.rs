//! What the values of a layer are shown as: their unit, and where its zero is.

use joulemark_frames::{CountsLaw, Take, Unit};

use super::Layer;

/// 0 degrees Celsius, by definition (SI Brochure, 9th edition).
pub const ZERO_CELSIUS_K: f64 = 273.15;

/// Whether values of frames have a known zero point, so that degrees Celsius can be said.
pub fn absolute(take: &Take) -> bool {
    take.unit == Unit::Kelvin && take.stack.law() == CountsLaw::CENTIKELVIN
}

/// What is taken off a layer's values when they are shown.
pub fn offset(take: &Take, layer: Layer) -> f32 {
    if absolute(take) && matches!(layer, Layer::Before | Layer::Frame) { ZERO_CELSIUS_K as f32 } else { 0.0 }
}

/// The unit that values are shown in; a relative take never has kelvin.
pub fn unit(take: &Take, layer: Layer) -> &'static str {
    match (layer, take.unit) {
        (Layer::Z, _) => "z",
        (Layer::TimeConstant, _) => "s",
        (_, Unit::Relative) => "relative",
        (Layer::Before | Layer::Frame, Unit::Kelvin) if absolute(take) => "\u{b0}C",
        (_, Unit::Kelvin) => "K",
    }
}

#[cfg(test)]
mod tests {
    use joulemark_frames::{Samples, Stack, Timeline};

    use super::*;

    #[test]
    fn kelvin_is_never_said_of_a_relative_take() {
        let stack = Stack::new(Samples::U16(ndarray::Array3::zeros((1, 1, 1))), CountsLaw::CENTIKELVIN);
        let take = |unit| Take {
            name: "t".into(),
            stack: stack.clone(),
            unit,
            timeline: Timeline::steady(1, 1.0),
            notes: Vec::new(),
        };
        let units = |unit| Layer::ALL.map(|layer| self::unit(&take(unit), layer));
        assert_eq!(units(Unit::Kelvin), ["K", "z", "s", "\u{b0}C", "\u{b0}C", "K"]);
        assert_eq!(units(Unit::Relative), ["relative", "z", "s", "relative", "relative", "relative"]);
        assert_eq!(offset(&take(Unit::Relative), Layer::Frame), 0.0);
    }
}
