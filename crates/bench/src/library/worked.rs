//! Time at the bench, from the times in the case log. A long gap is a break, not work.

use crate::case::{case_log::LogLine, clock};

/// A gap longer than this is left out. Common practice, no published source: longer than soldering one part, shorter than lunch.
pub const BREAK_S: i64 = 30 * 60;

/// Seconds from the first to the last action, breaks left out; `None` when no line has a time.
pub fn worked_s(lines: &[LogLine]) -> Option<i64> {
    let mut times: Vec<i64> = lines.iter().filter_map(|l| clock::seconds(&l.time)).collect();
    // Two benches may have had clocks that differ: the file's order is not time's order.
    times.sort_unstable();
    times.first()?;
    Some(times.windows(2).map(|pair| pair[1] - pair[0]).filter(|gap| *gap <= BREAK_S).sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(times: &[&str]) -> Vec<LogLine> {
        times.iter().map(|t| LogLine { time: (*t).into(), action: "x".into(), ..LogLine::default() }).collect()
    }

    #[test]
    fn breaks_are_left_out() {
        let day = ["2026-03-01T09:00:00Z", "2026-03-01T09:10:00Z", "2026-03-01T09:40:00Z", "2026-03-01T11:00:00Z"];
        // Ten and thirty minutes; eighty are a break.
        assert_eq!(worked_s(&lines(&day)), Some(40 * 60));
        let mixed = [day[2], day[0], "yesterday", day[1]];
        assert_eq!(worked_s(&lines(&mixed)), Some(40 * 60));
        assert_eq!(worked_s(&lines(&["2026-03-01T09:00:00Z"])), Some(0));
        assert_eq!(worked_s(&[]), None);
    }
}
