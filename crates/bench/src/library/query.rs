//! What is searched for: free words and `field:value`. All of it must be met; case is ignored.

use super::{index::Value, row::CaseRow, row::key};
use crate::case::BadInput;

/// Fields that can be asked for.
const FIELDS: [&str; 8] = ["model", "rail", "part", "symptom", "verdict", "from", "to", "state"];

/// A search. The empty one finds everything.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Query {
    /// Each must occur somewhere in the case.
    pub words: Vec<String>,
    /// The board model, in full.
    pub model: Option<String>,
    /// The shorted rail, in full.
    pub rail: Option<String>,
    /// A part that was lifted, replaced or found to be the fault.
    pub part: Option<String>,
    /// Occurs in the symptom.
    pub symptom: Option<String>,
    /// Begins the newest verdict's words: `cleared`, `still there`; `none` for cases without one.
    pub verdict: Option<String>,
    /// Opened on this day or later: `2026`, `2026-03` or `2026-03-01`.
    pub from: Option<String>,
    /// Opened on this day or earlier.
    pub to: Option<String>,
    /// Only those that wait for the lead's signature.
    pub waiting: bool,
}

impl Query {
    /// Reads words as typed: `buoy rail:V12 verdict:"still there" from:2026-03`. A field that is not known is a free word, so
    /// that a colon in a name is no obstacle.
    ///
    /// # Errors
    /// One line for a date that is none, or a field without a value.
    pub fn parse(text: &str) -> anyhow::Result<Self> {
        let mut query = Self::default();
        for word in split(text) {
            let field = word.split_once(':').map(|(f, v)| (f.to_lowercase(), v.trim().to_owned()));
            let Some((field, value)) = field.filter(|(f, _)| FIELDS.contains(&f.as_str())) else {
                query.words.push(key(&word));
                continue;
            };
            if value.is_empty() {
                return Err(BadInput::flag(
                    &format!("{field}:"),
                    "no value follows",
                    "write it without a space between",
                ));
            }
            match field.as_str() {
                "model" => query.model = Some(key(&value)),
                "rail" => query.rail = Some(key(&value)),
                "part" => query.part = Some(key(&value)),
                "symptom" => query.symptom = Some(key(&value)),
                "verdict" => query.verdict = Some(key(&value)),
                "from" => query.from = Some(date(&field, &value)?),
                "to" => query.to = Some(date(&field, &value)?),
                _ if key(&value) == "waiting" => query.waiting = true,
                _ => return Err(BadInput::flag("state:", format!("'{value}' is not known"), "write state:waiting")),
            }
        }
        query.words.retain(|w| !w.is_empty());
        Ok(query)
    }

    /// The condition in SQL, and its values.
    pub(super) fn condition(&self) -> (String, Vec<Value>) {
        let mut parts: Vec<String> = Vec::new();
        let mut values: Vec<Value> = Vec::new();
        let mut add = |sql: &str, value: String| {
            values.push(Value::text(&value));
            parts.push(sql.replace('?', &format!("${}", values.len())));
        };
        let within = |text: &str| format!("%{}%", escaped(text));
        for word in &self.words {
            add("words LIKE ? ESCAPE '\\'", within(word));
        }
        if let Some(model) = &self.model {
            add("model = ?", model.clone());
        }
        if let Some(rail) = &self.rail {
            add("rail = ?", rail.clone());
        }
        if let Some(part) = &self.part {
            add("parts LIKE ? ESCAPE '\\'", within(&format!("\n{part}\n")));
        }
        if let Some(symptom) = &self.symptom {
            add("symptom LIKE ? ESCAPE '\\'", within(symptom));
        }
        if let Some(verdict) = &self.verdict {
            add("verdict LIKE ? ESCAPE '\\'", format!("{}%", escaped(verdict)));
        }
        if let Some(from) = &self.from {
            add("opened >= ?", from.clone());
        }
        if let Some(to) = &self.to {
            // The whole last day, month or year: what follows a date sorts before a tilde.
            add("opened <= ?", format!("{to}~"));
        }
        if self.waiting {
            add("verdict LIKE ? ESCAPE '\\'", format!("%\n{WAITING}"));
        }
        let all = if parts.is_empty() { String::new() } else { format!(" WHERE {}", parts.join(" AND ")) };
        (all, values)
    }
}

/// Stands behind the verdict's words in its column.
const WAITING: &str = "waiting";

/// The columns that are searched, in the order of the table: model, rail, parts, symptom, verdict, opened, words.
pub(super) fn columns(row: &CaseRow) -> [Value; 7] {
    let parts = row.parts.iter().map(|p| key(p)).collect::<Vec<_>>().join("\n");
    let waiting = if row.waiting { format!("\n{WAITING}") } else { String::new() };
    let verdict = format!("{}{waiting}", row.verdict.map_or("none", |v| v.words()));
    let words = [&row.folder, &row.name, &row.model, &row.serial, &row.rail, &row.symptom, &row.parts.join(" ")];
    let words = words.map(|w| key(w)).join("\n");
    [
        Value::text(&key(&row.model)),
        Value::text(&key(&row.rail)),
        Value::text(&format!("\n{parts}\n")),
        Value::text(&key(&row.symptom)),
        Value::text(&verdict),
        Value::text(&row.opened),
        Value::text(&format!("{words}\n{verdict}")),
    ]
}

/// What means something to LIKE is taken as it stands.
fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_")
}

/// Words at spaces; quotes keep some together, wherever they stand.
fn split(text: &str) -> Vec<String> {
    let (mut words, mut word, mut quoted) = (Vec::new(), String::new(), false);
    for c in text.chars() {
        match c {
            '"' => quoted = !quoted,
            c if c.is_whitespace() && !quoted => words.push(std::mem::take(&mut word)),
            c => word.push(c),
        }
    }
    words.push(word);
    words.retain(|w| !w.trim().is_empty());
    words
}

fn date(field: &str, value: &str) -> anyhow::Result<String> {
    let full = match value.len() {
        4 => format!("{value}-01-01"),
        7 => format!("{value}-01"),
        _ => value.to_owned(),
    };
    if crate::case::clock::seconds(&format!("{full}T00:00:00Z")).is_none() {
        let problem = format!("'{value}' is no date");
        return Err(BadInput::flag(&format!("{field}:"), problem, "write 2026, 2026-03 or 2026-03-01"));
    }
    Ok(value.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_and_fields_are_told_apart() {
        let query =
            Query::parse("  Buoy rail:V12 \"no light\" verdict:\"Still there\" from:2026-03 mast:top ").unwrap();
        assert_eq!(query.words, ["buoy", "no light", "mast:top"]);
        assert_eq!((query.rail.as_deref(), query.verdict.as_deref()), (Some("v12"), Some("still there")));
        assert_eq!(query.from.as_deref(), Some("2026-03"));
        assert_eq!(Query::parse("").unwrap(), Query::default());
        assert!(Query::parse("state:waiting").unwrap().waiting);
    }

    #[test]
    fn what_cannot_be_asked_is_said_in_one_line() {
        for text in ["from:yesterday", "to:2026-02-30", "from:2026-3", "model:", "state:sleepy"] {
            let message = Query::parse(text).unwrap_err().to_string();
            assert_eq!(message.lines().count(), 1);
            assert!(message.contains(text.split(':').next().unwrap()), "{message}");
        }
    }
}
