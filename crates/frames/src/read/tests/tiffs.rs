//! TIFF by its bytes: endianness, predictor, pages, and everything that must be refused.

use std::io::Cursor;

use ::tiff::encoder::{TiffEncoder, colortype};

use super::*;

/// A TIFF of one strip, laid out by hand: entries are (tag, type, value) with values that fit into the entry.
fn by_hand(big_endian: bool, entries: &[(u16, u16, u32)], strip: &[u8]) -> Vec<u8> {
    let short = |v: u16| if big_endian { v.to_be_bytes() } else { v.to_le_bytes() };
    let long = |v: u32| if big_endian { v.to_be_bytes() } else { v.to_le_bytes() };
    let mut out = if big_endian { b"MM\0*".to_vec() } else { b"II*\0".to_vec() };
    out.extend(long(8));
    out.extend(short(entries.len() as u16 + 2));
    let strip_at = 8 + 2 + 12 * (entries.len() as u32 + 2) + 4;
    let mut entries = entries.to_vec();
    entries.extend([(273, 4, strip_at), (279, 4, strip.len() as u32)]);
    entries.sort();
    for (tag, kind, value) in entries {
        out.extend(short(tag));
        out.extend(short(kind));
        out.extend(long(1));
        if kind == 3 {
            out.extend(short(value as u16));
            out.extend([0, 0]);
        } else {
            out.extend(long(value));
        }
    }
    out.extend(long(0));
    out.extend(strip);
    out
}

fn grey_16(width: u32, height: u32, predictor: u32) -> Vec<(u16, u16, u32)> {
    vec![
        (256, 4, width),
        (257, 4, height),
        (258, 3, 16),
        (259, 3, 1),
        (262, 3, 1),
        (277, 3, 1),
        (278, 4, u32::MAX),
        (317, 3, predictor),
    ]
}

/// Bytes computed with tifffile 2026.3.3: big-endian uint16 [1, 258] is stored as 0001 0102, and predictor 2 on
/// [100, 101, 99] little-endian as 6400 0100 FEFF (TIFF 6.0, section 14).
#[test]
fn stored_bytes_become_the_right_counts() {
    let big = bytes(&by_hand(true, &grey_16(2, 1, 1), &[0, 1, 1, 2])).expect("valid");
    assert_eq!(big.samples, Samples::U16(ndarray::arr3(&[[[1, 258]]])));
    let predicted = bytes(&by_hand(false, &grey_16(3, 1, 2), &[0x64, 0, 1, 0, 0xFE, 0xFF])).expect("valid");
    assert_eq!(predicted.samples, Samples::U16(ndarray::arr3(&[[[100, 101, 99]]])));
    assert_eq!(predicted.scale, Scale::Counts { bits: 16 });
}

#[test]
fn pages_become_frames_in_their_order() {
    for pages in [1, 2, 3, 70] {
        let samples = Samples::U16(counts((pages, 5, 4)));
        let read = bytes(&written(samples.clone(), "a.tif")).expect("valid");
        assert_eq!(read.samples, samples, "{pages}");
        assert!(read.description.contains("16-bit grey, deflate"), "{}", read.description);
    }
}

fn pages(sizes: &[(u32, u32, bool)]) -> Vec<u8> {
    let mut content = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut content).expect("encoder");
    for &(width, height, thumbnail) in sizes {
        let mut page = encoder.new_image::<colortype::Gray16>(width, height).expect("page");
        if thumbnail {
            page.encoder().write_tag(::tiff::tags::Tag::NewSubfileType, 1_u32).expect("tag");
        }
        page.write_data(&vec![300; (width * height) as usize]).expect("data");
    }
    content.into_inner()
}

#[test]
fn marked_thumbnails_are_skipped_and_said_and_other_sizes_refused() {
    let read = bytes(&pages(&[(8, 6, false), (2, 2, true), (8, 6, false)])).expect("valid");
    assert_eq!(read.samples.shape().frames, 2);
    assert!(read.notes[0].what.contains("page 1"), "{:?}", read.notes);
    refused(
        bytes(&pages(&[(8, 6, false), (8, 6, false), (2, 3, false)])),
        &["page 2", "mixed sizes", "2 x 3", "8 x 6"],
    );
    refused(bytes(&pages(&[(8, 6, true)])), &["no page is a full picture"]);
}

