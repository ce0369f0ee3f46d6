//! Rules and tables that come with the program, with the shop's own files laid over them. A shop's file that cannot be
//! used is left out and said, never half taken.

use std::{
    env, fs,
    path::{Path, PathBuf},
    sync::OnceLock,
};

use joulemark_locate::{
    limits::{Change, LIMITS_RON, Rules, RulesError},
    readings::{
        LikeGoodBoard, ShopRanges, TYPICAL_READINGS_RON, TypicalRanges,
        decision::{DecisionTable, NEXT_MEASUREMENT_RON},
    },
};

use super::notation;

/// Names a folder with the shop's files that is used instead of the one in the user's folder for settings.
pub const RULES_VARIABLE: &str = "JOULEMARK_RULES";

/// Everything that judgement follows.
#[derive(Clone, Debug)]
pub struct Books {
    /// Injection limits and cautions.
    pub limits: Rules,
    /// What healthy rails read.
    pub ranges: TypicalRanges,
    /// What to measure next.
    pub next: DecisionTable,
    /// What of the shop's files was not taken, one line each.
    pub faults: Vec<String>,
}

impl Books {
    /// Those that come with the program.
    pub fn standard() -> Self {
        let mut faults = Vec::new();
        // A test holds that all of them can be read; a fault would be said like a shop's.
        let ranges = built_in::<TypicalRanges>("typical_readings.ron", TYPICAL_READINGS_RON, &mut faults);
        let limits = built_in::<Rules>("limits.ron", LIMITS_RON, &mut faults);
        let next = built_in::<DecisionTable>("next_measurement.ron", NEXT_MEASUREMENT_RON, &mut faults);
        Self {
            limits: limits.and_then(|rules| rules.checked().ok()).unwrap_or_default(),
            ranges: ranges.unwrap_or_else(|| TypicalRanges {
                leads: Default::default(),
                shorted_between_ohms: 1.0,
                like_good_board: LikeGoodBoard { ohms_factor: 1.0, diode_volts: 0.0 },
                volts_share: 0.1,
                bands: Vec::new(),
            }),
            next: next.unwrap_or_default(),
            faults,
        }
    }

    /// With the shop's files in a folder laid over them: `limits.ron`, `typical_readings.ron`, `next_measurement.ron`.
    pub fn with_shop(folder: &Path) -> Self {
        let mut books = Self::standard();
        let faults = &mut books.faults;
        let text = |name: &str| fs::read_to_string(folder.join(name)).ok();
        let left_out = |name: &str, why: &str| format!("{}: {why}; it is left out", folder.join(name).display());
        if let Some(text) = text("limits.ron") {
            match shop_changes(&books.limits, &text) {
                Ok(changes) => {
                    let (limits, told) = books.limits.changed(&changes);
                    books.limits = limits;
                    let refused = told.into_iter().filter_map(|c| c.refused.map(|why| (c.id, why)));
                    faults.extend(refused.map(|(id, why)| left_out("limits.ron", &format!("rule {id}: {why}"))));
                }
                Err(error) => faults.push(left_out("limits.ron", &error.to_string())),
            }
        }
        if let Some(text) = text("typical_readings.ron") {
            let shop = notation::parse::<ShopRanges>(Path::new("typical_readings.ron"), &text);
            match shop.map_err(|e| e.to_string()).and_then(|shop| books.ranges.clone().layered(&shop)) {
                Ok(ranges) => books.ranges = ranges,
                Err(why) => faults.push(left_out("typical_readings.ron", &why)),
            }
        }
        if let Some(text) = text("next_measurement.ron") {
            let shop = notation::parse::<DecisionTable>(Path::new("next_measurement.ron"), &text);
            match shop.map_err(|e| e.to_string()).and_then(|shop| books.next.clone().layered(&shop)) {
                Ok(next) => books.next = next,
                Err(why) => faults.push(left_out("next_measurement.ron", &why)),
            }
        }
        books
    }

    /// Those in force for this user, read once.
    pub fn in_force() -> &'static Self {
        static BOOKS: OnceLock<Books> = OnceLock::new();
        BOOKS.get_or_init(|| folder().map_or_else(Self::standard, |folder| Self::with_shop(&folder)))
    }
}

/// Where the shop's files are; `None` when the system names no folder for settings.
pub fn folder() -> Option<PathBuf> {
    if let Some(folder) = env::var_os(RULES_VARIABLE).filter(|f| !f.is_empty()) {
        return Some(PathBuf::from(folder));
    }
    Some(directories::ProjectDirs::from("", "", "joulemark")?.config_dir().join("rules"))
}

/// Reads a shop's changes to the limits: `[(id: "stop_c", value: 50)]`.
///
/// # Errors
/// When the text is not RON of that form, or names a rule that is not there.
pub fn shop_changes(limits: &Rules, text: &str) -> Result<Vec<Change>, RulesError> {
    let changes: Vec<Change> = ron::from_str(text).map_err(|e| RulesError {
        place: format!("line {}", e.span.start.line),
        problem: e.code.to_string(),
        remedy: "mend it, or take the file away".to_owned(),
    })?;
    limits.knows(&changes)?;
    Ok(changes)
}

fn built_in<T: serde::de::DeserializeOwned>(name: &str, text: &str, faults: &mut Vec<String>) -> Option<T> {
    notation::parse(Path::new(name), text).map_err(|e| faults.push(e.to_string())).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_with_the_program_can_be_read() {
        let books = Books::standard();
        assert_eq!(books.faults, Vec::<String>::new());
        books.limits.clone().checked().unwrap();
        assert!(!books.ranges.bands.is_empty() && !books.next.rules.is_empty());
        books.ranges.check().unwrap();
        books.next.check().unwrap();
    }

    #[test]
    fn a_shop_tightens_freely_and_what_cannot_be_used_is_said() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
        write("limits.ron", r#"[(id: "stop_c", value: 50), (id: "step_1_v", value: 0.4)]"#);
        write("typical_readings.ron", "(bands: [(name: \"x\"");
        let books = Books::with_shop(folder.path());
        assert_eq!(books.limits.value("stop_c"), 50.0);
        let standard = Books::standard();
        assert_eq!(books.limits.value("step_1_v"), standard.limits.value("step_1_v"), "no reason, no loosening");
        assert_eq!(books.ranges, standard.ranges);
        assert_eq!(books.faults.len(), 2, "{:?}", books.faults);
        for fault in &books.faults {
            assert!(fault.contains("left out") && fault.lines().count() == 1, "{fault}");
        }
    }
}
