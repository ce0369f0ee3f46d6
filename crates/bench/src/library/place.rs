//! Where the library and its index are: a flag goes before the environment, and that before the settings.

use std::path::{Path, PathBuf};

use super::index::{self, IndexPlace};
use crate::case::{
    BadInput,
    settings::{self, LibrarySettings},
};

/// Names the library's folder in place of the settings.
pub const LIBRARY_VARIABLE: &str = "JOULEMARK_LIBRARY";
/// Names the index's server in place of the settings.
pub const INDEX_VARIABLE: &str = "JOULEMARK_LIBRARY_INDEX";

/// A library that can be opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The folder that holds the case folders.
    pub folder: PathBuf,
    /// Where its index is.
    pub index: IndexPlace,
}

impl Place {
    /// The library in that folder, with its index on the server where a URL is given, or else on this machine.
    ///
    /// # Errors
    /// When the system names no folder for caches.
    pub fn of(folder: &Path, index_url: Option<&str>) -> anyhow::Result<Self> {
        let index = match index_url.filter(|url| !url.trim().is_empty()) {
            Some(url) => IndexPlace::Server(url.trim().to_owned()),
            None => IndexPlace::File(index::file_for(folder).ok_or_else(|| {
                let remedy = format!("name one with {}", index::CACHE_VARIABLE);
                BadInput::at(folder, "index", "this system names no folder for caches", remedy)
            })?),
        };
        Ok(Self { folder: folder.to_owned(), index })
    }

    /// The library of this user, where one is set.
    ///
    /// # Errors
    /// Those of [`Self::of`].
    pub fn find(folder: Option<&Path>, index_url: Option<&str>) -> anyhow::Result<Option<Self>> {
        let set = remembered();
        let variable = |name: &str| std::env::var_os(name).filter(|v| !v.is_empty());
        let folder =
            folder.map(Path::to_owned).or_else(|| variable(LIBRARY_VARIABLE).map(PathBuf::from)).or(set.folder);
        let from_environment = variable(INDEX_VARIABLE).map(|v| v.to_string_lossy().into_owned());
        let index = index_url.map(str::to_owned).or(from_environment).or(set.index_url);
        folder.map(|folder| Self::of(&folder, index.as_deref())).transpose()
    }
}

/// What the settings say of the library.
pub fn remembered() -> LibrarySettings {
    settings::file().map(|file| settings::load(&file).library).unwrap_or_default()
}
