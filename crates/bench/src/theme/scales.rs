//! Perceptually uniform colour scales, dark to light, from the `colorous` crate. Their authors: N. J. Smith and S. van der
//! Walt (inferno, and with E. Firing viridis); J. R. Nuñez, C. R. Anderton and R. S. Renslow, PLOS ONE 13 (2018) e0199239
//! (cividis); C. A. Brewer (purple to orange).

/// A colour scale.
#[derive(Clone, Copy, Debug)]
pub enum Scale {
    /// One of the crate's.
    Gradient(colorous::Gradient),
    /// Black to white; the crate's grey runs the other way and stops short of black.
    Grey,
}

/// Black over red to pale yellow.
pub const INFERNO: Scale = Scale::Gradient(colorous::INFERNO);
/// Purple over green to yellow.
pub const VIRIDIS: Scale = Scale::Gradient(colorous::VIRIDIS);
/// Blue to yellow, alike for every kind of colour vision.
pub const CIVIDIS: Scale = Scale::Gradient(colorous::CIVIDIS);

/// Purple over white to orange, for what has a sign; told apart by every kind of colour vision. C. A. Brewer, colorbrewer2.org (PuOr).
pub const PURPLE_ORANGE: Scale = Scale::Gradient(colorous::PURPLE_ORANGE);

/// Red, green and blue at a share of the range; shares outside 0 to 1 take the end's colour, NaN the lowest.
pub fn at(scale: Scale, share: f32) -> [u8; 3] {
    let share = if share.is_nan() { 0.0 } else { f64::from(share.clamp(0.0, 1.0)) };
    match scale {
        Scale::Gradient(gradient) => gradient.eval_continuous(share).as_array(),
        Scale::Grey => [(share * 255.0).round() as u8; 3],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Scale; 4] = [INFERNO, VIRIDIS, CIVIDIS, Scale::Grey];

    /// Relative luminance by the sRGB definition (IEC 61966-2-1, coefficients of WCAG 2.2).
    fn luminance([r, g, b]: [u8; 3]) -> f64 {
        let linear = |v: u8| {
            let v = f64::from(v) / 255.0;
            if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
    }

    #[test]
    fn every_scale_only_gets_lighter() {
        for scale in ALL {
            let colours: Vec<f64> = (0..256).map(|i| luminance(at(scale, i as f32 / 255.0))).collect();
            // Rounding to 8 bits may take a step back by a hair.
            assert!(colours.windows(2).all(|w| w[1] > w[0] - 0.002), "{scale:?}");
            assert!(colours[255] > colours[0] + 0.6, "{scale:?}");
        }
    }

    /// White in the middle, the ends alike in lightness and unlike in colour.
    #[test]
    fn the_signed_scale_is_lightest_at_nothing() {
        let [low, middle, high] = [0.0, 0.5, 1.0].map(|share| at(PURPLE_ORANGE, share));
        assert!(luminance(middle) > 0.8 && luminance(low) < 0.2 && luminance(high) < 0.2);
        assert!(low[2] > low[0] && high[0] > high[2], "purple {low:?}, orange {high:?}");
    }

    #[test]
    fn ends_and_outsiders() {
        for scale in ALL {
            assert_eq!(at(scale, -1.0), at(scale, 0.0));
            assert_eq!(at(scale, 7.0), at(scale, 1.0));
            assert_eq!(at(scale, f32::NAN), at(scale, 0.0));
        }
        assert_eq!(at(Scale::Grey, 0.5), [128, 128, 128]);
    }
}
