//! The tables. Columns beside `row` are only there to be searched: lower case, so that both databases compare alike.

use super::{Index, Value};

/// Raised with every change of the tables or of what is read from a case; an index of another version is emptied and made anew.
const VERSION: &str = "1";

/// Makes the tables where they are not there.
pub(super) fn prepare(index: &mut Index) -> anyhow::Result<()> {
    if version(index).as_deref() == Some(VERSION) {
        return Ok(());
    }
    index.in_one_piece(|index| {
        let (text, bytes) = (index.text_type(), index.bytes_type());
        index.run(&format!("CREATE TABLE IF NOT EXISTS joulemark_index (version {text} NOT NULL)"), &[])?;
        // Another process may have been quicker.
        if version(index).as_deref() == Some(VERSION) {
            return Ok(());
        }
        for table in ["joulemark_cases", "joulemark_thumbnails"] {
            index.run(&format!("DROP TABLE IF EXISTS {table}"), &[])?;
        }
        index.run("DELETE FROM joulemark_index", &[])?;
        index.run("INSERT INTO joulemark_index (version) VALUES ($1)", &[Value::text(VERSION)])?;
        index.run(
            &format!(
                "CREATE TABLE joulemark_cases (folder {text} PRIMARY KEY, stamp {text} NOT NULL, model {text} NOT NULL, \
                 rail {text} NOT NULL, parts {text} NOT NULL, symptom {text} NOT NULL, verdict {text} NOT NULL, \
                 opened {text} NOT NULL, words {text} NOT NULL, row_json {text} NOT NULL)"
            ),
            &[],
        )?;
        index.run("CREATE INDEX joulemark_cases_model ON joulemark_cases (model)", &[])?;
        index.run(
            &format!(
                "CREATE TABLE joulemark_thumbnails (folder {text} PRIMARY KEY, stamp {text} NOT NULL, png {bytes})"
            ),
            &[],
        )?;
        Ok(())
    })
}

fn version(index: &mut Index) -> Option<String> {
    // Where the table is not there yet, asking fails; that is an answer.
    let rows = index.ask("SELECT version FROM joulemark_index", &[]).ok()?;
    Some(rows.first()?.first()?.as_text().to_owned())
}
