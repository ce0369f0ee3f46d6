//! PNG and plain pictures.

use std::io::Cursor;

use image::ImageFormat;

use super::*;

fn png_16(values: &[u16], width: u32, height: u32, gamma: bool) -> Vec<u8> {
    let mut content = Vec::new();
    let mut encoder = ::png::Encoder::new(Cursor::new(&mut content), width, height);
    encoder.set_color(::png::ColorType::Grayscale);
    encoder.set_depth(::png::BitDepth::Sixteen);
    if gamma {
        encoder.set_source_gamma(::png::ScaledFloat::new(0.45455));
    }
    let bytes: Vec<u8> = values.iter().flat_map(|v| v.to_be_bytes()).collect();
    encoder.write_header().and_then(|mut w| w.write_image_data(&bytes)).expect("encodes");
    content
}

/// A PNG put together by hand from stored deflate blocks (PNG, third edition; RFC 1950 and 1951): 16-bit grey
/// [0x0102, 0xFFFE] with filter Sub is 01 0102 FEFC, and every PNG ends 00000000 49454E44 AE426082.
#[test]
fn stored_bytes_become_the_right_counts() {
    let chunk = |kind: &[u8; 4], body: &[u8]| {
        let checked = [&kind[..], body].concat();
        [&(body.len() as u32).to_be_bytes()[..], &checked, &crc_32(&checked).to_be_bytes()].concat()
    };
    let row = [0x01, 0x01, 0x02, 0xFE, 0xFC];
    let adler = row.iter().fold((1_u32, 0_u32), |(a, b), v| (a + u32::from(*v), b + a + u32::from(*v)));
    let packed = [&[0x78, 0x01, 0x01, 5, 0, 0xFA, 0xFF][..], &row, &(adler.1 << 16 | adler.0).to_be_bytes()].concat();
    let end = chunk(b"IEND", &[]);
    assert_eq!(end, [0, 0, 0, 0, 0x49, 0x45, 0x4E, 0x44, 0xAE, 0x42, 0x60, 0x82]);
    let content = [
        &b"\x89PNG\r\n\x1a\n"[..],
        &chunk(b"IHDR", &[0, 0, 0, 2, 0, 0, 0, 1, 16, 0, 0, 0, 0]),
        &chunk(b"IDAT", &packed),
        &end,
    ]
    .concat();
    let read = bytes(&content).expect("valid");
    assert_eq!(read.samples, Samples::U16(ndarray::arr3(&[[[0x0102, 0xFFFE]]])));
    assert_eq!(read.scale, Scale::Counts { bits: 16 });
}

/// Bit by bit, as in annex D of the PNG specification.
fn crc_32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |crc, _| crc >> 1 ^ if crc & 1 == 1 { 0xEDB8_8320 } else { 0 })
    })
}

#[test]
fn gamma_never_alters_a_count() {
    let values: Vec<u16> = (0..64 * 64).map(|v| (v * 16) as u16).collect();
    let plain = bytes(&png_16(&values, 64, 64, false)).expect("valid");
    assert_eq!(plain.samples, bytes(&png_16(&values, 64, 64, true)).expect("valid").samples);
    let Samples::U16(read) = plain.samples else { panic!("16-bit") };
    assert_eq!(read.as_slice(), Some(&values[..]));
}

#[test]
fn pictures_are_relative_grey() {
    for format in [ImageFormat::Png, ImageFormat::Bmp, ImageFormat::WebP, ImageFormat::Gif] {
        let read = bytes(&picture(40, 30, format)).expect("valid");
        let Samples::U8(grey) = &read.samples else { panic!("8-bit") };
        assert_eq!(grey.dim(), (1, 30, 40));
        // Lossless: the value that was drawn at column 25, row 7.
        assert_eq!(grey[[0, 7, 25]], 25 * 3 + 7 + 100, "{format:?}");
        assert_eq!(read.scale, Scale::Relative);
    }
}

#[test]
fn an_animation_gives_frames_and_times() {
    let mut content = Vec::new();
    {
        let mut encoder = image::codecs::gif::GifEncoder::new(&mut content);
        let delay = image::Delay::from_numer_denom_ms(120, 1);
        let frames = [10, 200].map(|v| {
            let picture = image::RgbaImage::from_pixel(6, 5, image::Rgba([v, v, v, 255]));
            image::Frame::from_parts(picture, 0, 0, delay)
        });
        encoder.encode_frames(frames).expect("encodes");
    }
    let read = bytes(&content).expect("valid");
    let Samples::U8(grey) = &read.samples else { panic!("8-bit") };
    assert_eq!((grey.dim(), grey[[0, 2, 2]], grey[[1, 2, 2]]), ((2, 5, 6), 10, 200));
    assert_eq!(read.time_s, Some(vec![0.0, 0.12]));
}

#[test]
fn cut_pictures_are_refused() {
    for format in [ImageFormat::Png, ImageFormat::Jpeg, ImageFormat::Bmp, ImageFormat::WebP, ImageFormat::Gif] {
        let whole = picture(90, 80, format);
        assert!(bytes(&whole).is_ok(), "{format:?}");
        for cut in [whole.len() / 4, whole.len() / 2, whole.len() * 3 / 4] {
            refused(bytes(&whole[..cut]), &["made.up"]);
        }
    }
}

#[test]
fn sizes_that_the_bytes_cannot_hold_are_refused() {
    let mut content = png_16(&[1, 2], 2, 1, false);
    content[16..24].copy_from_slice(&[0, 0, 0xEA, 0x60, 0, 0, 0xEA, 0x60]);
    let crc = crc_32(&content[12..29]);
    content[29..33].copy_from_slice(&crc.to_be_bytes());
    refused(bytes(&content), &["PNG header", "promises 7200000000 bytes"]);
}

/// Found by fuzzing: the decoder would take 17 GiB for a frame within a picture of 8 x 8 pixels.
#[test]
fn a_frame_beyond_its_picture_is_refused() {
    let mut content = picture(8, 8, ImageFormat::Gif);
    let descriptor = content.windows(9).rposition(|w| w == [0x2C, 0, 0, 0, 0, 8, 0, 8, 0]).expect("a descriptor");
    content[descriptor + 5..descriptor + 9].fill(0xFF);
    refused(bytes(&content), &["frame 0"]);
}
