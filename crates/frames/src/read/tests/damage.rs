//! Arbitrary bytes and damaged files: an error or frames, never a panic. These go past the guard that stands between
//! `open` and the decoders, so a decoder that panics is seen here.

use image::ImageFormat;
use proptest::prelude::*;

use super::*;

const KINDS: [Kind; 10] =
    [Kind::Tiff, Kind::Png, Kind::Npy, Kind::Npz, Kind::Text, Kind::Jpeg, Kind::Bmp, Kind::Gif, Kind::WebP, Kind::Avi];

/// Low, so that a header that lies about its size costs nothing.
const OPTIONS: ReadOptions = ReadOptions { memory_limit_bytes: 4 << 20, mask_not_a_number: true };

/// Valid files of every kind.
fn samples() -> Vec<(Kind, Vec<u8>)> {
    let jpeg = picture(24, 16, ImageFormat::Jpeg);
    let frames = written(Samples::U16(counts((3, 9, 11))), "a.npy");
    let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    std::io::Write::write_all(
        archive
            .start_file("frames.npy", zip::write::SimpleFileOptions::default())
            .map(|()| &mut archive)
            .expect("entry"),
        &frames,
    )
    .expect("content");
    vec![
        (Kind::Tiff, written(Samples::U16(counts((3, 9, 11))), "a.tif")),
        (Kind::Tiff, written(Samples::F32(kelvin((2, 9, 11))), "a.tif")),
        (Kind::Npy, frames),
        (Kind::Npz, archive.finish().expect("archive").into_inner()),
        (Kind::Text, written(Samples::F32(kelvin((2, 4, 5))), "a.csv")),
        (Kind::Png, picture(24, 16, ImageFormat::Png)),
        (Kind::Bmp, picture(24, 16, ImageFormat::Bmp)),
        (Kind::Gif, picture(24, 16, ImageFormat::Gif)),
        (Kind::WebP, picture(24, 16, ImageFormat::WebP)),
        (Kind::Jpeg, jpeg.clone()),
        (Kind::Avi, avi(24, 16, (9, 1), &[jpeg.clone(), Vec::new(), jpeg])),
    ]
}

/// Reads, and checks what a caller relies on either way.
fn read(kind: Kind, content: &[u8]) {
    match from_bytes_as(kind, content, &OPTIONS, &NoProgress) {
        Ok(recording) => {
            let shape = recording.samples.shape();
            assert!(shape.frames > 0 && shape.pixels() > 0);
            if let Some(time_s) = recording.time_s {
                assert_eq!(time_s.len(), shape.frames);
                assert!(time_s.windows(2).all(|pair| pair[1] > pair[0]));
            }
        }
        Err(error) => assert_eq!(error.to_string().lines().count(), 1, "{error}"),
    }
}

/// One change to a file.
#[derive(Clone, Debug)]
enum Change {
    Set(prop::sample::Index, u8),
    /// Four bytes at once: lengths and offsets.
    Long(prop::sample::Index, u32),
    Cut(prop::sample::Index),
    Remove(prop::sample::Index, u8),
    Repeat(prop::sample::Index, u8),
}

fn change() -> impl Strategy<Value = Change> {
    let at = any::<prop::sample::Index>;
    let long = prop_oneof![Just(0), Just(1), Just(u32::MAX), Just(0x7FFF_FFFF), Just(0x0100_0000), any::<u32>()];
    prop_oneof![
        4 => (at(), any::<u8>()).prop_map(|(i, v)| Change::Set(i, v)),
        3 => (at(), long).prop_map(|(i, v)| Change::Long(i, v)),
        1 => at().prop_map(Change::Cut),
        1 => (at(), any::<u8>()).prop_map(|(i, n)| Change::Remove(i, n)),
        1 => (at(), any::<u8>()).prop_map(|(i, n)| Change::Repeat(i, n)),
    ]
}

fn apply(content: &mut Vec<u8>, change: &Change) {
    if content.is_empty() {
        return;
    }
    let span = |content: &[u8], i: &prop::sample::Index, n: u8| {
        let from = i.index(content.len());
        from..(from + usize::from(n)).min(content.len())
    };
    match change {
        Change::Set(i, v) => {
            let at = i.index(content.len());
            content[at] = *v;
        }
        Change::Long(i, v) => {
            let range = span(content, i, 4);
            let length = range.len();
            content[range].copy_from_slice(&v.to_le_bytes()[..length]);
        }
        Change::Cut(i) => content.truncate(i.index(content.len())),
        Change::Remove(i, n) => drop(content.drain(span(content, i, *n))),
        Change::Repeat(i, n) => {
            let range = span(content, i, *n);
            let part = content[range.clone()].to_vec();
            content.splice(range.start..range.start, part);
        }
    }
}

proptest! {
    #[test]
    fn arbitrary_bytes_never_panic(content in prop::collection::vec(any::<u8>(), 0..600)) {
        for kind in KINDS {
            read(kind, &content);
        }
    }

    #[test]
    fn arbitrary_bytes_behind_a_signature_never_panic(content in prop::collection::vec(any::<u8>(), 0..300)) {
        for (kind, whole) in samples() {
            read(kind, &[&whole[..12], &content[..]].concat());
        }
    }

    #[test]
    fn damaged_files_never_panic(changes in prop::collection::vec(change(), 1..6)) {
        for (kind, mut content) in samples() {
            changes.iter().for_each(|change| apply(&mut content, change));
            read(kind, &content);
        }
    }

    #[test]
    fn texts_of_numbers_never_panic(text in "[0-9.,;\t\n\r \"eE+-]{0,200}") {
        read(Kind::Text, text.as_bytes());
    }

    #[test]
    fn array_headers_never_panic(text in "\\{('descr'|'shape'|'fortran_order'|: |, |'<u2'|True|\\(2, 3\\)|\\}|[ -~]){0,12}") {
        let content = [&b"\x93NUMPY\x01\0"[..], &(text.len() as u16).to_le_bytes(), text.as_bytes(), &[0; 12]].concat();
        read(Kind::Npy, &content);
    }

    #[test]
    fn sidecars_never_panic(text in "\\((width|height|offset_bytes|row_bytes|frames|rows_above|: |, |[0-9]{1,20}|\\)|[ -~]){0,12}", content in prop::collection::vec(any::<u8>(), 0..100)) {
        if let Err(error) = raw_from_bytes(&text, &content, &OPTIONS, &NoProgress) {
            assert_eq!(error.to_string().lines().count(), 1, "{error}");
        }
    }

    #[test]
    fn layouts_never_panic(numbers in prop::array::uniform6(prop_oneof![0_u64..20, any::<u64>()]), content in prop::collection::vec(any::<u8>(), 0..200)) {
        let [width, height, offset, row, above, frames] = numbers;
        let sidecar = format!("(width: {width}, height: {height}, offset_bytes: {offset}, row_bytes: {row}, rows_above: {above}, rows_below: {offset}, frames: {frames})");
        if let Err(error) = raw_from_bytes(&sidecar, &content, &OPTIONS, &NoProgress) {
            assert_eq!(error.to_string().lines().count(), 1, "{error}");
        }
    }

    #[test]
    fn probe_output_and_names_never_panic(text in ".{0,200}", head in prop::collection::vec(any::<u8>(), 0..500)) {
        let _ = Kind::of(Path::new(&text), &head);
    }
}
