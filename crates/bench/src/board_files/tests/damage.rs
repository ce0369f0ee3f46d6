//! Arbitrary and damaged bytes: an answer or one line, never a panic. The guard against panics of other crates is left
//! out here, so that they are found.

use proptest::prelude::*;

use super::super::{FileKind, read_unguarded};
use super::*;

fn survives(kind: FileKind, bytes: &[u8]) {
    match read_unguarded(kind, Path::new("fuzz"), bytes, &Choices::default()) {
        Ok(design) => {
            assert!(design.parts.iter().all(|p| p.x_mm.is_finite() && p.y_mm.is_finite()));
            assert!(design.outline.iter().chain(&design.cutouts).all(|s| s.len() > 2));
        }
        Err(error) => assert_eq!(error.to_string().lines().count(), 1, "{error}"),
    }
}

const EXAMPLES: [(FileKind, &str); 7] = [
    (FileKind::Centroid, "centroid.csv"),
    (FileKind::Centroid, "centroid-mil.txt"),
    (FileKind::Netlist, "netlist.ipc"),
    (FileKind::Gerber, "profile.gbr"),
    (FileKind::Gerber, "components-top.gbr"),
    (FileKind::Svg, "outline.svg"),
    (FileKind::Dxf, "outline.dxf"),
];

proptest! {
    #[test]
    fn arbitrary_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        for kind in FileKind::ALL {
            survives(kind, &bytes);
        }
    }

    #[test]
    fn arbitrary_text_never_panics(text in "[ -~\n]{0,400}") {
        for kind in FileKind::ALL {
            survives(kind, text.as_bytes());
        }
    }

    #[test]
    fn damaged_files_never_panic(
        which in 0..EXAMPLES.len(),
        cut in 0.0..1.0_f64,
        changes in prop::collection::vec((0.0..1.0_f64, any::<u8>()), 0..12),
    ) {
        let (kind, name) = EXAMPLES[which];
        let mut content = bytes(name);
        let keep = (cut.sqrt() * content.len() as f64) as usize;
        for (at, value) in changes {
            let at = (at * content.len() as f64) as usize;
            content[at] = value;
        }
        survives(kind, &content);
        survives(kind, &content[..keep]);
    }

    /// A digit for a digit keeps the grammar and changes the numbers: huge coordinates, other codes.
    #[test]
    fn other_numbers_never_panic(which in 0..EXAMPLES.len(), seed in prop::collection::vec((0.0..1.0_f64, 0..14_usize), 1..20)) {
        let (kind, name) = EXAMPLES[which];
        let mut content = bytes(name);
        let digits: Vec<usize> = (0..content.len()).filter(|&i| content[i].is_ascii_digit()).collect();
        for (at, value) in seed {
            content[digits[(at * digits.len() as f64) as usize]] = b"0123456789-+.e"[value];
        }
        survives(kind, &content);
    }
}
