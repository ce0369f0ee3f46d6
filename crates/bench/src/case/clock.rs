//! The time of day as text, in UTC, so that logs from two workshops can be laid side by side.

use std::time::{SystemTime, UNIX_EPOCH};

/// Seconds in a day; leap seconds are not counted in system time.
const DAY_S: i64 = 86_400;

/// Now, `2026-03-01T09:30:05Z` (ISO 8601).
pub fn now() -> String {
    // A clock before 1970 is a clock that was never set: its own zero is as good as any.
    let since = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    utc(i64::try_from(since).unwrap_or(0))
}

/// Seconds since 1970-01-01T00:00:00Z as ISO 8601 text.
pub fn utc(seconds_since_1970: i64) -> String {
    let (year, month, day) = civil(seconds_since_1970.div_euclid(DAY_S));
    let second = seconds_since_1970.rem_euclid(DAY_S);
    let (hour, minute) = (second / 3600, second / 60 % 60);
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{:02}Z", second % 60)
}

/// Year, month and day of a day number counted from 1970-01-01, in the Gregorian calendar: 400 years have 146 097 days,
/// and years counted from March keep the leap day last. Source: the calendar's own rules (ISO 8601-1, 4.2.1).
fn civil(days_since_1970: i64) -> (i64, i64, i64) {
    // From 0000-03-01.
    let days = days_since_1970 + 719_468;
    let era = days.div_euclid(146_097);
    let day_of_era = days.rem_euclid(146_097);
    let year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * from_march + 2) / 5 + 1;
    let month = if from_march < 10 { from_march + 3 } else { from_march - 9 };
    (400 * era + year_of_era + i64::from(month <= 2), month, day)
}

/// Seconds since 1970-01-01T00:00:00Z of a text that [`utc`] could have written; `None` for everything else.
pub fn seconds(text: &str) -> Option<i64> {
    let bytes = text.as_bytes();
    let marks = [(4, b'-'), (7, b'-'), (10, b'T'), (13, b':'), (16, b':'), (19, b'Z')];
    if bytes.len() != 20 || marks.iter().any(|(at, mark)| bytes[*at] != *mark) {
        return None;
    }
    let number = |from: usize, to: usize| {
        let digits = text.get(from..to)?;
        digits.bytes().all(|b| b.is_ascii_digit()).then(|| digits.parse::<i64>().ok())?
    };
    let (year, month, day) = (number(0, 4)?, number(5, 7)?, number(8, 10)?);
    let (hour, minute, second) = (number(11, 13)?, number(14, 16)?, number(17, 19)?);
    let days = days_since_1970(year, month, day);
    // A day that the month does not have comes back as another one.
    let real = civil(days) == (year, month, day) && hour < 24 && minute < 60 && second < 60;
    real.then_some(days * DAY_S + hour * 3600 + minute * 60 + second)
}

/// The inverse of [`civil`].
fn days_since_1970(year: i64, month: i64, day: i64) -> i64 {
    let year = year - i64::from(month <= 2);
    let era = year.div_euclid(400);
    let year_of_era = year.rem_euclid(400);
    let from_march = if month > 2 { month - 3 } else { month + 9 };
    let day_of_year = (153 * from_march + 2) / 5 + day - 1;
    era * 146_097 + year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year - 719_468
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_seconds_give_known_dates() {
        // Made with GNU date 9.1: `date -u -d @N +%FT%TZ`.
        for (seconds, text) in [
            (0, "1970-01-01T00:00:00Z"),
            (951_782_399, "2000-02-28T23:59:59Z"),
            (951_782_400, "2000-02-29T00:00:00Z"),
            (951_868_800, "2000-03-01T00:00:00Z"),
            (1_709_210_096, "2024-02-29T12:34:56Z"),
            (1_798_761_599, "2026-12-31T23:59:59Z"),
            (4_107_542_400, "2100-03-01T00:00:00Z"),
            (-1, "1969-12-31T23:59:59Z"),
        ] {
            assert_eq!(utc(seconds), text);
            assert_eq!(super::seconds(text), Some(seconds));
        }
    }

    #[test]
    fn what_is_no_time_is_none() {
        for text in ["", "2026-03-01", "2026-02-29T00:00:00Z", "2026-13-01T00:00:00Z", "2026-03-01T24:00:00Z"] {
            assert_eq!(seconds(text), None, "{text}");
        }
        assert_eq!(seconds("2026-0\u{e9}-1T00:00:00Z"), None);
        assert_eq!(seconds("+026-03-01T00:00:00Z"), None);
    }

    #[test]
    fn days_follow_one_another() {
        let mut before = civil(-1);
        for day in 0..200_000 {
            let (y, m, d) = civil(day);
            let next_day = (y, m) == (before.0, before.1) && d == before.2 + 1;
            let next_month = d == 1 && ((y == before.0 && m == before.1 + 1) || (y == before.0 + 1 && m == 1));
            assert!(next_day || next_month, "{before:?} then {:?}", (y, m, d));
            before = (y, m, d);
        }
    }
}
