//! The shop's library: all cases in one folder, an index that finds them, and what the shop has learnt from them. The case folders
//! are the truth; whatever the index says is read from them.

mod comeback;
pub mod earlier;
pub mod export;
mod good_readings;
pub mod index;
pub mod place;
mod query;
mod refresh;
pub mod row;
pub mod summary;
pub mod thumbnail;
mod walk;
mod worked;

pub use place::Place;
pub use query::Query;
pub use refresh::{Check, Refreshed};
pub use row::CaseRow;

use anyhow::Context as _;
use index::Index;
use serde::Serialize;

/// An open library.
pub struct Library {
    place: Place,
    index: Index,
}

/// A case as it was found.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Found {
    /// What is known of it.
    #[serde(flatten)]
    pub row: CaseRow,
    /// The folder of an earlier case of the same device, the latest one.
    pub comeback_of: Option<String>,
}

impl Library {
    /// Opens a library. Nothing is read from the cases yet: see [`Self::refresh`].
    ///
    /// # Errors
    /// When the folder is not there, or the index cannot be opened.
    pub fn open(place: Place) -> anyhow::Result<Self> {
        walk::shallow(&place.folder)?;
        let index = Index::open(&place.index)?;
        Ok(Self { place, index })
    }

    /// Where it is.
    pub fn place(&self) -> &Place {
        &self.place
    }

    /// Cases that a search finds, the newest first.
    ///
    /// # Errors
    /// Those of the index.
    pub fn cases(&mut self, query: &Query) -> anyhow::Result<Vec<Found>> {
        let (condition, values) = query.condition();
        let mut rows = self.rows(&condition, &values)?;
        rows.sort_by(|a, b| b.opened.cmp(&a.opened).then_with(|| a.folder.cmp(&b.folder)));
        let devices = if condition.is_empty() {
            comeback::Devices::of(&rows)
        } else {
            comeback::Devices::of(&self.rows("", &[])?)
        };
        Ok(rows.into_iter().map(|row| Found { comeback_of: devices.earlier(&row), row }).collect())
    }

    fn rows(&mut self, condition: &str, values: &[index::Value]) -> anyhow::Result<Vec<CaseRow>> {
        let table = self.index.ask(&format!("SELECT row_json FROM joulemark_cases{condition}"), values)?;
        let row = |cells: &Vec<index::Value>| {
            let text = cells.first().map_or("", index::Value::as_text);
            serde_json::from_str(text)
                .context("a row of the index cannot be read: rebuild it with joulemark library rebuild")
        };
        table.iter().map(row).collect()
    }

    /// All cases of a board model, however its name is written.
    fn of_model(&mut self, model: &str) -> anyhow::Result<Vec<CaseRow>> {
        self.rows(" WHERE model = $1", &[index::Value::text(&row::key(model))])
    }
}
