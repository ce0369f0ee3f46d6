//! Finished tasks on disk, one JSON line each, in a file of their own for every build of this program.

use std::{
    collections::HashMap,
    fs::{self, File, OpenOptions},
    hash::{DefaultHasher, Hash, Hasher},
    io::{self, BufRead, BufReader, Write},
    path::Path,
};

use serde::{Deserialize, Serialize, de::DeserializeOwned};
use serde_json::Value;

/// What came out, by key.
pub struct Store {
    known: HashMap<String, Value>,
    file: File,
}

#[derive(Serialize, Deserialize)]
struct Line {
    key: String,
    done: Value,
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
                if let Ok(Line { key, done }) = serde_json::from_str(&line?) {
                    known.insert(key, done);
                }
            }
        }
        Ok(Self { known, file: OpenOptions::new().create(true).append(true).open(path)? })
    }

    /// What came out of a task that is done.
    pub fn get<T: DeserializeOwned>(&self, key: &str) -> Option<T> {
        serde_json::from_value(self.known.get(key)?.clone()).ok()
    }

    /// Keeps what came out.
    pub fn add<T: Serialize>(&mut self, key: &str, done: &T) -> io::Result<()> {
        let line = Line { key: key.to_owned(), done: serde_json::to_value(done)? };
        writeln!(self.file, "{}", serde_json::to_string(&line)?)
    }
}
