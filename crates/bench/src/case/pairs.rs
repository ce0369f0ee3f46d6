//! Point pairs between picture and face: a CSV with the header `x_px,y_px,x_mm,y_mm`, columns in any order.

use std::path::Path;

use joulemark_locate::align::PointPair;

use super::{BadInput, bad_input::read_text};

const COLUMNS: [&str; 4] = ["x_px", "y_px", "x_mm", "y_mm"];

/// Reads point pairs.
pub fn read(file: &Path) -> anyhow::Result<Vec<PointPair>> {
    parse(file, &read_text(file)?)
}

/// Point pairs as CSV text.
pub fn to_csv(pairs: &[PointPair]) -> String {
    let mut text = COLUMNS.join(",") + "\n";
    for p in pairs {
        text += &format!("{},{},{},{}\n", p.x_px, p.y_px, p.x_mm, p.y_mm);
    }
    text
}

fn parse(file: &Path, text: &str) -> anyhow::Result<Vec<PointPair>> {
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).flexible(true).from_reader(text.as_bytes());
    let csv_fault = |e: csv::Error| {
        let line = e.position().map_or(1, csv::Position::line);
        BadInput::at(file, format!("line {line}"), "not a CSV row", "write x_px,y_px,x_mm,y_mm")
    };
    let header = reader.headers().map_err(csv_fault)?.clone();
    let mut at = [0; 4];
    for (slot, name) in at.iter_mut().zip(COLUMNS) {
        *slot = header.iter().position(|h| h.eq_ignore_ascii_case(name)).ok_or_else(|| {
            BadInput::at(
                file,
                "line 1",
                format!("column {name} is missing"),
                "the header must name x_px,y_px,x_mm,y_mm",
            )
        })?;
    }
    let mut pairs = Vec::new();
    for record in reader.records() {
        let record = record.map_err(csv_fault)?;
        let line = record.position().map_or(0, csv::Position::line);
        let mut v = [0.0; 4];
        for ((value, &column), name) in v.iter_mut().zip(&at).zip(COLUMNS) {
            let text = record.get(column).unwrap_or("");
            *value = text.parse().ok().filter(|n: &f64| n.is_finite()).ok_or_else(|| {
                let problem = if text.is_empty() { "blank".to_owned() } else { format!("'{text}' is not a number") };
                BadInput::at(
                    file,
                    format!("line {line}, column {name}"),
                    problem,
                    "write a number with a decimal point",
                )
            })?;
        }
        pairs.push(PointPair { x_px: v[0], y_px: v[1], x_mm: v[2], y_mm: v[3] });
    }
    Ok(pairs)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_survive_a_round_trip() {
        let pairs = vec![
            PointPair { x_px: 10.25, y_px: 3.0, x_mm: -0.5, y_mm: 40.0 },
            PointPair { x_px: 300.0, y_px: 3.0, x_mm: 60.0, y_mm: 40.125 },
        ];
        assert_eq!(parse(Path::new("p.csv"), &to_csv(&pairs)).unwrap(), pairs);
    }

    #[test]
    fn faults_name_line_and_column() {
        for (text, wanted) in [
            ("x_px,y_px,x_mm\n1,2,3\n", "line 1: column y_mm is missing"),
            ("x_px,y_px,x_mm,y_mm\n1,2,3,4\n1,2,three,4\n", "line 3, column x_mm: 'three'"),
            ("x_px,y_px,x_mm,y_mm\n1,2,3\n", "line 2, column y_mm: blank"),
            ("x_px,y_px,x_mm,y_mm\n1,2,3,inf\n", "line 2, column y_mm: 'inf'"),
        ] {
            let message = parse(Path::new("p.csv"), text).unwrap_err().to_string();
            assert!(message.starts_with(&format!("p.csv: {wanted}")), "{message}");
        }
    }
}
