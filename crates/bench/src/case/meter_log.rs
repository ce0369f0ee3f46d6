//! The text that a meter sends over its serial line or writes to a file, line by line: a value, perhaps its unit, perhaps
//! the rail's name, among times and numbering.

use super::{
    reading::Quantity,
    typed::{self, Typed},
};

/// Lines looked at; more than anybody measures in a sitting.
pub const MOST_LINES: usize = 2000;

/// What became of one line.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// As it was pasted.
    pub text: String,
    /// What was understood, or why nothing was.
    pub read: Result<Read, String>,
}

/// A reading found in a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// The rail that it names, or the one whose turn it was.
    pub rail: String,
    /// What was measured.
    pub quantity: Quantity,
    /// Ohms or volts; `None` for open.
    pub value: Option<f64>,
    /// What was assumed.
    pub note: Option<String>,
}

/// Reads a pasted log. `rails` are those of the drawing; lines that name none go to the rails in turn, from `first` on.
/// `context` is what is meant when a line does not say: with a diode test, volts are its volts.
pub fn parse(text: &str, rails: &[String], first: usize, context: Quantity) -> Vec<Line> {
    let mut turn = first;
    let mut lines = Vec::new();
    for text in text.lines().map(str::trim).filter(|l| !l.is_empty() && !l.starts_with('#')).take(MOST_LINES) {
        let read = line(text, rails, context).and_then(|(named, quantity, typed)| {
            let rail = match named {
                Some(rail) => rail,
                None => {
                    let rail = rails.get(turn).cloned().ok_or("no rail is left for it")?;
                    turn += 1;
                    rail
                }
            };
            Ok(Read { rail, quantity, value: typed.value, note: typed.note })
        });
        lines.push(Line { text: text.to_owned(), read });
    }
    lines
}

fn line(text: &str, rails: &[String], context: Quantity) -> Result<(Option<String>, Quantity, Typed), String> {
    let tokens = tokens(text);
    let rail = rails.iter().find(|r| tokens.iter().any(|t| t.eq_ignore_ascii_case(r))).cloned();
    let said = tokens.iter().find_map(|t| quantity(t, context));
    let mut best: Option<(bool, Quantity, Typed)> = None;
    for (i, token) in tokens.iter().enumerate() {
        if rail.as_ref().is_some_and(|r| token.eq_ignore_ascii_case(r)) || is_time(token) {
            continue;
        }
        let joined = tokens.get(i + 1).map(|unit| format!("{token} {unit}"));
        // A number with its unit outranks a bare one, which may be a line number.
        for (with_unit, text) in joined.iter().map(|j| (true, j.as_str())).chain([(false, *token)]) {
            let quantity = tokens_unit(text, context).or(said).unwrap_or(context);
            if let Ok(typed) = typed::parse(text, quantity) {
                let sure = with_unit || typed.value.is_none() || tokens_unit(text, context).is_some();
                if best.as_ref().is_none_or(|(was_sure, ..)| sure >= *was_sure) {
                    best = Some((sure, quantity, typed));
                }
                break;
            }
        }
    }
    best.map(|(_, quantity, typed)| (rail, quantity, typed)).ok_or_else(|| "no value in it".to_owned())
}

/// Words of a line. A comma between digits is a decimal comma where nothing else of the line is parted by commas.
fn tokens(text: &str) -> Vec<&str> {
    let decimal = {
        let bytes = text.as_bytes();
        let between =
            |i: usize| i > 0 && bytes[i - 1].is_ascii_digit() && bytes.get(i + 1).is_some_and(u8::is_ascii_digit);
        let commas: Vec<usize> = text.match_indices(',').map(|(i, _)| i).collect();
        (commas.len() == 1 || text.contains(';') || text.contains('\t')) && commas.iter().all(|&i| between(i))
    };
    let parts = move |c: char| c.is_whitespace() || c == ';' || c == '"' || c == '=' || (c == ',' && !decimal);
    text.split(parts).map(|t| t.trim_end_matches(':')).filter(|t| !t.is_empty()).collect()
}

