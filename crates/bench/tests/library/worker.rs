//! What the other processes do: this test program, started again for one of its ignored tests.

use std::{
    env, fs,
    io::Write as _,
    path::{Path, PathBuf},
    process::{Child, Command, Stdio},
};

use joulemark::{
    case::{
        CaseFolder,
        case_log::{self, LogLine},
    },
    library::{Library, Place, index::IndexPlace},
};

use super::shop::radio;

const JOB: &str = "JOULEMARK_TEST_JOB";

/// What a process is to do, in its environment.
pub struct Job {
    pub place: Place,
    /// Which bench it is.
    pub bench: usize,
    /// Cases that it makes.
    pub cases: usize,
    /// A case that all benches work on.
    pub shared: PathBuf,
    /// Where it writes down what was saved, after it was saved.
    pub journal: PathBuf,
    /// The rebuilding process ends when this file is there.
    pub stop: PathBuf,
}

impl Job {
    fn start(&self, test: &str) -> Child {
        let index = match &self.place.index {
            IndexPlace::File(file) => format!("file\n{}", file.display()),
            IndexPlace::Server(url) => format!("server\n{url}"),
        };
        let path = |p: &Path| p.display().to_string();
        let lines = [
            path(&self.place.folder),
            index,
            self.bench.to_string(),
            self.cases.to_string(),
            path(&self.shared),
            path(&self.journal),
            path(&self.stop),
        ];
        Command::new(env::current_exe().unwrap())
            .args(["--exact", "--ignored", test])
            .env(JOB, lines.join("\n"))
            .stdout(Stdio::null())
            .spawn()
            .unwrap()
    }

    pub fn write(&self) -> Child {
        self.start("worker::as_a_bench")
    }

    pub fn rebuild(&self) -> Child {
        self.start("worker::as_a_rebuilder")
    }

    fn from_environment() -> Self {
        let text = env::var(JOB).expect("this is started by other tests, as a process of its own");
        let lines: Vec<&str> = text.lines().collect();
        let [folder, kind, at, bench, cases, shared, journal, stop] = lines[..] else { panic!("no job: {text}") };
        let index = if kind == "file" { IndexPlace::File(at.into()) } else { IndexPlace::Server(at.into()) };
        Self {
            place: Place { folder: folder.into(), index },
            bench: bench.parse().unwrap(),
            cases: cases.parse().unwrap(),
            shared: shared.into(),
            journal: journal.into(),
            stop: stop.into(),
        }
    }
}

/// One write a line, so that being killed leaves whole lines.
fn note(journal: &mut fs::File, line: &str) {
    journal.write_all(format!("{line}\n").as_bytes()).unwrap();
}

/// Makes cases, works on the shared one in between, and keeps the index up to date as the program does.
#[test]
#[ignore = "started by other tests as a process of its own"]
fn as_a_bench() {
    let job = Job::from_environment();
    let mut journal = fs::File::options().append(true).create(true).open(&job.journal).unwrap();
    let mut library = Library::open(job.place.clone()).unwrap();
    for number in 0..job.cases {
        let name = format!("bench {}/{number:03}", job.bench);
        let folder = job.place.folder.join(&name);
        fs::create_dir_all(&folder).unwrap();
        let mut case = CaseFolder { folder: folder.clone(), case: radio(&name, "V12", &[], None, "2026-03-01") };
        case.save().unwrap();
        for step in ["begun", "measured", "filmed"] {
            case.case.notes = format!("{step} {name}");
            case.save().unwrap();
            // Written down once it is saved: from here on it must not be lost.
            note(&mut journal, &format!("case\t{name}\t{}", case.case.notes));
        }
        // On the shared case everybody adds a line; who was too late opens it again.
        loop {
            let mut shared = CaseFolder::open(&job.shared).unwrap();
            let line = format!("bench {} added {number}\n", job.bench);
            shared.case.notes += &line;
            match shared.save() {
                Ok(()) => {
                    note(&mut journal, &format!("shared\t{}", line.trim_end()));
                    break;
                }
                Err(error) => {
                    assert!(error.to_string().contains("changed by somebody else"), "{error}");
                    note(&mut journal, &format!("refused\t{number}"));
                }
            }
        }
        let action = format!("bench {} did {number}", job.bench);
        let line = LogLine { time: "2026-03-01T09:30:05Z".into(), by: "Ada".into(), action: action.clone() };
        case_log::append(&job.shared, &[line]).unwrap();
        note(&mut journal, &format!("log\t{action}"));
        if number % 4 == 0 {
            library.refresh().unwrap();
        }
    }
}

/// Rebuilds the index over and over until it is told to stop.
#[test]
#[ignore = "started by other tests as a process of its own"]
fn as_a_rebuilder() {
    let job = Job::from_environment();
    let mut journal = fs::File::options().append(true).create(true).open(&job.journal).unwrap();
    while !job.stop.exists() {
        Library::open(job.place.clone()).unwrap().rebuild().unwrap();
        note(&mut journal, "rebuilt");
    }
}
