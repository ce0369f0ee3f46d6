//! A made-up shop: cases of a small weather-buoy workshop, written as the program writes them.

use std::{
    fs,
    path::{Path, PathBuf},
    time::{Duration, SystemTime},
};

use joulemark::case::{
    Case, CaseFolder, TakeEntry,
    case_log::{self, LogLine},
    conclusion::{SignOff, VerdictEntry},
    device::Device,
    intervention::{Doing, Intervention},
    reading::ReadingEntry,
};
use joulemark_frames::CountsLaw;
use joulemark_locate::{align::PointPair, repair_check::VerdictKind};
use tempfile::TempDir;

use super::support::Loose;

/// A library folder that goes with it, and beside it room for an index.
pub struct Shop {
    root: TempDir,
}

impl Shop {
    pub fn new() -> Self {
        let root = tempfile::tempdir().unwrap();
        fs::create_dir(root.path().join("cases")).unwrap();
        Self { root }
    }

    /// The library's folder.
    pub fn library(&self) -> PathBuf {
        self.root.path().join("cases")
    }

    /// A place outside the library.
    pub fn beside(&self, name: &str) -> PathBuf {
        self.root.path().join(name)
    }

    /// Five cases: four radios (the first came back as the third; one was found by practice) and a lamp.
    pub fn stocked() -> Self {
        let shop = Self::new();
        shop.add("0417", &radio("0417", "V12", &["C12"], Some(VerdictKind::Cleared), "2026-03-01"));
        shop.add("2026/0418", &radio("0418", "V12", &["C12", "C13"], Some(VerdictKind::Cleared), "2026-03-05"));
        shop.add("0417 again", &radio("0417", "V12", &[], Some(VerdictKind::StillThere), "2026-04-01"));
        shop.add("0419", &radio("0419", "V3", &[], None, "2026-04-02"));
        let mut lamp = radio("77", "V12", &["C12"], Some(VerdictKind::Cleared), "2025-12-31");
        lamp.device.model = "mast lamp".into();
        lamp.device.symptom = "does not light, 100% of the time".into();
        lamp.sign_off = Some(SignOff { time: "2026-01-02T08:00:00Z".into(), by: "Ada".into(), note: String::new() });
        shop.add("lamp", &lamp);
        shop.log("0417", &["2026-03-01T09:00:00Z", "2026-03-01T09:12:00Z", "2026-03-01T15:00:00Z"]);
        shop
    }

    pub fn add(&self, folder: &str, case: &Case) {
        let path = self.library().join(folder);
        fs::create_dir_all(&path).unwrap();
        CaseFolder { folder: path.clone(), case: case.clone() }.save().unwrap();
        age(&path);
    }

    /// A case with the small recording of a board whose C1 warms.
    pub fn add_recorded(&self, folder: &str, case: Case) {
        let loose = Loose::new(0.8);
        let path = self.library().join(folder);
        fs::create_dir_all(&path).unwrap();
        for name in ["frames.tif", "log.csv", "board.ron"] {
            fs::copy(loose.path(name), path.join(name)).unwrap();
        }
        let corner = |x_px, y_px, x_mm, y_mm| PointPair { x_px, y_px, x_mm, y_mm };
        let take = TakeEntry {
            name: "inject 1".into(),
            frames: "frames.tif".into(),
            log: Some("log.csv".into()),
            counts: Some(CountsLaw::CENTIKELVIN),
            face: "top".into(),
            pairs: vec![
                corner(4.0, 4.0, 0.0, 0.0),
                corner(44.0, 4.0, 20.0, 0.0),
                corner(44.0, 36.0, 20.0, 16.0),
                corner(4.0, 36.0, 0.0, 16.0),
            ],
            ..TakeEntry::default()
        };
        self.add(folder, &Case { board: "board.ron".into(), takes: vec![take], ..case });
    }

    pub fn log(&self, folder: &str, times: &[&str]) {
        let line = |time: &&str| LogLine { time: (*time).into(), by: "Ada".into(), action: "measured".into() };
        let path = self.library().join(folder);
        case_log::append(&path, &times.iter().map(line).collect::<Vec<_>>()).unwrap();
        age(&path);
    }
}

/// Makes the files of a case a minute old, so that the index takes them for settled.
pub fn age(case: &Path) {
    for entry in fs::read_dir(case).unwrap().flatten().filter(|e| e.path().is_file()) {
        let file = fs::File::options().write(true).open(entry.path()).unwrap();
        file.set_modified(SystemTime::now() - Duration::from_secs(60)).unwrap();
    }
}

/// A radio's case: these parts were replaced, and are the fault where the verdict says so.
pub fn radio(serial: &str, rail: &str, parts: &[&str], verdict: Option<VerdictKind>, day: &str) -> Case {
    let time = format!("{day}T10:00:00Z");
    let parts: Vec<String> = parts.iter().map(|p| (*p).to_owned()).collect();
    let replaced = parts.iter().zip(1..).map(|(part, number)| Intervention {
        number,
        what: Doing::Replaced,
        part: part.clone(),
        time: time.clone(),
        by: "Ada".into(),
    });
    let after = parts.len() as u32;
    let reading =
        |after, value| ReadingEntry { rail: rail.into(), value: Some(value), after, ..ReadingEntry::default() };
    Case {
        name: format!("Buoy radio, serial {serial}"),
        device: Device {
            model: "Buoy radio 2".into(),
            serial: serial.into(),
            symptom: "dead, draws 2 A".into(),
            opened: format!("{day}T09:00:00Z"),
        },
        rail: rail.into(),
        interventions: replaced.collect(),
        readings: vec![reading(0, 0.2), reading(after, 940.0)],
        verdicts: verdict
            .map(|verdict| VerdictEntry { time: time.clone(), verdict, culprits: parts, ..VerdictEntry::default() })
            .into_iter()
            .collect(),
        ..Case::default()
    }
}
