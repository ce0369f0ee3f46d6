//! CSV for other programs: the cases, the counts of faults, the good readings. A cell that a spreadsheet would run as a formula is
//! written as text.

use std::path::Path;

use super::{Found, Library, Query};
use crate::case::{BadInput, atomic};

/// What is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum What {
    /// One row a case.
    #[default]
    Cases,
    /// How often which part of which model was the fault.
    Culprits,
    /// What good boards read.
    Readings,
}

impl Library {
    /// Writes CSV beside the destination and renames it. The search narrows the cases; counts and readings are of all.
    ///
    /// # Errors
    /// Those of the index, or when the file cannot be written.
    pub fn export(&mut self, what: What, query: &Query, file: &Path) -> anyhow::Result<usize> {
        let rows = match what {
            What::Cases => cases(&self.cases(query)?),
            What::Culprits => self.culprits()?,
            What::Readings => self.readings()?,
        };
        let bytes = to_csv(&rows)?;
        atomic::write(file, &bytes).map_err(|e| BadInput::unwritable(file, &e))?;
        Ok(rows.len().saturating_sub(1))
    }

    fn culprits(&mut self) -> anyhow::Result<Vec<Vec<String>>> {
        let mut rows = vec![header(&["model", "rail", "part", "cases", "of_cases"])];
        for count in self.learnt_of_all()?.iter().flat_map(|learnt| learnt.counts()) {
            let (cases, of_cases) = (count.cases.to_string(), count.of_cases.to_string());
            rows.push(vec![count.model, count.rail, count.part, cases, of_cases]);
        }
        Ok(rows)
    }

    fn readings(&mut self) -> anyhow::Result<Vec<Vec<String>>> {
        let columns =
            ["model", "rail", "against", "quantity", "face", "unit", "value", "meter_lead_ohms", "time_utc", "by"];
        let mut rows = vec![header(&columns)];
        for learnt in self.learnt_of_all()? {
            for r in learnt.good_readings {
                let value = r.value.map_or("OL".to_owned(), |v| v.to_string());
                let (quantity, unit) = (r.quantity.words().to_owned(), r.quantity.unit().to_owned());
                let leads = r.meter_lead_ohms.map(|v| v.to_string()).unwrap_or_default();
                let model = learnt.model.clone();
                rows.push(vec![model, r.rail, r.against, quantity, r.face, unit, value, leads, r.time, r.by]);
            }
        }
        Ok(rows)
    }
}

fn cases(found: &[Found]) -> Vec<Vec<String>> {
    let mut rows = vec![header(&[
        "folder",
        "name",
        "model",
        "serial",
        "rail",
        "symptom",
        "opened_utc",
        "verdict",
        "verdict_utc",
        "culprits",
        "signed_by",
        "signed_utc",
        "waiting",
        "worked_minutes",
        "parts_used",
        "comeback_of",
        "practice",
        "fault",
    ])];
    for Found { row, comeback_of } in found {
        let yes = |is: bool| if is { "yes" } else { "no" }.to_owned();
        let signed = row.sign_off.clone().unwrap_or_default();
        rows.push(vec![
            row.folder.clone(),
            row.name.clone(),
            row.model.clone(),
            row.serial.clone(),
            row.rail.clone(),
            row.symptom.clone(),
            row.opened.clone(),
            row.verdict.map_or("", |v| v.words()).to_owned(),
            row.verdict_time.clone(),
            row.culprits.join(" "),
            signed.by,
            signed.time,
            yes(row.waiting),
            row.worked_s.map(|s| format!("{:.1}", s as f64 / 60.0)).unwrap_or_default(),
            row.parts_used.join(" "),
            comeback_of.clone().unwrap_or_default(),
            yes(row.practice),
            row.fault.clone().unwrap_or_default(),
        ]);
    }
    rows
}

fn header(names: &[&str]) -> Vec<String> {
    names.iter().map(|n| (*n).to_owned()).collect()
}

fn to_csv(rows: &[Vec<String>]) -> anyhow::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row.iter().map(|cell| as_text(cell)))?;
    }
    Ok(writer.into_inner()?)
}

/// What spreadsheets take for a formula gets an apostrophe in front; numbers stay numbers.
pub(crate) fn as_text(cell: &str) -> String {
    let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && cell.parse::<f64>().is_err();
    if formula { format!("'{cell}") } else { cell.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_come_back_as_they_were_and_none_is_a_formula() {
        let cells = ["mast, top", "\"quoted\"", "two\nlines", "=1+1", "@x", "-12.5", "-x"].map(str::to_owned).to_vec();
        let csv = to_csv(&[header(&["a", "b", "c", "d", "e", "f", "g"]), cells]).unwrap();
        let mut reader = csv::Reader::from_reader(csv.as_slice());
        let row = reader.records().next().unwrap().unwrap();
        assert_eq!(row, vec!["mast, top", "\"quoted\"", "two\nlines", "'=1+1", "'@x", "-12.5", "'-x"]);
    }
}