fn is_time(token: &str) -> bool {
    let digit = token.starts_with(|c: char| c.is_ascii_digit());
    let parts = |by: char| token.split(by).filter(|p| p.bytes().all(|b| b.is_ascii_digit()) && !p.is_empty()).count();
    digit && (token.contains(':') || parts('-') >= 3 || parts('/') >= 3 || (parts('.') >= 3))
}

/// What a word says about the quantity.
fn quantity(word: &str, context: Quantity) -> Option<Quantity> {
    let diode = |context| if context == Quantity::DiodeRedOnRail { context } else { Quantity::DiodeRedOnGround };
    match word.to_lowercase().trim_matches(|c: char| !c.is_alphanumeric()) {
        "ohm" | "ohms" | "kohm" | "mohm" | "res" | "resistance" | "\u{3c9}" | "k\u{3c9}" | "m\u{3c9}" => {
            Some(Quantity::Ohms)
        }
        "diode" | "diod" | "diodes" => Some(diode(context)),
        "v" | "mv" | "vdc" | "dcv" | "volt" | "volts" | "dc" => {
            Some(if context == Quantity::Ohms { Quantity::Volts } else { context })
        }
        _ => None,
    }
}

/// What the unit at the end of a number says.
fn tokens_unit(text: &str, context: Quantity) -> Option<Quantity> {
    let unit = text.trim_start_matches(|c: char| c.is_ascii_digit() || ".,+- eE\u{2212}".contains(c));
    quantity(unit, context)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rails() -> Vec<String> {
        ["V12", "V5", "V1V8"].map(String::from).to_vec()
    }

    fn read(text: &str, context: Quantity) -> Vec<(String, Quantity, Option<f64>)> {
        let lines = parse(text, &rails(), 0, context);
        lines
            .into_iter()
            .map(|l| l.read.map(|r| (r.rail, r.quantity, r.value)).unwrap_or_else(|e| panic!("{}: {e}", l.text)))
            .collect()
    }

    #[test]
    fn named_rails_in_any_notation() {
        let text = "V12 0.2\nV5: 412 mV\n\nV1V8;0,35;Ohm\n# end\n";
        let wanted = [
            ("V12".to_owned(), Quantity::Ohms, Some(0.2)),
            ("V5".to_owned(), Quantity::Volts, Some(0.412)),
            ("V1V8".to_owned(), Quantity::Ohms, Some(0.35)),
        ];
        assert_eq!(read(text, Quantity::Ohms), wanted);
    }

    #[test]
    fn numbering_and_times_are_no_values_and_rails_take_turns() {
        let text =
            "1,2026-03-01 09:30:05,2.13E-01,OHM\n2,2026-03-01 09:30:11,OL,OHM\n3,2026-03-01 09:30:19,4.700,kOhm\n";
        let wanted = [
            ("V12".to_owned(), Quantity::Ohms, Some(0.213)),
            ("V5".to_owned(), Quantity::Ohms, None),
            ("V1V8".to_owned(), Quantity::Ohms, Some(4700.0)),
        ];
        assert_eq!(read(text, Quantity::Ohms), wanted);
    }

    #[test]
    fn volts_of_a_diode_test_are_its_volts() {
        let read = read("V12 0.003 V\nV5 DIODE 0.41 V", Quantity::DiodeRedOnGround);
        assert!(read.iter().all(|r| r.1 == Quantity::DiodeRedOnGround), "{read:?}");
    }

    #[test]
    fn lines_without_a_value_or_a_rail_say_so() {
        let lines = parse("hello\n1\n2\n3\n4", &rails(), 0, Quantity::Ohms);
        assert_eq!(lines[0].read, Err("no value in it".into()));
        assert_eq!(lines[4].read, Err("no rail is left for it".into()));
    }
}
