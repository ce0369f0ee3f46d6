//! Several benches on one library at once, one of them killed in the middle, and somebody rebuilding the index all the while.

use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
    path::{Path, PathBuf},
    thread,
    time::{Duration, Instant},
};

use joulemark::{
    case::{Case, CaseFolder, case_log},
    library::{CaseRow, Library, Query},
};

use super::{
    places::{Database, place},
    shop::Shop,
    worker::Job,
};

const BENCHES: usize = 4;
const CASES: usize = 12;
/// Far longer than it takes: a run that hangs ends in a failure.
const PATIENCE: Duration = Duration::from_secs(240);

fn lines(journal: &Path) -> Vec<String> {
    fs::read_to_string(journal).unwrap_or_default().lines().map(str::to_owned).collect()
}

fn rows(library: &mut Library) -> BTreeMap<String, CaseRow> {
    let found = library.cases(&Query::default()).unwrap();
    let count = found.len();
    let rows: BTreeMap<String, CaseRow> = found.into_iter().map(|f| (f.row.folder.clone(), f.row)).collect();
    assert_eq!(rows.len(), count, "no case twice");
    rows
}

fn nothing_is_lost(database: Database) {
    let begun = Instant::now();
    let shop = Shop::new();
    let shared = shop.library().join("shared");
    fs::create_dir(&shared).unwrap();
    CaseFolder { folder: shared.clone(), case: Case::default() }.save().unwrap();
    let place = place(&shop, database);
    let journal = |bench: usize| shop.beside(&format!("journal {bench}"));
    let job = |bench: usize| Job {
        place: place.clone(),
        bench,
        cases: CASES,
        shared: shared.clone(),
        journal: journal(bench),
        stop: shop.beside("stop"),
    };
    let wait = |what: &str, done: &mut dyn FnMut() -> bool| {
        while !done() {
            assert!(begun.elapsed() < PATIENCE, "{what} takes too long");
            thread::sleep(Duration::from_millis(10));
        }
    };
    // Bench 0 is killed in the middle of its work, and the first of those that rebuild as well.
    let (killed_journal, rebuilt_journal) = (journal(0), journal(BENCHES));
    let mut benches: Vec<_> = (0..BENCHES).map(|bench| job(bench).write()).collect();
    let mut rebuilders = vec![job(BENCHES).rebuild()];
    wait("the first third", &mut || lines(&killed_journal).len() >= CASES * 5 / 3);
    benches[0].kill().unwrap();
    wait("the first rebuild", &mut || !lines(&rebuilt_journal).is_empty());
    rebuilders[0].kill().unwrap();
    rebuilders.push(job(BENCHES + 1).rebuild());
    for (bench, child) in benches.iter_mut().enumerate() {
        let mut status = None;
        wait("a bench", &mut || {
            status = child.try_wait().unwrap();
            status.is_some()
        });
        assert_eq!(status.unwrap().success(), bench != 0, "bench {bench}");
    }
    fs::write(shop.beside("stop"), "").unwrap();
    for (number, child) in rebuilders.iter_mut().enumerate() {
        assert_eq!(child.wait().unwrap().success(), number != 0, "rebuilder {number}");
    }

    // What was written down as saved.
    let mut saved: BTreeMap<String, String> = BTreeMap::new();
    let (mut added, mut logged, mut refused, mut rebuilt): (Vec<String>, BTreeSet<String>, usize, usize) =
        Default::default();
    for line in (0..BENCHES + 2).flat_map(|bench| lines(&journal(bench))) {
        match line.split('\t').collect::<Vec<_>>().as_slice() {
            ["case", name, notes] => drop(saved.insert((*name).to_owned(), (*notes).to_owned())),
            ["shared", line] => added.push((*line).to_owned()),
            ["log", action] => drop(logged.insert((*action).to_owned())),
            ["refused", _] => refused += 1,
            ["rebuilt"] => rebuilt += 1,
            other => panic!("{other:?}"),
        }
    }
    assert!(
        saved.len() >= (BENCHES - 1) * CASES && saved.len() < BENCHES * CASES,
        "killed in the middle: {}",
        saved.len()
    );
    // No case is lost or behind, and none was overwritten.
    let on_disk: BTreeSet<String> = case_folders(&shop.library());
    for (name, notes) in &saved {
        let case = CaseFolder::open(&shop.library().join(name)).unwrap().case;
        // The killed one may have saved once more than it could write down.
        let later = name.starts_with("bench 0/");
        assert!(case.notes == *notes || later && case.notes.ends_with(name), "{name}: {} is not {notes}", case.notes);
    }
    let notes = CaseFolder::open(&shared).unwrap().case.notes;
    for line in &added {
        assert_eq!(notes.lines().filter(|l| l == line).count(), 1, "{line}");
    }
    assert!(notes.lines().count() <= added.len() + 1, "at most the killed one's last line was not written down");
    let log = case_log::read(&shared).unwrap();
    let actions: BTreeSet<String> = log.lines.iter().map(|l| l.action.clone()).collect();
    assert!(actions.is_superset(&logged) && log.damaged <= 1, "{} of {}", actions.len(), logged.len());

    // The index follows, whatever the killed ones left in it; a rebuilt one is the same.
    let mut library = Library::open(place).unwrap();
    library.refresh().unwrap();
    let followed = rows(&mut library);
    assert_eq!(followed.keys().cloned().collect::<BTreeSet<_>>(), on_disk);
    assert!(followed.values().all(|row| row.fault.is_none()));
    assert_eq!(library.rebuild().unwrap().read, on_disk.len());
    assert_eq!(rows(&mut library), followed);
    assert!(rebuilt > 0);
    println!(
        "{database:?}: {BENCHES} benches, one killed, {} cases saved and found, {} lines on one shared case ({refused} refused and \
         repeated), {} log lines, {rebuilt} rebuilds meanwhile, {:.1} s: nothing lost",
        on_disk.len(),
        added.len(),
        logged.len(),
        begun.elapsed().as_secs_f64()
    );
}

/// Found here without the library's own search.
fn case_folders(library: &Path) -> BTreeSet<String> {
    let folders = |path: PathBuf| fs::read_dir(path).unwrap().map(|e| e.unwrap().path());
    let inside = folders(library.to_owned()).flat_map(|p| folders(p.clone()).filter(|p| p.is_dir()).chain([p]));
    let cases = inside.filter(|p| p.join("case.ron").exists());
    cases.map(|p| p.strip_prefix(library).unwrap().display().to_string()).collect()
}

#[test]
fn sqlite_loses_nothing_between_processes() {
    nothing_is_lost(Database::Sqlite);
}

#[test]
#[ignore = "needs a PostgreSQL server: tests/run"]
fn postgres_loses_nothing_between_processes() {
    nothing_is_lost(Database::Postgres);
}
