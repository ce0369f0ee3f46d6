//! Finished boards on disk, one JSON line each, in a file of their own for every build of this program.

use std::{
    collections::HashMap,
    fs::{self, File, OpenOptions},
    hash::{DefaultHasher, Hash, Hasher},
    io::{self, BufRead, BufReader, Write},
    path::Path,
};

use serde::{Deserialize, Serialize};

use crate::record::Record;

/// Records by key.
pub struct Store {
    known: HashMap<String, Record>,
    file: File,
}

#[derive(Serialize, Deserialize)]
struct Line {
    key: String,
    record: Record,
}

impl Store {
    /// Opens the file of this very program in a folder.
    pub fn open(folder: &Path) -> io::Result<Self> {
        fs::create_dir_all(folder)?;
        let mut hasher = DefaultHasher::new();
        fs::read(std::env::current_exe()?)?.hash(&mut hasher);
        let path = folder.join(format!("{:016x}.jsonl", hasher.finish()));
        let mut known = HashMap::new();
        if path.exists() {
            for line in BufReader::new(File::open(&path)?).lines() {
                // A line that was cut off by a break is done again.
                if let Ok(Line { key, record }) = serde_json::from_str(&line?) {
                    known.insert(key, record);
                }
            }
        }
        Ok(Self { known, file: OpenOptions::new().create(true).append(true).open(path)? })
    }

    /// The record of a job that is done.
    pub fn get(&self, key: &str) -> Option<Record> {
        self.known.get(key).cloned()
    }

    /// Keeps a record.
    pub fn add(&mut self, key: &str, record: &Record) -> io::Result<()> {
        let line = serde_json::to_string(&Line { key: key.to_owned(), record: record.clone() })?;
        writeln!(self.file, "{line}")
    }
}
