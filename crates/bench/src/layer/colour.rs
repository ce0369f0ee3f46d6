//! Values to colours. Pixels that carry no measured value are told by pattern: a fine chequer where there is no value,
//! stripes where the sensor stood at the end of its range.

use image::{Rgb, RgbImage};

use crate::theme::scales::{self, Scale};

/// The chequer: two greys that no colour scale has in turn.
const CHEQUER: [u8; 2] = [0x2A, 0x4C];
/// The stripes.
const STRIPES: [u8; 2] = [0xF4, 0x10];

/// The grey of a pixel without a value.
pub fn chequer(x: usize, y: usize) -> u8 {
    CHEQUER[(x + y) % 2]
}

/// The grey of a pixel at the end of the camera's range.
pub fn stripe(x: usize, y: usize) -> u8 {
    STRIPES[((x + y) / 2) % 2]
}

/// A scale's colours from lowest to highest.
pub fn table(scale: Scale) -> [[u8; 3]; 256] {
    std::array::from_fn(|i| scales::at(scale, i as f32 / 255.0))
}

/// Part of a map in colours.
#[derive(Debug)]
pub struct Map<'a> {
    /// Values row by row.
    pub values: &'a [f32],
    /// Which of them stood at the end of the camera's range; may be empty.
    pub clipped: &'a [bool],
    /// Pixels in a row.
    pub width_px: usize,
}

impl Map<'_> {
    /// The pixels of a window (left, top, width, height in pixels, within the map) between two ends of the scale.
    pub fn paint(&self, [left, top, width, height]: [usize; 4], range: (f32, f32), table: &[[u8; 3]; 256]) -> RgbImage {
        let (low, high) = range;
        let scale = 255.0 / (high - low).max(f32::MIN_POSITIVE);
        RgbImage::from_fn(width as u32, height as u32, |x, y| {
            let (x, y) = (left + x as usize, top + y as usize);
            let at = y * self.width_px + x;
            Rgb(match self.values.get(at) {
                Some(v) if !v.is_nan() && self.clipped.get(at) != Some(&true) => {
                    // A float cast saturates.
                    table[((v - low) * scale + 0.5) as u8 as usize]
                }
                Some(v) if !v.is_nan() => [stripe(x, y); 3],
                _ => [chequer(x, y); 3],
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_window_of_a_map_takes_its_colours_and_tells_what_was_not_measured() {
        let values = [0.0, 1.0, 9.0, f32::NAN, 0.5, -3.0];
        let clipped = [false, false, false, false, true, false];
        let map = Map { values: &values, clipped: &clipped, width_px: 3 };
        let table = table(Scale::Grey);
        let all = map.paint([0, 0, 3, 2], (0.0, 1.0), &table);
        let greys: Vec<u8> = all.pixels().map(|p| p.0[0]).collect();
        assert_eq!(greys, [0, 255, 255, chequer(0, 1), stripe(1, 1), 0]);
        let part = map.paint([1, 1, 2, 1], (0.0, 1.0), &table);
        assert_eq!(part.pixels().map(|p| p.0[0]).collect::<Vec<_>>(), [stripe(1, 1), 0]);
    }
}
