//! Where the bundled practice case is.

use std::path::{Path, PathBuf};

use crate::case::CASE_FILE;

/// The scenario shown at first start.
pub const SCENARIO: &str = "ceramic-capacitor";

/// Seed of the simulated one.
pub const SEED: u64 = 1;

/// The bundled practice case, when it lies beside the program, in the source tree or in the working folder.
pub fn bundled() -> Option<PathBuf> {
    let beside = std::env::current_exe().ok().and_then(|exe| Some(exe.parent()?.join("demo-images")));
    let installed =
        std::env::current_exe().ok().and_then(|exe| Some(exe.parent()?.parent()?.join("share/joulemark/demo-images")));
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-images");
    [beside, installed, Some(source), Some(PathBuf::from("demo-images"))]
        .into_iter()
        .flatten()
        .map(|place| place.join(SCENARIO))
        .find(|place| place.join(CASE_FILE).exists())
        .map(|place| place.canonicalize().unwrap_or(place))
}
