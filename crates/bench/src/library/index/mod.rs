//! The index: a database that makes the library quick to search. It holds nothing that is not in the case folders, so it can be
//! thrown away and rebuilt at any time. Two databases stand behind the same functions, and speak the same SQL: placeholders are `$1`,
//! `$2`, ..., each used once and in that order.

mod postgres;
mod schema;
mod sqlite;
mod value;

pub use value::Value;

use std::path::{Path, PathBuf};

/// Rows of cells.
pub type Table = Vec<Vec<Value>>;

/// An open index.
pub struct Index(Backend);

enum Backend {
    Sqlite(sqlite::Sqlite),
    Postgres(postgres::Postgres),
}

/// Where an index is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum IndexPlace {
    /// A file on this machine.
    File(PathBuf),
    /// A PostgreSQL database by its URL, which may hold a password and is never shown.
    Server(String),
}

impl Index {
    /// Opens an index and makes its tables where they are not there. A damaged file is thrown away and begun anew.
    ///
    /// # Errors
    /// When the file cannot be made, or the server does not answer.
    pub fn open(place: &IndexPlace) -> anyhow::Result<Self> {
        Self::try_open(place).or_else(|error| match place {
            IndexPlace::File(file) if Self::is_damaged(&error) => {
                sqlite::throw_away(file)?;
                Self::try_open(place)
            }
            _ => Err(error),
        })
    }

    fn try_open(place: &IndexPlace) -> anyhow::Result<Self> {
        let mut index = Self(match place {
            IndexPlace::File(file) => Backend::Sqlite(sqlite::Sqlite::open(file)?),
            IndexPlace::Server(url) => Backend::Postgres(postgres::Postgres::open(url)?),
        });
        schema::prepare(&mut index)?;
        Ok(index)
    }

    /// Whether an error says that the file is no database any more, such as after a power cut.
    pub fn is_damaged(error: &anyhow::Error) -> bool {
        sqlite::is_damaged(error)
    }

    /// Throws a damaged file away and begins a new one.
    ///
    /// # Errors
    /// Those of [`Self::open`].
    pub fn begin_anew(&mut self, place: &IndexPlace) -> anyhow::Result<()> {
        if let IndexPlace::File(file) = place {
            sqlite::throw_away(file)?;
        }
        *self = Self::try_open(place)?;
        Ok(())
    }

    /// Runs a command; returns how many rows it touched.
    ///
    /// # Errors
    /// Whatever the database says, in one line.
    pub fn run(&mut self, sql: &str, values: &[Value]) -> anyhow::Result<u64> {
        match &mut self.0 {
            Backend::Sqlite(db) => db.run(sql, values),
            Backend::Postgres(db) => db.run(sql, values),
        }
    }

    /// Asks; returns the rows.
    ///
    /// # Errors
    /// Whatever the database says, in one line.
    pub fn ask(&mut self, sql: &str, values: &[Value]) -> anyhow::Result<Table> {
        match &mut self.0 {
            Backend::Sqlite(db) => db.ask(sql, values),
            Backend::Postgres(db) => db.ask(sql, values),
        }
    }

    /// Writes in one piece: all of it or nothing, and nobody else writes meanwhile.
    ///
    /// # Errors
    /// That of `write`, or of the database.
    pub fn in_one_piece<T>(&mut self, write: impl FnOnce(&mut Self) -> anyhow::Result<T>) -> anyhow::Result<T> {
        for command in self.begin() {
            self.run(command, &[])?;
        }
        match write(self) {
            Ok(done) => self.run("COMMIT", &[]).map(|_| done),
            Err(error) => {
                // The first fault is the one to tell.
                let _ = self.run("ROLLBACK", &[]);
                Err(error)
            }
        }
    }

    fn begin(&self) -> &'static [&'static str] {
        match &self.0 {
            Backend::Sqlite(_) => &sqlite::BEGIN,
            Backend::Postgres(_) => &postgres::BEGIN,
        }
    }

    /// Text compared byte by byte, as this database writes that in a table's definition.
    fn text_type(&self) -> &'static str {
        match &self.0 {
            Backend::Sqlite(_) => "TEXT",
            Backend::Postgres(_) => "TEXT COLLATE \"C\"",
        }
    }

    /// Bytes, likewise.
    fn bytes_type(&self) -> &'static str {
        match &self.0 {
            Backend::Sqlite(_) => "BLOB",
            Backend::Postgres(_) => "BYTEA",
        }
    }
}

/// Where the index of a library is kept on this machine when there is no server: in the user's folder for caches, by the library's
/// path. Never on the share itself: a database file on a network file system is only as whole as that system's locks, which SQLite's
/// own documentation warns of ("How To Corrupt An SQLite Database File", 2.1; "SQLite Over a Network"; named from memory). Each machine has
/// its own, and reads again what changed.
pub fn file_for(library: &Path) -> Option<PathBuf> {
    let folder = std::fs::canonicalize(library).unwrap_or_else(|_| library.to_owned());
    let name = format!("library-{:016x}.sqlite", fnv1a(folder.to_string_lossy().as_bytes()));
    Some(caches()?.join(name))
}

/// Names a folder for caches that is used instead of the user's own.
pub const CACHE_VARIABLE: &str = "JOULEMARK_CACHE";

fn caches() -> Option<PathBuf> {
    if let Some(folder) = std::env::var_os(CACHE_VARIABLE).filter(|f| !f.is_empty()) {
        return Some(PathBuf::from(folder));
    }
    Some(directories::ProjectDirs::from("", "", "joulemark")?.cache_dir().to_owned())
}

/// FNV-1a, 64 bits (Fowler, Noll and Vo): the same name on every run, which the standard library's hash does not promise.
fn fnv1a(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values of the published test vectors for FNV-1a (from memory): the empty text, "a" and "foobar".
    #[test]
    fn names_are_hashed_as_published() {
        assert_eq!(fnv1a(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv1a(b"a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv1a(b"foobar"), 0x8594_4171_f739_67e8);
    }
}
