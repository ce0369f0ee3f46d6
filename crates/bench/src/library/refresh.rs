//! Bringing the index up to the cases: only what changed, or everything anew.

use std::{collections::BTreeMap, path::PathBuf};

use super::{
    Library,
    index::{Index, IndexPlace, Value},
    query, row,
    row::CaseRow,
    walk,
};

/// What was done to the index.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Refreshed {
    /// Cases that were read.
    pub read: usize,
    /// Cases that are not there any more.
    pub gone: usize,
    /// Cases in the library.
    pub cases: usize,
}

/// What a check found. Nothing is changed by it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Check {
    /// Cases in the library.
    pub cases: usize,
    /// Cases that the index does not have yet.
    pub missing: Vec<String>,
    /// Cases that changed since they were read.
    pub changed: Vec<String>,
    /// Rows whose case is not there any more.
    pub gone: Vec<String>,
    /// Cases that cannot be read, and why.
    pub faults: Vec<(String, String)>,
}

impl Library {
    /// Reads the cases that changed since the last time, and forgets those that are gone.
    ///
    /// # Errors
    /// When the library or its index cannot be read or written. A case that cannot be read is no error: its row says so.
    pub fn refresh(&mut self) -> anyhow::Result<Refreshed> {
        self.bring_up(false)
    }

    /// Throws the index away and reads every case.
    ///
    /// # Errors
    /// Those of [`Self::refresh`].
    pub fn rebuild(&mut self) -> anyhow::Result<Refreshed> {
        self.bring_up(true)
    }

    fn bring_up(&mut self, anew: bool) -> anyhow::Result<Refreshed> {
        match self.try_bring_up(anew) {
            Err(error) if Index::is_damaged(&error) && matches!(self.place.index, IndexPlace::File(_)) => {
                self.index.begin_anew(&self.place.index)?;
                self.try_bring_up(true)
            }
            done => done,
        }
    }

    fn try_bring_up(&mut self, anew: bool) -> anyhow::Result<Refreshed> {
        let folders = walk::case_folders(&self.place.folder)?;
        let known = if anew { BTreeMap::new() } else { self.stamps()? };
        // The stamp is taken before the case is read: what is written in between is read again next time.
        let stamped = folders.iter().map(|(name, path)| (name, path, row::stamp(path)));
        let due = stamped.filter(|(name, _, stamp)| stamp.is_empty() || known.get(*name) != Some(stamp));
        let read: Vec<(CaseRow, String)> = due.map(|(name, path, stamp)| (CaseRow::read(name, path), stamp)).collect();
        let place = self.place.folder.clone();
        let gone = self.index.in_one_piece(|index| {
            for (row, stamp) in &read {
                put(index, row, stamp)?;
            }
            let mut gone = 0;
            for name in stamps(index)?.into_keys().filter(|name| !folders.contains_key(name)) {
                // Another bench may have made the case since this one looked.
                if !place.join(&name).join(crate::case::CASE_FILE).exists() {
                    gone += index.run("DELETE FROM joulemark_cases WHERE folder = $1", &[Value::text(&name)])?;
                    index.run("DELETE FROM joulemark_thumbnails WHERE folder = $1", &[Value::text(&name)])?;
                }
            }
            if anew {
                index.run("DELETE FROM joulemark_thumbnails", &[])?;
            }
            Ok(gone)
        })?;
        Ok(Refreshed { read: read.len(), gone: gone as usize, cases: folders.len() })
    }

    /// Compares the index with the cases, and tries to read every case.
    ///
    /// # Errors
    /// When the library or its index cannot be read.
    pub fn check(&mut self) -> anyhow::Result<Check> {
        let folders: BTreeMap<String, PathBuf> = walk::case_folders(&self.place.folder)?;
        let known = self.stamps()?;
        let mut check = Check { cases: folders.len(), ..Check::default() };
        for (name, path) in &folders {
            let stamp = row::stamp(path);
            match known.get(name) {
                None => check.missing.push(name.clone()),
                Some(known) if *known != stamp => check.changed.push(name.clone()),
                Some(_) => {}
            }
            if let Some(fault) = CaseRow::read(name, path).fault {
                check.faults.push((name.clone(), fault));
            }
        }
        check.gone = known.into_keys().filter(|name| !folders.contains_key(name)).collect();
        Ok(check)
    }

    fn stamps(&mut self) -> anyhow::Result<BTreeMap<String, String>> {
        stamps(&mut self.index)
    }
}

fn stamps(index: &mut Index) -> anyhow::Result<BTreeMap<String, String>> {
    let rows = index.ask("SELECT folder, stamp FROM joulemark_cases", &[])?;
    let pair = |cells: &Vec<Value>| {
        let text = |i: usize| cells.get(i).map_or("", Value::as_text).to_owned();
        (text(0), text(1))
    };
    Ok(rows.iter().map(pair).collect())
}

fn put(index: &mut Index, row: &CaseRow, stamp: &str) -> anyhow::Result<()> {
    let mut values = vec![Value::text(&row.folder), Value::text(stamp)];
    values.extend(query::columns(row));
    values.push(Value::text(&serde_json::to_string(row)?));
    let sql = "INSERT INTO joulemark_cases (folder, stamp, model, rail, parts, symptom, verdict, opened, words, row_json) \
               VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) \
               ON CONFLICT (folder) DO UPDATE SET stamp = excluded.stamp, model = excluded.model, rail = excluded.rail, \
               parts = excluded.parts, symptom = excluded.symptom, verdict = excluded.verdict, opened = excluded.opened, \
               words = excluded.words, row_json = excluded.row_json";
    index.run(sql, &values).map(|_| ())
}
