//! What the fuzz targets share. Readers run without the guard that turns their panics into errors, so that a panic is
//! found.

use std::path::Path;

use joulemark::board_files::{Choices, Design, FileKind, merge, read_unguarded};
use joulemark_locate::board::Board;

/// Reads bytes as one kind, and puts what came of it into an empty board.
pub fn read(kind: FileKind, bytes: &[u8]) {
    match read_unguarded(kind, Path::new("fuzz"), bytes, &Choices::default()) {
        Ok(design) => put(&design),
        Err(error) => assert_eq!(error.to_string().lines().count(), 1),
    }
}

/// Reads bytes as what they look like.
pub fn any(bytes: &[u8]) {
    if let Some(kind) = FileKind::of(Path::new("fuzz.csv"), bytes) {
        read(kind, bytes);
    }
}

fn put(design: &Design) {
    if let Ok(merged) = merge::merge(&Board::default(), design, &merge::MergeOptions::default()) {
        assert_eq!(merged.board.check(), Ok(()));
    }
}
