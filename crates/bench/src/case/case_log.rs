//! The case log: what was done, when and by whom. It only grows: lines are appended and never rewritten, and undoing
//! something is one more line.

use std::{
    fs::{self, OpenOptions},
    io::{self, Read, Seek, SeekFrom, Write},
    path::Path,
    time::Duration,
};

use super::{BadInput, turn};

/// Name of the log within its case folder.
pub const CASE_LOG: &str = "case-log.csv";

const HEADER: &str = "time,by,action";
/// A log beyond this was not written by hands.
const MOST_BYTES: u64 = 64 << 20;

/// Appending takes milliseconds; whoever holds the log for longer than this is stuck.
const PATIENCE: Duration = Duration::from_secs(2);

/// One line of the log.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LogLine {
    /// When, in UTC: `2026-03-01T09:30:05Z`.
    pub time: String,
    /// Who was at the bench; may be empty.
    pub by: String,
    /// What was done, one sentence.
    pub action: String,
}

/// What a log file holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LogFile {
    /// Its lines, the oldest first.
    pub lines: Vec<LogLine>,
    /// Lines that cannot be read, such as one that a power cut broke off. They stay in the file.
    pub damaged: usize,
}

/// Adds lines at the end of a case's log and waits until they are on the disk. A last line that was broken off is closed
/// first, so that it cannot swallow the next one.
///
/// # Errors
/// When the log cannot be written; none or some of the lines are in it then.
pub fn append(folder: &Path, lines: &[LogLine]) -> anyhow::Result<()> {
    let file = folder.join(CASE_LOG);
    let unwritable = |e: io::Error| BadInput::unwritable(&file, &e);
    let mut log = OpenOptions::new().read(true).append(true).create(true).open(&file).map_err(unwritable)?;
    // Where files are shared over a network, two ends may be the same place: one at a time. Without the lock a line may be damaged, which
    // reading survives; not to write it at all would be worse.
    turn::wait_for(&log, PATIENCE);
    let mut text = match last_byte(&mut log).map_err(unwritable)? {
        None => format!("{HEADER}\n"),
        Some(b'\n') => String::new(),
        Some(_) => "\n".to_owned(),
    };
    for line in lines {
        text += &to_csv(line)?;
    }
    // One write, so that two windows on one case do not mix their lines.
    log.write_all(text.as_bytes()).map_err(unwritable)?;
    log.sync_all().map_err(unwritable)
}

fn last_byte(file: &mut fs::File) -> io::Result<Option<u8>> {
    if file.metadata()?.len() == 0 {
        return Ok(None);
    }
    let mut byte = [0];
    file.seek(SeekFrom::End(-1))?;
    file.read_exact(&mut byte)?;
    Ok(Some(byte[0]))
}

fn to_csv(line: &LogLine) -> anyhow::Result<String> {
    let flat = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([flat(&line.time), flat(&line.by), flat(&line.action)])?;
    Ok(String::from_utf8(writer.into_inner()?)?)
}

/// Reads the log of a case; a case without one has an empty log.
///
/// # Errors
/// When there is a log that cannot be read. Damaged lines are no error.
pub fn read(folder: &Path) -> anyhow::Result<LogFile> {
    let file = folder.join(CASE_LOG);
    let bytes = match fs::metadata(&file) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(LogFile::default()),
        Err(e) => return Err(BadInput::unreadable(&file, &e)),
        Ok(meta) if meta.len() > MOST_BYTES => {
            return Err(BadInput::at(&file, "", "far too large for a case log", "move it aside"));
        }
        Ok(_) => fs::read(&file).map_err(|e| BadInput::unreadable(&file, &e))?,
    };
    Ok(parse(&String::from_utf8_lossy(&bytes)))
}

fn parse(text: &str) -> LogFile {
    let mut log = LogFile::default();
    let mut rest = text.strip_prefix('\u{feff}').unwrap_or(text);
    while !rest.is_empty() {
        // Each line by itself: an open quote in a damaged one must not reach into the next.
        let (line, after) = rest.split_once('\n').map_or((rest, None), |(line, after)| (line, Some(after)));
        let broken_off = after.is_none();
        rest = after.unwrap_or("");
        if line.trim().is_empty() || line.trim() == HEADER {
            continue;
        }
        match fields(line).filter(|_| !broken_off) {
            Some(line) => log.lines.push(line),
            None => log.damaged += 1,
        }
    }
    log
}

fn fields(line: &str) -> Option<LogLine> {
    if line.matches('"').count() % 2 == 1 || line.contains('\u{fffd}') {
        return None;
    }
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(line.as_bytes());
    let record = reader.records().next()?.ok()?;
    match record.iter().collect::<Vec<_>>().as_slice() {
        [time, by, action] if !time.is_empty() && !action.is_empty() => {
            Some(LogLine { time: (*time).to_owned(), by: (*by).to_owned(), action: (*action).to_owned() })
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(action: &str) -> LogLine {
        LogLine { time: "2026-03-01T09:30:05Z".into(), by: "Ada".into(), action: action.into() }
    }

    #[test]
    fn lines_are_added_and_never_rewritten() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(read(folder.path()).unwrap(), LogFile::default());
        append(folder.path(), &[line("opened"), line("V12, ohms to ground: 0.2 \u{3a9}, \"by hand\"")]).unwrap();
        let before = fs::read(folder.path().join(CASE_LOG)).unwrap();
        append(folder.path(), &[line("lifted C12;\nmeasured again")]).unwrap();
        let after = fs::read(folder.path().join(CASE_LOG)).unwrap();
        assert!(after.starts_with(&before), "what was there stays");
        let log = read(folder.path()).unwrap();
        assert_eq!(log.damaged, 0);
        let actions: Vec<&str> = log.lines.iter().map(|l| l.action.as_str()).collect();
        let wanted = ["opened", "V12, ohms to ground: 0.2 \u{3a9}, \"by hand\"", "lifted C12; measured again"];
        assert_eq!(actions, wanted);
    }

    #[test]
    fn a_line_that_was_broken_off_costs_only_itself() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(CASE_LOG);
        append(folder.path(), &[line("opened"), line("V12, 0.2 \u{3a9}, measured")]).unwrap();
        let whole = fs::read(&file).unwrap();
        for cut in HEADER.len() + 2..whole.len() {
            fs::write(&file, &whole[..cut]).unwrap();
            let log = read(folder.path()).unwrap();
            assert!(log.lines.len() <= 2 && log.damaged <= 1, "{cut}");
            append(folder.path(), &[line("after the power came back")]).unwrap();
            let repaired = read(folder.path()).unwrap();
            assert_eq!(repaired.lines.last(), Some(&line("after the power came back")), "cut at {cut}");
            assert!(fs::read(&file).unwrap().starts_with(&whole[..cut]), "what was there stays, cut at {cut}");
        }
    }

    #[test]
    fn foreign_bytes_are_counted_as_damaged() {
        let log = parse("time,by,action\n\u{fffd}\u{fffd},x,y\nonly,two\n\"open,quote,here\nt,,done\n");
        assert_eq!((log.lines.len(), log.damaged), (1, 3));
        assert_eq!(log.lines[0].action, "done");
    }

    #[test]
    fn a_folder_that_is_not_there_is_said_in_one_line() {
        let message = append(Path::new("/no/such/case"), &[line("x")]).unwrap_err().to_string();
        assert!(message.contains("/no/such/case") && message.lines().count() == 1, "{message}");
    }
}
