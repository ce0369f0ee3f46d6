//! Colour to grey by the weights of Recommendation ITU-R BT.601 (0.299, 0.587, 0.114), the ones JPEG itself uses.

/// Weights times 65536; they add up to 65536, so that grey stays exactly what it was.
const RED: u32 = 19595;
const GREEN: u32 = 38470;
const BLUE: u32 = 7471;

/// Grey value of an 8-bit colour.
pub(super) fn luma_8(red: u8, green: u8, blue: u8) -> u8 {
    // At most 255 * 65536 + 32768, so the shift leaves at most 255.
    ((u32::from(red) * RED + u32::from(green) * GREEN + u32::from(blue) * BLUE + 0x8000) >> 16) as u8
}

/// Grey value of a 16-bit colour.
pub(super) fn luma_16(red: u16, green: u16, blue: u16) -> u16 {
    let weighted = |value: u16, weight: u32| u64::from(value) * u64::from(weight);
    ((weighted(red, RED) + weighted(green, GREEN) + weighted(blue, BLUE) + 0x8000) >> 16) as u16
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grey_stays_grey_and_primaries_have_their_weights() {
        for v in 0..=255 {
            assert_eq!(luma_8(v, v, v), v);
        }
        assert_eq!(luma_16(65535, 65535, 65535), 65535);
        // 255 times 0.299, 0.587 and 0.114, rounded.
        assert_eq!([luma_8(255, 0, 0), luma_8(0, 255, 0), luma_8(0, 0, 255)], [76, 150, 29]);
    }
}
