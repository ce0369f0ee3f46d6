//! The verdict on one reading: how far it is from what is usual, and what that can mean.
//!
//! The score is in decades. Ohms: `log10` of the distance from the range. Diode readings: volts outside the range, 0.1 V
//! to the decade, because a junction's drop changes by 60 to 120 mV per decade of current (Shockley's law with an
//! ideality of 1 to 2, at 25 C). Zero is as it should be.

use serde::{Deserialize, Serialize};

use super::{Band, LearntRange, Measured, Polarity, RailFacts, Reading, Shown, TypicalRanges, words::ohms_words};

/// Volts on a diode reading that count as one decade of ohms.
const DIODE_VOLTS_PER_DECADE: f64 = 0.1;
/// Nothing is measured below this with two leads; keeps the logarithm finite.
pub(super) const LEAST_OHMS: f64 = 0.01;
/// An open diode reading: no junction of a rail's many conducts.
const OPEN_DIODE_SCORE: f64 = 2.0;
/// Open on ohms says less: some healthy rails are beyond a meter's range.
const OPEN_OHMS_SCORE: f64 = 1.0;
/// Low ohms that can be healthy are half an argument. Common practice, no published source.
const MAY_BE_HEALTHY: f64 = 0.5;

/// What a reading, or a rail, looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// In the usual range. Nobody can say more from a meter.
    Healthy,
    /// Nothing to say, or nothing measured.
    Unknown,
    /// Low ohms can be healthy here: compare a good board.
    MayBeHealthy,
    /// Above the usual range.
    High,
    /// Nothing conducts where something should.
    Open,
    /// Below the usual range: leakage, or a short far from the probe.
    Low,
    /// Shorted.
    Shorted,
}

impl Verdict {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Healthy => "looks healthy",
            Self::Unknown => "unknown",
            Self::MayBeHealthy => "low ohms can be healthy here: compare a good board",
            Self::High => "high",
            Self::Open => "open",
            Self::Low => "low",
            Self::Shorted => "shorted",
        }
    }

    /// Whether it speaks of a fault.
    pub fn faulty(self) -> bool {
        matches!(self, Self::High | Self::Open | Self::Low | Self::Shorted)
    }
}

/// A verdict with its reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// What it looks like.
    pub verdict: Verdict,
    /// How abnormal, in decades; zero or more.
    pub score: f64,
    /// Why, a sentence without its full stop each.
    pub why: Vec<String>,
}

impl Judged {
    pub(super) fn new(verdict: Verdict, score: f64, why: String) -> Self {
        Self { verdict, score: score.max(0.0), why: vec![why] }
    }
}

/// Judges a reading against ground. `good` is what good boards read at the same place, where any was measured.
pub fn judge(reading: &Reading, rail: &RailFacts, ranges: &TypicalRanges, good: Option<&LearntRange>) -> Judged {
    if !reading.sane() {
        return Judged::new(Verdict::Unknown, 0.0, "the value makes no sense: measure again".into());
    }
    let band = ranges.band_of(rail);
    match reading.measured {
        Measured::Ohms(Shown::Open) | Measured::Diode(Polarity::RedOnGround, Shown::Open) => open(reading, good),
        Measured::Ohms(Shown::Number(_)) => ohms(reading, rail, ranges, band.as_ref(), good),
        Measured::Diode(polarity, shown) => diode(polarity, shown, rail, band.as_ref(), good),
        Measured::Volts(shown) => volts(shown, rail, ranges.volts_share),
    }
}

fn open(reading: &Reading, good: Option<&LearntRange>) -> Judged {
    if good.is_some_and(|g| g.open > 0 && g.span.is_none()) {
        return Judged::new(Verdict::Healthy, 0.0, "open, as on good boards".into());
    }
    let score = if matches!(reading.measured, Measured::Ohms(_)) { OPEN_OHMS_SCORE } else { OPEN_DIODE_SCORE };
    let why = "OL: nothing conducts. Is the probe on the rail? A fuse, series part or joint may be open";
    Judged::new(Verdict::Open, score, why.into())
}

fn ohms(
    reading: &Reading,
    rail: &RailFacts,
    ranges: &TypicalRanges,
    band: Option<&Band>,
    good: Option<&LearntRange>,
) -> Judged {
    let Some(net) = reading.net_ohms(&ranges.leads) else {
        return Judged::new(Verdict::Unknown, 0.0, "no ohms".into());
    };
    let value = ohms_words(net.ohms);
    let learnt = good.and_then(|g| Some((g.span?, g.count)));
    let from = learnt.map_or_else(|| band.and_then(|b| b.ohms), |(span, _)| Some(span));
    let usual = match (learnt, band) {
        (Some((_, count)), _) => format!("{} on {count} good {}", span_words(from), boards(count)),
        (None, Some(band)) => format!("{} is usual for {}", span_words(from), band.name),
        (None, None) => "nothing is known of what is usual here".to_owned(),
    };
    let below = from.map_or(0.0, |span| (span.from / net.ohms.max(LEAST_OHMS)).log10());
    let above = from.and_then(|s| s.to).map_or(0.0, |to| (net.ohms / to).log10());
    let shorted = band.and_then(|b| b.shorted_below_ohms).is_some_and(|limit| net.high_ohms < limit);
    let mut judged = if shorted && !rail.may_be_core() {
        // Without a range the distance to the limit stands in.
        let limit = band.and_then(|b| b.shorted_below_ohms).unwrap_or(LEAST_OHMS);
        Judged::new(
            Verdict::Shorted,
            below.max((limit / net.ohms.max(LEAST_OHMS)).log10()),
            format!("{value}; {usual}"),
        )
    } else if below > 0.0 && rail.may_be_core() && learnt.is_none() {
        Judged::new(Verdict::MayBeHealthy, MAY_BE_HEALTHY * below, format!("{value}; {usual}"))
    } else if below > 0.0 {
        Judged::new(Verdict::Low, below, format!("{value}; {usual}"))
    } else if above > 0.0 {
        Judged::new(Verdict::High, above, format!("{value}; {usual}"))
    } else if from.is_some() {
        Judged::new(Verdict::Healthy, 0.0, format!("{value}; {usual}"))
    } else if rail.may_be_core() {
        Judged::new(
            Verdict::MayBeHealthy,
            0.0,
            format!("{value}; {usual}: say what the rail is for, or compare a good board"),
        )
    } else {
        Judged::new(
            Verdict::Unknown,
            0.0,
            format!("{value}; no range of ohms is usual here: a diode reading says more"),
        )
    };
    if judged.verdict == Verdict::MayBeHealthy && judged.score > 0.0 {
        judged.why.push("ohms alone do not tell a short from a healthy core or graphics rail".into());
    }
    judged.why.extend(net.note);
    judged
}

