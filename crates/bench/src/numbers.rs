//! Numbers as people read them: probabilities that are never certain, values with the decimals that their error allows.

/// Never a bare 0 % or 100 %: neither is ever known.
pub fn percent(probability: f64) -> String {
    let p = 100.0 * probability;
    if p < 1.0 {
        "< 1 %".to_owned()
    } else if p > 99.0 {
        "> 99 %".to_owned()
    } else {
        format!("{p:.0} %")
    }
}

/// `1.862 ±0.041`: as many decimals as give the error two digits, at most three.
pub fn with_error(value: f64, error: f64) -> String {
    if !(error.is_finite() && error > 0.0) {
        return format!("{} ±?", significant(value, 3));
    }
    let decimals = decimals(error, 2).min(3);
    format!("{value:.decimals$} ±{error:.decimals$}")
}

/// A value with so many digits that count, and no exponent.
pub fn significant(value: f64, digits: i32) -> String {
    if !value.is_finite() {
        return "unknown".to_owned();
    }
    let decimals = if value == 0.0 { 0 } else { decimals(value, digits) };
    format!("{value:.decimals$}")
}

/// A ceiling with two decimals, cut off: a printed one is never above the real one.
pub fn ceiling(value: f64) -> String {
    let text = format!("{:.2}", (value * 100.0 + 1e-9).floor() / 100.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// From when to when current flowed; a time ends with the first frame without current.
pub fn on_times(time_s: &[f64], injecting: &[bool]) -> Vec<(f64, f64)> {
    let mut times = Vec::new();
    let mut from = None;
    for (time, on) in time_s.iter().zip(injecting) {
        match (from, on) {
            (None, true) => from = Some(*time),
            (Some(start), false) => {
                times.push((start, *time));
                from = None;
            }
            _ => {}
        }
    }
    if let (Some(start), Some(last)) = (from, time_s.last()) {
        times.push((start, *last));
    }
    times
}

fn decimals(value: f64, digits: i32) -> usize {
    let leading = value.abs().log10().floor() as i32;
    (digits - 1 - leading).clamp(0, 9) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn probabilities_are_never_certain() {
        assert_eq!([0.0, 0.012, 0.91, 1.0].map(percent), ["< 1 %", "1 %", "91 %", "> 99 %"]);
    }

    #[test]
    fn decimals_follow_the_error() {
        assert_eq!(with_error(57.123_45, 0.0213), "57.123 ±0.021");
        assert_eq!(with_error(1234.5, 12.0), "1234 ±12");
        assert_eq!(with_error(3.0, f64::NAN), "3.00 ±?");
    }

    #[test]
    fn ceilings_are_cut_off() {
        assert_eq!([0.3, 0.999, 20.0, 0.55].map(ceiling), ["0.3", "0.99", "20", "0.55"]);
    }

    #[test]
    fn digits_that_count() {
        assert_eq!([0.0064, 0.18, 12.0, 1500.0, 0.0].map(|v| significant(v, 2)), ["0.0064", "0.18", "12", "1500", "0"]);
    }

    #[test]
    fn times_with_current_end_with_the_first_frame_without() {
        let time_s = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0];
        let on = [false, true, true, false, true, true];
        assert_eq!(on_times(&time_s, &on), [(1.0, 3.0), (4.0, 5.0)]);
        assert_eq!(on_times(&[], &[]), []);
    }
}
