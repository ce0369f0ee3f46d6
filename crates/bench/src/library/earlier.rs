//! What the shop has learnt of a board model: parts that were proven to be the fault, rail by rail, and how good boards read. Practice
//! cases are simulated and teach nothing.

use std::collections::BTreeMap;

use joulemark_locate::{
    EarlierCases,
    readings::{LearntRange, Reading, learn},
};
use serde::Serialize;

use super::{
    Library, Place, place,
    row::{CaseRow, key},
};
use crate::case::{CaseFolder, books::Books, reading::ReadingEntry};

/// What is known of a board model.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Learnt {
    /// The model, as most recently written.
    pub model: String,
    /// Cases of it that count.
    pub cases: usize,
    /// Faults by rail.
    pub rails: BTreeMap<String, EarlierCases>,
    /// What good boards read, marked as such.
    pub good_readings: Vec<ReadingEntry>,
}

/// How often a part of a model was the fault on a rail.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CulpritCount {
    /// Board model.
    pub model: String,
    /// Rail.
    pub rail: String,
    /// Part.
    pub part: String,
    /// Cases in which it was the fault.
    pub cases: usize,
    /// Cases of that model and rail with a proven fault.
    pub of_cases: usize,
}

impl Learnt {
    fn of(rows: &[&CaseRow]) -> Self {
        let newest = rows.iter().max_by(|a, b| (&a.opened, &a.folder).cmp(&(&b.opened, &b.folder)));
        let mut by_rail: BTreeMap<String, Vec<&[String]>> = BTreeMap::new();
        for row in rows.iter().filter(|r| !r.culprits.is_empty()) {
            by_rail.entry(row.rail.clone()).or_default().push(&row.culprits);
        }
        Self {
            model: newest.map(|r| r.model.clone()).unwrap_or_default(),
            cases: rows.len(),
            rails: by_rail.into_iter().map(|(rail, cases)| (rail, EarlierCases::of(cases))).collect(),
            good_readings: rows.iter().flat_map(|r| r.good_readings.iter().cloned()).collect(),
        }
    }

    /// Faults found on a rail; none where the shop knows nothing.
    pub fn on_rail(&self, rail: &str) -> EarlierCases {
        self.rails.get(rail).cloned().unwrap_or_default()
    }

    /// Good readings as the engine takes them: put behind a case's own readings, they become its ranges.
    pub fn readings(&self) -> Vec<Reading> {
        self.good_readings.iter().map(Reading::from).collect()
    }

    /// The ranges that follow from the good readings.
    pub fn ranges(&self) -> Vec<LearntRange> {
        learn(&self.readings(), &Books::in_force().ranges)
    }

    /// All parts that were ever the fault, the most frequent first within a rail.
    pub fn counts(&self) -> Vec<CulpritCount> {
        let of_rail = |(rail, earlier): (&String, &EarlierCases)| {
            let mut counts: Vec<CulpritCount> = (earlier.parts.iter())
                .map(|(part, found)| CulpritCount {
                    model: self.model.clone(),
                    rail: rail.clone(),
                    part: part.clone(),
                    cases: found.cases,
                    of_cases: earlier.cases,
                })
                .collect();
            counts.sort_by(|a, b| b.cases.cmp(&a.cases).then_with(|| a.part.cmp(&b.part)));
            counts
        };
        self.rails.iter().flat_map(of_rail).collect()
    }
}

impl Library {
    /// What was learnt of a board model, from all its cases but the one in the folder `except` (a case never counts itself).
    ///
    /// # Errors
    /// Those of the index.
    pub fn learnt(&mut self, model: &str, except: Option<&str>) -> anyhow::Result<Learnt> {
        let rows = self.of_model(model)?;
        let counted: Vec<&CaseRow> =
            rows.iter().filter(|r| !r.practice && r.fault.is_none() && Some(r.folder.as_str()) != except).collect();
        Ok(Learnt::of(&counted))
    }

    /// What was learnt of every model, by the models' names.
    ///
    /// # Errors
    /// Those of the index.
    pub fn learnt_of_all(&mut self) -> anyhow::Result<Vec<Learnt>> {
        let rows = self.rows("", &[])?;
        let mut models: BTreeMap<String, Vec<&CaseRow>> = BTreeMap::new();
        for row in rows.iter().filter(|r| !r.practice && r.fault.is_none() && !r.model.is_empty()) {
            models.entry(row.model_key()).or_default().push(row);
        }
        Ok(models.values().map(|rows| Learnt::of(rows)).collect())
    }
}

