//! The case log in the window: lines are noted here at once and written behind the window's back, in order. Undo does
//! not reach it.

use std::path::Path;

use crate::case::{
    case_log::{self, LogFile, LogLine},
    clock,
};

/// The log of the open case.
#[derive(Clone, Debug, Default)]
pub struct Journal {
    /// Who is at the bench; may be empty.
    pub by: String,
    lines: Vec<LogLine>,
    /// Lines at the end that are not in the file yet.
    waiting: usize,
    /// Of those, how many are being written.
    writing: usize,
    /// How many lines there were when the last ones were handed over.
    tried: usize,
    /// Whether the file is still being read: what is written meanwhile would be read again.
    pub reading: bool,
    /// How many lines there were when writing failed last: the next line tries again, not every frame.
    failed_at: Option<usize>,
    /// Lines of the file that could not be read.
    pub damaged: usize,
    /// Why the file could not be written or read, when it could not.
    pub fault: Option<String>,
}

impl Journal {
    /// What the file held when the case was opened: before everything noted since.
    pub fn arrived(&mut self, read: Result<LogFile, String>) {
        self.reading = false;
        match read {
            Ok(LogFile { mut lines, damaged }) => {
                lines.append(&mut self.lines);
                (self.lines, self.damaged) = (lines, damaged);
            }
            Err(fault) => self.fault = Some(fault),
        }
    }

    /// Notes what was just done.
    pub fn note(&mut self, action: impl Into<String>) {
        self.lines.push(LogLine { time: clock::now(), by: self.by.clone(), action: action.into() });
        self.waiting += 1;
    }

    /// Everything noted, the oldest first.
    pub fn lines(&self) -> &[LogLine] {
        &self.lines
    }

    /// Whether lines wait for the file.
    pub fn waits(&self) -> bool {
        self.waiting > 0
    }

    /// Lines to be written now; none while others are under way.
    pub fn take_waiting(&mut self) -> Option<Vec<LogLine>> {
        if self.reading || self.writing > 0 || self.waiting == 0 || self.failed_at == Some(self.lines.len()) {
            return None;
        }
        (self.writing, self.tried) = (self.waiting, self.lines.len());
        Some(self.lines[self.lines.len() - self.waiting..].to_vec())
    }

    /// After they were written, or not: those that were not wait for the next one.
    pub fn written(&mut self, result: Result<(), String>) {
        let writing = std::mem::take(&mut self.writing);
        match result {
            Ok(()) => {
                self.waiting -= writing.min(self.waiting);
                (self.fault, self.failed_at) = (None, None);
            }
            Err(fault) => (self.fault, self.failed_at) = (Some(fault), Some(self.tried)),
        }
    }

    /// The case went to another folder, whose log has to hold everything too.
    pub fn moved(&mut self) {
        self.waiting = self.lines.len();
        self.failed_at = None;
    }
}

/// What a thread did for a session's log.
#[derive(Debug)]
pub enum LogWork {
    /// Read what the file holds.
    Read(u64, Result<LogFile, String>),
    /// Added lines.
    Written(u64, Result<(), String>),
}

/// Reads the log of a session's case.
pub fn read(session: u64, folder: &Path) -> LogWork {
    LogWork::Read(session, case_log::read(folder).map_err(|e| format!("{e:#}")))
}

/// Writes lines.
pub fn write(session: u64, folder: &Path, lines: &[LogLine]) -> LogWork {
    LogWork::Written(session, case_log::append(folder, lines).map_err(|e| format!("{e:#}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_wait_until_they_are_written() {
        let mut journal = Journal::default();
        assert_eq!(journal.take_waiting(), None);
        journal.note("opened");
        journal.note("measured");
        assert_eq!(journal.take_waiting().expect("two").len(), 2);
        assert_eq!(journal.take_waiting(), None, "one at a time, in order");
        journal.written(Err("disk full".into()));
        assert_eq!(journal.fault.as_deref(), Some("disk full"));
        assert_eq!(journal.take_waiting(), None, "not again until something is done");
        journal.note("lifted");
        assert_eq!(journal.take_waiting().expect("three").len(), 3);
        // What was noted while the write was under way counts as something done.
        journal.note("replaced");
        journal.written(Err("disk full".into()));
        assert_eq!(journal.take_waiting().expect("all").len(), 4);
        journal.written(Ok(()));
        assert!(!journal.waits() && journal.fault.is_none());
        journal.moved();
        assert_eq!(journal.take_waiting().expect("all again").len(), 4);
    }

    #[test]
    fn what_the_file_holds_comes_first_and_is_not_written_again() {
        let mut journal = Journal::default();
        journal.note("opened");
        let line = LogLine { action: "earlier".into(), ..LogLine::default() };
        journal.arrived(Ok(LogFile { lines: vec![line], damaged: 1 }));
        let actions: Vec<&str> = journal.lines().iter().map(|l| l.action.as_str()).collect();
        assert_eq!((actions.as_slice(), journal.damaged), (["earlier", "opened"].as_slice(), 1));
        assert_eq!(journal.take_waiting().expect("one").len(), 1);
    }
}
