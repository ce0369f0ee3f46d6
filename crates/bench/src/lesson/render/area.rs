//! What a view is drawn on, and where its picture goes.

use super::super::Zoom;
use crate::report::{
    drawing::{BLACK, Ink},
    typeface::Fonts,
};

/// What a view is drawn on.
#[derive(Clone, Copy, Debug)]
pub struct Area {
    /// Left, top, width, height.
    pub rect: [f32; 4],
    /// Height of ordinary words.
    pub words_size: f32,
    /// Pixels a unit of length that are worth having: 1 on a picture, more on paper and fine screens.
    pub dots: f32,
    /// Colours of what stands beside the picture.
    pub inks: Inks,
    /// The fonts that words are measured with.
    pub fonts: &'static Fonts,
}

/// Colours of what stands beside the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Inks {
    /// Words and lines.
    pub words: Ink,
    /// What comes second.
    pub weak: Ink,
    /// What drawings lie on.
    pub ground: Ink,
}

impl Inks {
    /// Black on white.
    pub const PAPER: Self = Self { words: BLACK, weak: crate::report::drawing::WEAK, ground: [255; 3] };
    /// Light on dark.
    pub const DARK: Self = Self { words: [240; 3], weak: [180, 184, 190], ground: [24, 26, 30] };
}

/// Room left free around a picture, in heights of words: left, top, right, below.
pub type Margins = [f32; 4];

impl Area {
    /// The rectangle within the margins.
    pub fn within(&self, margins: Margins) -> [f32; 4] {
        let [left, top, right, below] = margins.map(|m| m * self.words_size);
        let [x, y, w, h] = self.rect;
        [x + left, y + top, (w - left - right).max(1.0), (h - top - below).max(1.0)]
    }

    /// Right and lower end of a picture with its margins.
    pub fn ends(&self, [x, y, w, h]: [f32; 4], margins: Margins) -> [f32; 2] {
        [x + w + margins[2] * self.words_size, y + h + margins[3] * self.words_size]
    }

    /// Size of the words beside a picture.
    pub fn small(&self) -> f32 {
        0.85 * self.words_size
    }
}

/// The part of a picture that is seen through a rectangle: left, top, right, bottom in the picture's own places.
/// `whole` is all of it. Where the zoom lies beside the picture, the whole is seen.
pub fn seen(whole: [f64; 4], zoom: Option<Zoom>, room: [f32; 4]) -> [f64; 4] {
    let Some(zoom) = zoom.filter(|z| z.across.is_finite() && z.across > 0.0) else { return whole };
    let half = [zoom.across / 2.0, zoom.across / 2.0 * f64::from(room[3] / room[2])];
    let part: [f64; 4] = std::array::from_fn(|i| {
        let axis = i % 2;
        let to = zoom.middle[axis] + if i < 2 { -half[axis] } else { half[axis] };
        if i < 2 { to.max(whole[axis]) } else { to.min(whole[2 + axis]) }
    });
    let there = part.iter().all(|v| v.is_finite()) && part[2] > part[0] && part[3] > part[1];
    if there { part } else { whole }
}

/// The largest rectangle of a width to height, at the upper left of a room.
pub fn fitted([x, y, w, h]: [f32; 4], width: f64, height: f64) -> [f32; 4] {
    let scale = (f64::from(w) / width).min(f64::from(h) / height);
    [x, y, (width * scale) as f32, (height * scale) as f32]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_zoom_fills_its_room_and_stays_on_the_picture() {
        let whole = [0.0, 0.0, 160.0, 120.0];
        let room = [0.0, 0.0, 200.0, 100.0];
        assert_eq!(seen(whole, None, room), whole);
        let zoom = |middle, across| Some(Zoom { middle, across });
        assert_eq!(seen(whole, zoom([80.0, 60.0], 40.0), room), [60.0, 50.0, 100.0, 70.0]);
        assert_eq!(seen(whole, zoom([0.0, 60.0], 40.0), room), [0.0, 50.0, 20.0, 70.0]);
        for lost in [zoom([900.0, 60.0], 40.0), zoom([80.0, 60.0], f64::NAN), zoom([80.0, 60.0], -3.0)] {
            assert_eq!(seen(whole, lost, room), whole);
        }
    }

    #[test]
    fn pictures_keep_their_shape() {
        assert_eq!(fitted([10.0, 5.0, 200.0, 100.0], 100.0, 100.0), [10.0, 5.0, 100.0, 100.0]);
        assert_eq!(fitted([0.0, 0.0, 200.0, 100.0], 400.0, 100.0), [0.0, 0.0, 200.0, 50.0]);
    }
}
