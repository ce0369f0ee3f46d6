//! Pieces of an answer in words, the same on the command line and in a report.

use joulemark_locate::{Located, SpotAnswer, SpotRole, TimeConstant};

use crate::numbers::{percent, significant, with_error};

/// A suspect below this share is not worth a line.
pub const LEAST_SHOWN: f64 = 0.005;
/// So many shares of a further hot spot are listed.
const MOST_SHARES: usize = 3;

/// A time constant without its unit, seconds.
pub fn time_constant(time_constant: TimeConstant) -> String {
    match time_constant {
        TimeConstant::Known { tau_s, tau_se_s, .. } => with_error(tau_s, tau_se_s),
        TimeConstant::AtLeast { tau_s } => format!("at least {}", significant(tau_s, 2)),
        TimeConstant::AtMost { tau_s } => format!("at most {}", significant(tau_s, 2)),
        TimeConstant::Between { low_s, high_s } => {
            format!("{} to {}", significant(low_s, 2), significant(high_s, 2))
        }
        TimeConstant::Unknown => "unknown".to_owned(),
    }
}

/// A q value, which is never nothing.
pub fn q_value(q: f64) -> String {
    if q < 1e-3 { "< 0.001".to_owned() } else { format!("{q:.3}") }
}

/// One line for each further hot spot: heat spreads, and most of them are the first one's.
pub fn further_spots(located: &Located, leading: usize) -> Vec<String> {
    let line = |(index, answer): (usize, &SpotAnswer)| {
        let mut shares: Vec<(f64, &str)> = answer
            .suspects
            .iter()
            .map(|s| (s.probability, s.part.as_str()))
            .chain([
                (answer.off_drawing_probability, "something not on the drawing"),
                (answer.nothing_probability, "not the short at all"),
            ])
            .filter(|(share, _)| *share >= LEAST_SHOWN)
            .collect();
        shares.sort_by(|a, b| b.0.total_cmp(&a.0));
        let listed: Vec<String> =
            shares.iter().take(MOST_SHARES).map(|(share, who)| format!("{who} {}", percent(*share))).collect();
        format!("Hot spot {}{}: {}", index + 1, role(answer.role), listed.join(", "))
    };
    located.answers.iter().enumerate().filter(|(i, _)| *i != leading).map(line).collect()
}

/// What the spot is to the current, after its number.
pub fn role(role: SpotRole) -> String {
    match role {
        SpotRole::End => ", where the warm track ends".to_owned(),
        SpotRole::OnPath { towards } => format!(", on the track that feeds hot spot {}", towards + 1),
        SpotRole::AtProbe => ", at the probe: move the probe and film again".to_owned(),
        SpotRole::Own => String::new(),
    }
}

/// The group of the first suspect, itself first; `None` when it stands alone.
pub fn lift_order(answer: &SpotAnswer) -> Option<Vec<&str>> {
    let first = answer.suspects.first()?;
    (!first.group.is_empty())
        .then(|| std::iter::once(first.part.as_str()).chain(first.group.iter().map(String::as_str)).collect())
}
