//! One case as the library lists it. Everything here can be read again from the case folder; nothing is kept here alone.

use std::{
    fs,
    path::Path,
    time::{Duration, SystemTime, UNIX_EPOCH},
};

use joulemark_locate::repair_check::VerdictKind;
use serde::{Deserialize, Serialize};

use super::{good_readings, worked};
use crate::case::{
    CASE_FILE, Case, CaseFolder,
    case_log::{self, CASE_LOG},
    clock,
    conclusion::SignOff,
    intervention::Doing,
    reading::ReadingEntry,
};

/// One case.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CaseRow {
    /// Its folder within the library, `/` between folders.
    pub folder: String,
    /// What the shop calls it.
    pub name: String,
    /// Board model: the device's, or else the drawing's name.
    pub model: String,
    /// Serial number.
    pub serial: String,
    /// The shorted rail.
    pub rail: String,
    /// The symptom, as it was told.
    pub symptom: String,
    /// When it was opened, in UTC: as the case says, or else its first action, or else when the file was written.
    pub opened: String,
    /// The newest verdict on record.
    pub verdict: Option<VerdictKind>,
    /// When that was.
    pub verdict_time: String,
    /// Parts that were proven to be the fault.
    pub culprits: Vec<String>,
    /// The lead's signature.
    pub sign_off: Option<SignOff>,
    /// Whether the lead has to look at it: it is said to be repaired, and not signed since.
    pub waiting: bool,
    /// Time at the bench in seconds, breaks left out; `None` without a log.
    pub worked_s: Option<i64>,
    /// Parts that were put in anew.
    pub parts_used: Vec<String>,
    /// Every part that was lifted or replaced, or named by a verdict.
    pub parts: Vec<String>,
    /// Readings of healthy rails, marked as such: what a good board of this model reads.
    pub good_readings: Vec<ReadingEntry>,
    /// Whether it is a simulated practice case or an exercise: listed, never learnt from.
    pub practice: bool,
    /// Why the case cannot be read, one line; then all else is empty.
    pub fault: Option<String>,
}

impl CaseRow {
    /// Reads a case. One that cannot be read still has a row, which says why.
    pub fn read(folder: &str, path: &Path) -> Self {
        match CaseFolder::open(path) {
            Ok(opened) => Self::of(folder, &opened),
            Err(error) => {
                let fault = error.to_string().split_whitespace().collect::<Vec<_>>().join(" ");
                Self { folder: folder.to_owned(), opened: written(path), fault: Some(fault), ..Self::default() }
            }
        }
    }

    fn of(folder: &str, opened: &CaseFolder) -> Self {
        let case = &opened.case;
        // A damaged log costs its minutes only.
        let log = case_log::read(&opened.folder).unwrap_or_default();
        let board = opened.drawing().ok();
        let model = match case.device.model.trim() {
            "" => board.as_ref().map(|b| b.name.trim().to_owned()).unwrap_or_default(),
            stated => stated.to_owned(),
        };
        let first_action = || log.lines.first().map(|l| l.time.clone());
        let opened_at = match case.device.opened.as_str() {
            "" => first_action().unwrap_or_else(|| written(&opened.folder)),
            stated => stated.to_owned(),
        };
        let parts_where = |wanted: &[Doing]| {
            let done = case.interventions.iter().filter(|i| wanted.contains(&i.what) && !i.part.is_empty());
            done.map(|i| i.part.clone()).collect::<Vec<_>>()
        };
        let mut parts = parts_where(&[Doing::Lifted, Doing::Replaced]);
        parts.extend(case.verdicts.iter().flat_map(|v| v.culprits.iter().cloned()));
        parts.sort();
        parts.dedup();
        let verdict = case.verdict();
        Self {
            folder: folder.to_owned(),
            name: case.name.clone(),
            model,
            serial: case.device.serial.trim().to_owned(),
            rail: case.rail.clone(),
            symptom: case.device.symptom.clone(),
            opened: opened_at,
            verdict: verdict.map(|v| v.verdict),
            verdict_time: verdict.map(|v| v.time.clone()).unwrap_or_default(),
            culprits: proven(case),
            sign_off: case.sign_off.clone(),
            waiting: waits(case),
            worked_s: worked::worked_s(&log.lines),
            parts_used: parts_where(&[Doing::Replaced]),
            parts,
            good_readings: good_readings::of(case, board.as_ref()),
            practice: case.practice.is_some() || case.exercise.is_some(),
            fault: None,
        }
    }

    /// The model as it is compared: shops write "TRX-2" and "trx-2".
    pub fn model_key(&self) -> String {
        key(&self.model)
    }
}

