//! What the program remembers between cases: who is at the bench, the shop's letterhead and its library. One small file in
//! the user's folder for settings.

use std::{env, path::PathBuf};

use serde::{Deserialize, Serialize};

use super::{BadInput, atomic, notation};

/// Names a file that is used instead of the user's own.
pub const SETTINGS_VARIABLE: &str = "JOULEMARK_SETTINGS";

/// What is remembered.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Who is at the bench: written beside every action in the case log.
    pub at_the_bench: String,
    /// The shop, as its reports show it.
    pub shop: Shop,
    /// Where the shop keeps its cases.
    pub library: LibrarySettings,
}

/// The shop's letterhead.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Shop {
    /// Its name.
    pub name: String,
    /// Its address, line by line.
    pub address: Vec<String>,
    /// A PNG or JPEG file.
    pub logo: Option<PathBuf>,
    /// The paper in its printer.
    pub paper: Paper,
}

/// Size of a page.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Paper {
    /// 210 x 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 x 11 in (ANSI/ASME Y14.1).
    Letter,
}

/// The shop's library of cases.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct LibrarySettings {
    /// The folder that holds the case folders; may lie on a file share.
    pub folder: Option<PathBuf>,
    /// `postgresql://...` where the index is kept by a server; else it is a file in the folder.
    pub index_url: Option<String>,
    /// Whether earlier cases of a board model count when suspects are ranked.
    pub earlier_cases_count: bool,
}

impl Default for LibrarySettings {
    fn default() -> Self {
        // Whoever names a library wants what is in it.
        Self { folder: None, index_url: None, earlier_cases_count: true }
    }
}

/// Where it is kept; `None` when the system names no folder for settings.
pub fn file() -> Option<PathBuf> {
    if let Some(file) = env::var_os(SETTINGS_VARIABLE).filter(|f| !f.is_empty()) {
        return Some(PathBuf::from(file));
    }
    Some(directories::ProjectDirs::from("", "", "joulemark")?.config_dir().join("settings.ron"))
}

/// What was remembered; nothing when there is no file yet, or one that cannot be read: settings never keep anybody from
/// working.
pub fn load(file: &std::path::Path) -> Settings {
    notation::read(file).unwrap_or_default()
}

/// Remembers.
///
/// # Errors
/// When the file cannot be written.
pub fn save(file: &std::path::Path, settings: &Settings) -> anyhow::Result<()> {
    let unwritable = |e: std::io::Error| BadInput::unwritable(file, &e);
    if let Some(folder) = file.parent().filter(|f| !f.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder).map_err(unwritable)?;
    }
    atomic::write(file, notation::to_ron(settings)?.as_bytes()).map_err(unwritable)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_remembered_and_damaged_settings_are_no_obstacle() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("config/settings.ron");
        assert_eq!(load(&file), Settings::default());
        let settings = Settings { at_the_bench: "Ada".into(), ..Settings::default() };
        save(&file, &settings).unwrap();
        assert_eq!(load(&file), settings);
        std::fs::write(&file, "(at_the_bench: 3").unwrap();
        assert_eq!(load(&file), Settings::default());
    }
}