/// What a library knows of a board model, without the case that is asked for (none for loose files).
///
/// # Errors
/// When the library cannot be read.
pub fn in_library(place: Place, case: Option<&CaseFolder>, model: &str) -> anyhow::Result<Learnt> {
    if key(model).is_empty() {
        return Ok(Learnt::default());
    }
    let itself = case.and_then(|case| folder_within(&place, case));
    let mut library = Library::open(place)?;
    library.refresh()?;
    library.learnt(model, itself.as_deref())
}

/// What the user's library knows of the board model of a case, or of loose files' drawing; nothing where there is no library,
/// or where earlier cases are not to count.
///
/// # Errors
/// When the library cannot be read.
pub fn counting(case: Option<&CaseFolder>, drawing: &str) -> anyhow::Result<Learnt> {
    if !place::remembered().earlier_cases_count {
        return Ok(Learnt::default());
    }
    let Some(place) = Place::find(None, None)? else { return Ok(Learnt::default()) };
    let model = case.map_or_else(|| drawing.to_owned(), |case| model_of(case, drawing));
    in_library(place, case, &model)
}

/// The model that a case is about: the device's, or else the drawing's name, as in the library.
pub fn model_of(case: &CaseFolder, drawing: &str) -> String {
    let stated = case.case.device.model.trim();
    if stated.is_empty() { drawing.trim().to_owned() } else { stated.to_owned() }
}

/// The case's folder as the library names it; `None` when it lies elsewhere.
fn folder_within(place: &Place, case: &CaseFolder) -> Option<String> {
    let real = |path: &std::path::Path| std::fs::canonicalize(path).ok();
    let inside = real(if case.folder.as_os_str().is_empty() { std::path::Path::new(".") } else { &case.folder })?;
    let relative = inside.strip_prefix(real(&place.folder)?).ok()?.to_owned();
    let names: Vec<String> = relative.iter().map(|part| part.to_string_lossy().into_owned()).collect();
    Some(names.join("/"))
}

#[cfg(test)]
mod tests {
    use joulemark_locate::readings::{RailFacts, Verdict, rank};

    use super::*;

    fn row(folder: &str, rail: &str, culprits: &[&str]) -> CaseRow {
        CaseRow {
            folder: folder.into(),
            model: "Buoy radio".into(),
            rail: rail.into(),
            culprits: culprits.iter().map(|c| (*c).to_owned()).collect(),
            ..CaseRow::default()
        }
    }

    #[test]
    fn faults_are_counted_rail_by_rail() {
        let rows = [
            row("a", "V12", &["C12"]),
            row("b", "V12", &["C12", "C13"]),
            row("c", "V3", &["U2"]),
            row("d", "V12", &[]),
        ];
        let learnt = Learnt::of(&rows.iter().collect::<Vec<_>>());
        assert_eq!(learnt.cases, 4);
        assert_eq!(learnt.on_rail("V12").words("C12").as_deref(), Some("2 of 2 earlier cases on this rail: C12"));
        assert_eq!(learnt.on_rail("V5"), EarlierCases::default());
        let counts: Vec<(String, usize, usize)> =
            learnt.counts().into_iter().map(|c| (format!("{} {}", c.rail, c.part), c.cases, c.of_cases)).collect();
        assert_eq!(counts, [("V12 C12".into(), 2, 2), ("V12 C13".into(), 1, 2), ("V3 U2".into(), 1, 1)]);
    }

    #[test]
    fn good_readings_of_earlier_cases_judge_those_of_this_one() {
        let reading = |ohms, good_board| ReadingEntry {
            rail: "V3".into(),
            value: Some(ohms),
            good_board,
            meter_lead_ohms: Some(0.0),
            ..ReadingEntry::default()
        };
        let rails = [RailFacts { name: "V3".into(), ..RailFacts::default() }];
        let verdict = |good_ohms| {
            let learnt = Learnt { good_readings: vec![reading(good_ohms, true)], ..Learnt::default() };
            let mut readings = vec![Reading::from(&reading(30.0, false))];
            readings.extend(learnt.readings());
            rank(&rails, &readings, &Books::standard().ranges)[0].verdict
        };
        assert_eq!(verdict(28.0), Verdict::Healthy);
        assert!(verdict(900.0).faulty());
    }

    #[test]
    fn a_case_knows_its_own_name_in_the_library() {
        let shop = tempfile::tempdir().unwrap();
        let folder = shop.path().join("2026/0417");
        std::fs::create_dir_all(&folder).unwrap();
        let place = Place { folder: shop.path().to_owned(), index: super::super::index::IndexPlace::File("x".into()) };
        let case = |folder: &std::path::Path| CaseFolder { folder: folder.to_owned(), case: Default::default() };
        assert_eq!(folder_within(&place, &case(&folder)).as_deref(), Some("2026/0417"));
        assert_eq!(folder_within(&place, &case(std::path::Path::new("/"))), None);
    }
}
