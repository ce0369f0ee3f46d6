//! Shorts from rail to rail. Such a reading also sees the way through ground: it is never more than the sum of the two
//! rails' own ohms to ground, so two rails that are low to ground read low to each other without being joined.

use super::{Judged, RailFacts, Reading, TypicalRanges, Verdict, words::ohms_words};

/// A reading of at least this share of the two rails' sum is explained by the way through ground. It leaves room for two
/// readings' contacts; common practice, no published source.
const EXPLAINED_SHARE: f64 = 0.7;

/// Judges ohms between two rails. `to_ground` are the ohms of each to ground, where they were measured.
pub(super) fn judge_between(
    reading: &Reading,
    rail: &RailFacts,
    other: &RailFacts,
    to_ground: [Option<f64>; 2],
    ranges: &TypicalRanges,
) -> Judged {
    let Some(net) = reading.net_ohms(&ranges.leads) else {
        return Judged::new(
            Verdict::Unknown,
            0.0,
            format!("against {}: only ohms are judged between rails", other.name),
        );
    };
    let words = format!("{} between {} and {}", ohms_words(net.ohms), rail.name, other.name);
    let limit = ranges.shorted_between_ohms;
    if net.high_ohms >= limit {
        return Judged::new(Verdict::Healthy, 0.0, format!("{words}: not shorted to each other"));
    }
    if rail.joined.contains(&other.name) || other.joined.contains(&rail.name) {
        return Judged::new(Verdict::Healthy, 0.0, format!("{words}: a part joins them, so this is how it should be"));
    }
    let score = (limit / net.ohms.max(super::judge::LEAST_OHMS)).log10();
    match to_ground {
        // The way through ground alone would be their sum.
        [Some(a), Some(b)] if net.high_ohms >= EXPLAINED_SHARE * (a + b) => {
            let why = format!("{words}: both are low to ground, and that alone explains it");
            Judged::new(Verdict::Unknown, 0.0, why)
        }
        [Some(_), Some(_)] => Judged::new(
            Verdict::Shorted,
            score,
            format!("{words}: far below their way through ground, shorted to each other"),
        ),
        _ => {
            let why =
                format!("{words}: measure both to ground; if both are not low there, they are shorted to each other");
            Judged::new(Verdict::Low, score, why)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{
        super::{Return, samples, typical::tests::ranges},
        *,
    };

    fn judged(ohms: f64, to_ground: [Option<f64>; 2], joined: bool) -> Verdict {
        let reading =
            Reading { against: Return::Rail("V3".into()), meter_lead_ohms: Some(0.0), ..samples::ohms("V5", ohms) };
        let joined = if joined { vec!["V3".to_owned()] } else { Vec::new() };
        let rail = RailFacts { name: "V5".into(), joined, ..RailFacts::default() };
        let other = RailFacts { name: "V3".into(), ..RailFacts::default() };
        judge_between(&reading, &rail, &other, to_ground, &ranges()).verdict
    }

    #[test]
    fn the_way_through_ground_is_counted() {
        for (ohms, to_ground, joined, verdict) in [
            (0.3, [Some(2000.0), Some(2000.0)], false, Verdict::Shorted),
            (900.0, [Some(2000.0), Some(2000.0)], false, Verdict::Healthy),
            (0.3, [Some(2000.0), Some(2000.0)], true, Verdict::Healthy),
            // Two healthy cores of 0.4 and 0.6 ohms read 1 ohm to each other.
            (1.0, [Some(0.4), Some(0.6)], false, Verdict::Unknown),
            (0.1, [Some(1.4), Some(1.6)], false, Verdict::Shorted),
            (0.3, [None, Some(2000.0)], false, Verdict::Low),
        ] {
            assert_eq!(judged(ohms, to_ground, joined), verdict, "{ohms} {to_ground:?} {joined}");
        }
    }
}
