//! Where the bundled practice case and the bundled lessons are.

use std::path::{Path, PathBuf};

use crate::case::CASE_FILE;

/// The scenario shown at first start.
pub const SCENARIO: &str = "ceramic-capacitor";

/// Seed of the simulated one.
pub const SEED: u64 = 1;

/// Lessons that come with the program: folder and name.
pub const LESSONS: [(&str, &str); 3] = [
    ("lesson-hottest-pixel", "Why the hottest pixel lies"),
    ("lesson-pulses", "When to use pulses"),
    ("lesson-limits", "How limits are chosen"),
];

/// The bundled practice case, when it lies beside the program, in the source tree or in the working folder.
pub fn bundled() -> Option<PathBuf> {
    bundled_case(SCENARIO)
}

/// The bundled lessons that are there: name and case folder.
pub fn lessons() -> Vec<(&'static str, PathBuf)> {
    LESSONS.iter().filter_map(|(folder, name)| Some((*name, bundled_case(folder)?))).collect()
}

/// Whether a case folder is that of a bundled lesson.
pub fn is_lesson(folder: &Path) -> bool {
    lessons().iter().any(|(_, lesson)| lesson == folder)
}

fn bundled_case(name: &str) -> Option<PathBuf> {
    let beside = std::env::current_exe().ok().and_then(|exe| Some(exe.parent()?.join("demo-images")));
    let installed =
        std::env::current_exe().ok().and_then(|exe| Some(exe.parent()?.parent()?.join("share/joulemark/demo-images")));
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-images");
    [beside, installed, Some(source), Some(PathBuf::from("demo-images"))]
        .into_iter()
        .flatten()
        .map(|place| place.join(name))
        .find(|place| place.join(CASE_FILE).exists())
        .map(|place| place.canonicalize().unwrap_or(place))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::CaseFolder;

    #[test]
    fn every_bundled_lesson_is_there_under_its_name() {
        let lessons = lessons();
        assert_eq!(lessons.len(), LESSONS.len());
        for (name, folder) in lessons {
            assert_eq!(CaseFolder::open(&folder).unwrap().case.lessons[0].name, name);
            assert!(is_lesson(&folder));
        }
        assert!(!is_lesson(&bundled().unwrap()));
    }
}