/// A word as it is compared.
pub fn key(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// Culprits of the newest verdict where it says "cleared"; where the lead has signed, also under "cannot tell": the lead had
/// other proof. "Still there", "moved" and "gone without a repair" never prove a part.
fn proven(case: &Case) -> Vec<String> {
    let confirmed = case.confirmed_culprits();
    if !confirmed.is_empty() || case.sign_off.is_none() {
        return confirmed.to_vec();
    }
    let signed = case.verdict().filter(|v| v.verdict == VerdictKind::CannotTell);
    signed.map(|v| v.culprits.clone()).unwrap_or_default()
}

fn waits(case: &Case) -> bool {
    let Some(verdict) = case.verdict() else { return false };
    let done = matches!(verdict.verdict, VerdictKind::Cleared | VerdictKind::GoneWithoutRepair);
    // A signature under an earlier verdict does not cover a later one. The times are ISO 8601 and sort as text.
    done && case.sign_off.as_ref().is_none_or(|s| s.time < verdict.time)
}

fn written(folder: &Path) -> String {
    let time = fs::metadata(folder.join(CASE_FILE)).and_then(|m| m.modified()).unwrap_or(UNIX_EPOCH);
    clock::utc(since_1970(time).as_secs().try_into().unwrap_or(0))
}

fn since_1970(time: SystemTime) -> Duration {
    time.duration_since(UNIX_EPOCH).unwrap_or_default()
}

/// Files younger than this may be written again within the same tick of the file system's clock (two seconds at worst, on
/// FAT), and the stamp would not show it.
const YOUNG: Duration = Duration::from_secs(3);

/// What tells whether a case changed since it was read: sizes and times of its case file and log, and whether there is a
/// drawing. Empty for a case that was written just now: it is read again next time.
///
/// Whole seconds, because the same share shows other fractions to other systems.
pub fn stamp(folder: &Path) -> String {
    let mut stamp = String::new();
    for name in [CASE_FILE, CASE_LOG] {
        let Ok(meta) = fs::metadata(folder.join(name)) else {
            stamp += "-;";
            continue;
        };
        let modified = meta.modified().unwrap_or(UNIX_EPOCH);
        let age = SystemTime::now().duration_since(modified).unwrap_or_default();
        if age < YOUNG {
            return String::new();
        }
        stamp += &format!("{}@{};", meta.len(), since_1970(modified).as_secs());
    }
    stamp
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::{conclusion::VerdictEntry, device::Device, intervention::Intervention};

    fn verdict(kind: VerdictKind, time: &str) -> VerdictEntry {
        VerdictEntry { verdict: kind, time: time.into(), culprits: vec!["C12".into()], ..VerdictEntry::default() }
    }

    #[test]
    fn a_row_is_read_from_the_folder() {
        let folder = tempfile::tempdir().unwrap();
        let done = |part: &str, what| Intervention { part: part.into(), what, ..Intervention::default() };
        let case = Case {
            name: "Buoy radio".into(),
            rail: "V12".into(),
            device: Device { model: "buoy radio 2".into(), serial: " 0417 ".into(), ..Device::default() },
            interventions: vec![done("C12", Doing::Lifted), done("C12", Doing::Replaced), done("", Doing::Dried)],
            verdicts: vec![verdict(VerdictKind::Cleared, "2026-03-01T10:00:00Z")],
            ..Case::default()
        };
        CaseFolder { folder: folder.path().to_owned(), case }.save().unwrap();
        let line = |time: &str| case_log::LogLine { time: time.into(), action: "x".into(), ..Default::default() };
        case_log::append(folder.path(), &[line("2026-03-01T09:00:00Z"), line("2026-03-01T09:20:00Z")]).unwrap();
        let row = CaseRow::read("a/b", folder.path());
        assert_eq!((row.folder.as_str(), row.model.as_str(), row.serial.as_str()), ("a/b", "buoy radio 2", "0417"));
        assert_eq!(row.opened, "2026-03-01T09:00:00Z");
        assert_eq!(row.worked_s, Some(20 * 60));
        assert_eq!(
            (row.culprits, row.parts_used, row.parts),
            (vec!["C12".into()], vec!["C12".into()], vec!["C12".into()])
        );
        assert!(row.waiting && row.fault.is_none());
        fs::write(folder.path().join(CASE_FILE), "(version: 1,\nname: 3)").unwrap();
        let row = CaseRow::read("a/b", folder.path());
        assert!(row.fault.is_some_and(|f| f.contains("case.ron") && f.lines().count() == 1));
        assert!(row.opened.starts_with("20"), "{}", row.opened);
    }

    #[test]
    fn signatures_cover_what_was_said_before_them() {
        let at = |time: &str| Some(SignOff { time: time.into(), ..SignOff::default() });
        let case = |kind, sign_off| Case {
            verdicts: vec![verdict(kind, "2026-03-02T00:00:00Z")],
            sign_off,
            ..Case::default()
        };
        assert!(waits(&case(VerdictKind::Cleared, None)));
        assert!(waits(&case(VerdictKind::Cleared, at("2026-03-01T00:00:00Z"))));
        assert!(!waits(&case(VerdictKind::Cleared, at("2026-03-03T00:00:00Z"))));
        assert!(!waits(&case(VerdictKind::StillThere, None)));
        assert!(!waits(&Case::default()));
        let signed = |kind| proven(&case(kind, at("2026-03-03T00:00:00Z")));
        assert_eq!(signed(VerdictKind::CannotTell), ["C12"]);
        assert!(signed(VerdictKind::StillThere).is_empty() && signed(VerdictKind::Moved).is_empty());
        assert!(proven(&case(VerdictKind::CannotTell, None)).is_empty());
        assert_eq!(proven(&case(VerdictKind::Cleared, None)), ["C12"]);
    }

    #[test]
    fn a_file_that_was_written_just_now_has_no_stamp_yet() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(stamp(folder.path()), "-;-;");
        let file = folder.path().join(CASE_FILE);
        fs::write(&file, "()").unwrap();
        assert_eq!(stamp(folder.path()), "");
        let old = SystemTime::now() - Duration::from_secs(60);
        fs::File::options().write(true).open(&file).unwrap().set_modified(old).unwrap();
        assert!(stamp(folder.path()).starts_with("2@"));
    }
}