#[test]
fn mixed_types_are_refused() {
    let mut content = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut content).expect("encoder");
    encoder.write_image::<colortype::Gray16>(2, 1, &[1, 2]).expect("page");
    encoder.write_image::<colortype::Gray8>(2, 1, &[1, 2]).expect("page");
    refused(bytes(content.get_ref()), &["page 1", "8-bit grey", "16-bit grey"]);
    let mut content = Cursor::new(Vec::new());
    TiffEncoder::new(&mut content).expect("encoder").write_image::<colortype::Gray32>(1, 1, &[1]).expect("page");
    refused(bytes(content.get_ref()), &["page 0", "Gray(32)"]);
}

#[test]
fn cut_and_lying_headers_are_refused_before_memory_is_taken() {
    let whole = written(Samples::U16(counts((3, 40, 50))), "a.tif");
    refused(bytes(&whole[..whole.len() - 1]), &["copy"]);
    refused(bytes(&whole[..6]), &["header of page 0"]);
    // Two bytes cannot be 60000 x 60000 pixels, and a strip cannot lie beyond the end.
    refused(bytes(&by_hand(false, &grey_16(60_000, 60_000, 1), &[0, 0])), &["page 0", "promises 7200000000 bytes"]);
    let mut content = by_hand(false, &grey_16(2, 1, 1), &[0; 4]);
    content.truncate(content.len() - 2);
    refused(bytes(&content), &["page 0", "end at byte", "cut off"]);
    // A list of pages that runs in a circle.
    let mut circle = by_hand(false, &grey_16(2, 1, 1), &[0; 4]);
    let next = circle.len() - 8;
    circle[next..next + 4].copy_from_slice(&8_u32.to_le_bytes());
    refused(bytes(&circle), &["header of page"]);
}

#[test]
fn gaps_name_frame_row_and_column() {
    let mut samples = kelvin((3, 4, 5));
    samples[[1, 2, 3]] = f32::NAN;
    samples[[2, 0, 0]] = f32::INFINITY;
    let content = written(Samples::F32(samples), "a.tif");
    refused(bytes(&content), &["frame 1, row 2, column 3", "2 such values in all", "--mask-nan"]);
    let options = ReadOptions { mask_not_a_number: true, ..ReadOptions::default() };
    let read = from_bytes(Path::new("a"), &content, &options, &NoProgress).expect("masked");
    assert!(read.notes[0].what.starts_with("2 values not finite"), "{:?}", read.notes);
}

#[test]
fn polarity_turns_grey_pictures_but_not_counts() {
    let entries = |bits, photometric| {
        let mut entries = grey_16(2, 1, 1);
        entries[2].2 = bits;
        entries[4].2 = photometric;
        entries
    };
    let counts = bytes(&by_hand(false, &entries(16, 0), &[1, 0, 2, 0])).expect("valid");
    assert_eq!(counts.samples, Samples::U16(ndarray::arr3(&[[[1, 2]]])));
    assert!(counts.notes[0].what.contains("white"), "{:?}", counts.notes);
    let grey = bytes(&by_hand(false, &entries(8, 0), &[0, 255])).expect("valid");
    assert_eq!((grey.samples, grey.scale), (Samples::U8(ndarray::arr3(&[[[255, 0]]])), Scale::Relative));
}

#[test]
fn frames_without_pages_of_their_own_are_said() {
    let mut content = by_hand(false, &grey_16(20, 10, 1), &[1; 400]);
    assert!(bytes(&content).expect("valid").notes.is_empty());
    content.extend([2; 800]);
    assert!(bytes(&content).expect("valid").notes.is_empty());
    content.extend([2; 70_000]);
    let read = bytes(&content).expect("valid");
    assert!(read.notes[0].what.contains("belong to no page"), "{:?}", read.notes);
}
