//! Devices that came back: the same serial number in an earlier case.

use std::collections::HashMap;

use super::row::{CaseRow, key};

/// All devices with a serial number, and their cases in the order in which they were opened.
pub(super) struct Devices(HashMap<String, Vec<Opened>>);

struct Opened {
    at: String,
    folder: String,
    model: String,
}

impl Devices {
    pub(super) fn of(rows: &[CaseRow]) -> Self {
        let mut devices: HashMap<String, Vec<Opened>> = HashMap::new();
        for row in rows.iter().filter(|r| !r.serial.is_empty() && !r.practice) {
            let opened = Opened { at: row.opened.clone(), folder: row.folder.clone(), model: row.model_key() };
            devices.entry(key(&row.serial)).or_default().push(opened);
        }
        for cases in devices.values_mut() {
            cases.sort_by(|a, b| (&a.at, &a.folder).cmp(&(&b.at, &b.folder)));
        }
        Self(devices)
    }

    /// The folder of the latest earlier case of the same device. Two makers may use one number: where both cases state a model, it
    /// must be the same.
    pub(super) fn earlier(&self, row: &CaseRow) -> Option<String> {
        if row.practice {
            return None;
        }
        let model = row.model_key();
        let same = |o: &&Opened| o.model.is_empty() || model.is_empty() || o.model == model;
        let before = |o: &&Opened| (&o.at, &o.folder) < (&row.opened, &row.folder);
        let cases = self.0.get(&key(&row.serial))?;
        cases.iter().filter(before).rfind(same).map(|o| o.folder.clone())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_number_of_the_same_model_is_a_comeback() {
        let row = |folder: &str, serial: &str, model: &str, day: &str| CaseRow {
            folder: folder.into(),
            serial: serial.into(),
            model: model.into(),
            opened: format!("2026-03-{day}T00:00:00Z"),
            ..CaseRow::default()
        };
        let rows = [
            row("a", "0417", "Buoy radio", "01"),
            row("b", "0417", "buoy  radio", "05"),
            row("c", "0417", "mast lamp", "06"),
            row("d", "", "buoy radio", "07"),
            row("e", "0417", "", "08"),
        ];
        let devices = Devices::of(&rows);
        let found: Vec<Option<String>> = rows.iter().map(|r| devices.earlier(r)).collect();
        assert_eq!(found, [None, Some("a".into()), None, None, Some("c".into())]);
    }
}
