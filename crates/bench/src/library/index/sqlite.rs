//! SQLite in the program itself.
//!
//! A rollback journal and not a write-ahead log: the latter needs shared memory and so all users on one machine (SQLite's "Write-Ahead
//! Logging", named from memory), and a home folder may lie on a server too.

use std::{
    fs, io,
    path::{Path, PathBuf},
    time::Duration,
};

use rusqlite::{Connection, ErrorCode, OpenFlags, params_from_iter, types::ValueRef};

use super::{Table, Value};
use crate::case::BadInput;

/// A writer waits this long for another one. A rebuild of some thousand cases writes for less than a second.
const PATIENCE: Duration = Duration::from_secs(30);

/// Takes the right to write at once: asking for it in the middle could fail against another who did the same.
pub(super) const BEGIN: [&str; 1] = ["BEGIN IMMEDIATE"];

pub(super) struct Sqlite {
    connection: Connection,
    file: PathBuf,
}

impl Sqlite {
    pub(super) fn open(file: &Path) -> anyhow::Result<Self> {
        if let Some(folder) = file.parent().filter(|f| !f.as_os_str().is_empty()) {
            fs::create_dir_all(folder).map_err(|e| BadInput::unwritable(folder, &e))?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE;
        let opened = Connection::open_with_flags(file, flags).and_then(|connection| {
            connection.busy_timeout(PATIENCE)?;
            let _: String = connection.query_row("PRAGMA journal_mode = DELETE", [], |row| row.get(0))?;
            Ok(connection)
        });
        Ok(Self { connection: opened.map_err(|e| fault(file, e))?, file: file.to_owned() })
    }

    pub(super) fn run(&mut self, sql: &str, values: &[Value]) -> anyhow::Result<u64> {
        self.try_run(sql, values).map_err(|e| fault(&self.file, e))
    }

    pub(super) fn ask(&mut self, sql: &str, values: &[Value]) -> anyhow::Result<Table> {
        self.try_ask(sql, values).map_err(|e| fault(&self.file, e))
    }

    fn try_run(&self, sql: &str, values: &[Value]) -> rusqlite::Result<u64> {
        let mut statement = self.connection.prepare_cached(sql)?;
        Ok(statement.execute(params_from_iter(values))? as u64)
    }

    fn try_ask(&self, sql: &str, values: &[Value]) -> rusqlite::Result<Table> {
        let mut statement = self.connection.prepare_cached(sql)?;
        let columns = statement.column_count();
        let mut rows = statement.query(params_from_iter(values))?;
        let mut table = Table::new();
        while let Some(row) = rows.next()? {
            let cells = (0..columns).map(|i| {
                Ok(match row.get_ref(i)? {
                    ValueRef::Text(text) => Value::Text(String::from_utf8_lossy(text).into_owned()),
                    ValueRef::Blob(bytes) => Value::Bytes(bytes.to_owned()),
                    ValueRef::Integer(number) => Value::Text(number.to_string()),
                    ValueRef::Real(_) | ValueRef::Null => Value::Null,
                })
            });
            table.push(cells.collect::<rusqlite::Result<_>>()?);
        }
        Ok(table)
    }
}

impl rusqlite::ToSql for Value {
    fn to_sql(&self) -> rusqlite::Result<rusqlite::types::ToSqlOutput<'_>> {
        let value = match self {
            Self::Null => ValueRef::Null,
            Self::Text(text) => ValueRef::Text(text.as_bytes()),
            Self::Bytes(bytes) => ValueRef::Blob(bytes),
        };
        Ok(rusqlite::types::ToSqlOutput::Borrowed(value))
    }
}

/// One line, with the cause kept inside.
fn fault(file: &Path, error: rusqlite::Error) -> anyhow::Error {
    let told = BadInput {
        file: file.display().to_string(),
        place: "index".to_owned(),
        problem: error.to_string(),
        remedy: "the cases are safe; free some space, or remove this file: it is made anew".to_owned(),
    };
    anyhow::Error::new(error).context(told)
}

/// Whether the file is no database any more, such as after a power cut.
pub(super) fn is_damaged(error: &anyhow::Error) -> bool {
    let code = error.downcast_ref::<rusqlite::Error>().and_then(rusqlite::Error::sqlite_error_code);
    matches!(code, Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt))
}

/// Removes an index file and its journal.
pub(super) fn throw_away(file: &Path) -> anyhow::Result<()> {
    let mut journal = file.as_os_str().to_owned();
    journal.push("-journal");
    for path in [file, Path::new(&journal)] {
        match fs::remove_file(path) {
            Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(BadInput::unwritable(path, &e)),
            _ => {}
        }
    }
    Ok(())
}
