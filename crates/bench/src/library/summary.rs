//! The whole library at a glance: what waits for the lead, verdicts, time, parts, comebacks. Plain data; screens and plots are made from
//! it elsewhere. Practice cases are left out.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Found, Library, Query};

/// What the lead wants to know.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Summary {
    /// Cases that count.
    pub cases: usize,
    /// Cases that wait for the lead's signature, the newest first.
    pub waiting: Vec<Found>,
    /// Cases by the words of their newest verdict; "none" for those without.
    pub verdicts: BTreeMap<String, usize>,
    /// Minutes at the bench, case by case, the newest case first; cases without a log are left out.
    pub minutes: Vec<CaseMinutes>,
    /// Middle of these minutes; `None` without any.
    pub median_minutes: Option<f64>,
    /// Parts that were put in anew, the most used first.
    pub parts_used: Vec<PartUse>,
    /// Cases whose device had been here before, the newest first.
    pub comebacks: Vec<Found>,
    /// Cases that cannot be read, and why.
    pub faults: Vec<(String, String)>,
}

/// Time at the bench for one case.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CaseMinutes {
    /// Its folder within the library.
    pub folder: String,
    /// Board model.
    pub model: String,
    /// When it was opened, in UTC.
    pub opened: String,
    /// Minutes, breaks left out.
    pub minutes: f64,
}

/// How often a part was put in anew.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartUse {
    /// Board model; the same designator is another part on another model.
    pub model: String,
    /// Designator.
    pub part: String,
    /// How many.
    pub count: usize,
}

impl Library {
    /// The library at a glance, of the cases that a search finds.
    ///
    /// # Errors
    /// Those of the index.
    pub fn summary(&mut self, query: &Query) -> anyhow::Result<Summary> {
        Ok(Summary::of(&self.cases(query)?))
    }
}

impl Summary {
    /// From cases in the order in which they shall be listed.
    pub fn of(found: &[Found]) -> Self {
        let mut summary = Self::default();
        let mut used: BTreeMap<(String, String), PartUse> = BTreeMap::new();
        for found in found.iter().filter(|f| !f.row.practice) {
            let row = &found.row;
            if let Some(fault) = &row.fault {
                summary.faults.push((row.folder.clone(), fault.clone()));
                continue;
            }
            summary.cases += 1;
            *summary.verdicts.entry(row.verdict.map_or("none", |v| v.words()).to_owned()).or_default() += 1;
            if row.waiting {
                summary.waiting.push(found.clone());
            }
            if found.comeback_of.is_some() {
                summary.comebacks.push(found.clone());
            }
            if let Some(worked_s) = row.worked_s {
                summary.minutes.push(CaseMinutes {
                    folder: row.folder.clone(),
                    model: row.model.clone(),
                    opened: row.opened.clone(),
                    minutes: worked_s as f64 / 60.0,
                });
            }
            for part in &row.parts_used {
                let entry = used.entry((row.model_key(), part.clone()));
                entry.or_insert_with(|| PartUse { model: row.model.clone(), part: part.clone(), count: 0 }).count += 1;
            }
        }
        summary.median_minutes = median(summary.minutes.iter().map(|m| m.minutes).collect());
        summary.parts_used = used.into_values().collect();
        summary.parts_used.sort_by_key(|p| std::cmp::Reverse(p.count));
        summary
    }
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    Some(if values.len() % 2 == 1 { upper } else { (values[middle - 1] + upper) / 2.0 })
}

#[cfg(test)]
mod tests {
    use joulemark_locate::repair_check::VerdictKind;

    use super::{super::CaseRow, *};

    fn found(folder: &str, minutes: i64) -> Found {
        let row = CaseRow {
            folder: folder.into(),
            model: "Buoy radio".into(),
            worked_s: Some(60 * minutes),
            parts_used: vec!["C12".into()],
            ..CaseRow::default()
        };
        Found { row, comeback_of: None }
    }

    #[test]
    fn the_lead_sees_what_there_is_and_no_practice() {
        let mut cases = vec![found("a", 10), found("b", 30), found("c", 80), found("d", 90)];
        cases[0].row.verdict = Some(VerdictKind::Cleared);
        cases[0].row.waiting = true;
        cases[1].comeback_of = Some("z".into());
        cases[2].row.parts_used = vec!["U2".into()];
        cases[3].row.practice = true;
        cases.push(Found { row: CaseRow { fault: Some("broken".into()), ..CaseRow::default() }, comeback_of: None });
        let summary = Summary::of(&cases);
        assert_eq!(summary.cases, 3);
        assert_eq!(summary.verdicts, [("cleared".to_owned(), 1), ("none".to_owned(), 2)].into());
        assert_eq!((summary.waiting.len(), summary.comebacks.len(), summary.faults.len()), (1, 1, 1));
        assert_eq!(summary.median_minutes, Some(30.0));
        let parts: Vec<(&str, usize)> = summary.parts_used.iter().map(|p| (p.part.as_str(), p.count)).collect();
        assert_eq!(parts, [("C12", 2), ("U2", 1)]);
        assert_eq!(median(vec![1.0, 4.0]), Some(2.5));
        assert_eq!(Summary::of(&[]), Summary::default());
    }
}