fn diode(
    polarity: Polarity,
    shown: Shown,
    rail: &RailFacts,
    band: Option<&Band>,
    good: Option<&LearntRange>,
) -> Judged {
    let Some(volts) = shown.number() else {
        return Judged::new(Verdict::Unknown, 0.0, "OL this way round is common: measure with red on ground".into());
    };
    let limit = band.and_then(|b| b.shorted_below_diode_volts).unwrap_or(0.0);
    // Only charge drives a diode test below zero.
    if volts < -limit.max(0.01) {
        let why = format!("{volts:.3} V: the rail holds a charge. Discharge it and measure again");
        return Judged::new(Verdict::Unknown, 0.0, why);
    }
    let learnt = good.and_then(|g| Some((g.span?, g.count)));
    let usual = learnt.map_or_else(|| band.and_then(|b| b.diode_volts), |(span, _)| Some(span));
    let below = usual.map_or(limit - volts, |s| s.from - volts) / DIODE_VOLTS_PER_DECADE;
    let words = match learnt {
        Some((_, count)) => format!("{volts:.3} V; {} V on {count} good {}", volts_span(usual), boards(count)),
        None => match band {
            Some(band) => format!("{volts:.3} V; {} V is usual for {}", volts_span(usual), band.name),
            None => format!("{volts:.3} V; nothing is known of what is usual here"),
        },
    };
    if volts < limit && !rail.may_be_core() {
        return Judged::new(Verdict::Shorted, below, words);
    }
    if polarity == Polarity::BlackOnGround && learnt.is_none() {
        let why = format!("{volts:.3} V with black on ground: ranges are for red on ground, measure that way round");
        return Judged::new(Verdict::Unknown, 0.0, why);
    }
    let Some(span) = usual else {
        return Judged::new(Verdict::Unknown, 0.0, words);
    };
    if volts < span.from && rail.may_be_core() && learnt.is_none() {
        let mut judged = Judged::new(Verdict::MayBeHealthy, MAY_BE_HEALTHY * below, words);
        judged.why.push("the test's milliampere makes only millivolts across a healthy core of an ohm".into());
        return judged;
    }
    if volts < span.from {
        return Judged::new(Verdict::Low, below, words);
    }
    match span.to {
        Some(to) if volts > to => Judged::new(Verdict::High, (volts - to) / DIODE_VOLTS_PER_DECADE, words),
        _ => Judged::new(Verdict::Healthy, 0.0, words),
    }
}

/// Volts say something only of a device that was switched on, so they never outweigh a decade when they are low.
fn volts(shown: Shown, rail: &RailFacts, share: f64) -> Judged {
    let (Some(volts), Some(nominal)) = (shown.number(), rail.nominal_volts.filter(|v| v.is_finite() && *v != 0.0))
    else {
        let why = if shown.number().is_some() { "nominal volts are unknown" } else { "OL: beyond the meter's range" };
        return Judged::new(Verdict::Unknown, 0.0, why.into());
    };
    let ratio = volts / nominal;
    let words = format!("{volts:.3} V of {nominal} V, if the device was switched on");
    if ratio < -share {
        return Judged::new(Verdict::Low, 1.0, format!("{words}: reversed. Check the leads, then the supply"));
    }
    match ratio {
        r if r < 1.0 - share => Judged::new(Verdict::Low, (1.0 - r).min(1.0), words),
        r if r > 1.0 + share => Judged::new(Verdict::High, (r - 1.0).min(3.0), words),
        _ => Judged::new(Verdict::Healthy, 0.0, words),
    }
}

fn span_words(span: Option<super::Span>) -> String {
    match span {
        Some(super::Span { from, to: Some(to) }) => format!("{} to {}", ohms_words(from), ohms_words(to)),
        Some(super::Span { from, to: None }) => format!("more than {}", ohms_words(from)),
        None => "no range".to_owned(),
    }
}

fn volts_span(span: Option<super::Span>) -> String {
    match span {
        Some(super::Span { from, to: Some(to) }) => format!("{from:.2} to {to:.2}"),
        Some(super::Span { from, to: None }) => format!("more than {from:.2}"),
        None => "no range of".to_owned(),
    }
}

fn boards(count: usize) -> &'static str {
    if count == 1 { "board" } else { "boards" }
}

#[cfg(test)]
mod tests;
