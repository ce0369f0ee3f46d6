//! All rails, the most abnormal first: shorted rails before all others, then by score (decades, as the verdicts give it),
//! then by verdict, then by name, so that the order of the readings does not matter.
//!
//! A rail is judged by the readings of its latest stage (after the most interventions); earlier ones only say what
//! changed. A quantity that was not measured again after an intervention counts as not measured.

use super::{
    Judged, LearntRange, Measured, RailFacts, Reading, Return, TypicalRanges, Verdict, between::judge_between,
    judge::judge, learn, learnt_for, words::ohms_words,
};

/// Faces whose ohms differ by more than this are told apart in words. Common practice, no published source.
const FACES_DIFFER: f64 = 3.0;
/// Volts on a rail that spoil ohms: the meter takes them for its own. Common practice, no published source.
const CHARGED_VOLTS: f64 = 0.05;

/// A rail in the order of suspicion.
#[derive(Clone, Debug, PartialEq)]
pub struct RankedRail {
    /// Its name.
    pub rail: String,
    /// The gravest verdict of its readings.
    pub verdict: Verdict,
    /// How abnormal, in decades.
    pub score: f64,
    /// Why, sentences without their full stops; the gravest reading first.
    pub why: Vec<String>,
    /// Indices of the readings that were judged.
    pub judged: Vec<usize>,
    /// The rail that it is shorted to, where that is not ground.
    pub shorted_to: Option<String>,
    /// Ohms to ground, leads taken off: the lowest of the latest stage.
    pub ohms: Option<f64>,
    /// What changed since the stage before.
    pub changed: Option<String>,
}

/// Ranks rails. Good-board readings among `readings` (of this case or earlier ones) are what the others are compared
/// with.
pub fn rank(rails: &[RailFacts], readings: &[Reading], ranges: &TypicalRanges) -> Vec<RankedRail> {
    let learnt = learn(readings, ranges);
    let case = Case { rails, readings, ranges, learnt: &learnt };
    let mut ranked: Vec<RankedRail> = rails.iter().map(|rail| case.ranked(rail)).collect();
    ranked.sort_by(|a, b| {
        let shorted = |r: &RankedRail| r.verdict == Verdict::Shorted;
        (shorted(b).cmp(&shorted(a)))
            .then(b.score.total_cmp(&a.score))
            .then(b.verdict.cmp(&a.verdict))
            .then(a.rail.cmp(&b.rail))
    });
    ranked
}

struct Case<'a> {
    rails: &'a [RailFacts],
    readings: &'a [Reading],
    ranges: &'a TypicalRanges,
    learnt: &'a [LearntRange],
}

impl Case<'_> {
    /// This board's readings in which the rail takes part.
    fn of<'a>(&'a self, rail: &'a str) -> impl Iterator<Item = (usize, &'a Reading)> {
        let takes_part =
            move |r: &Reading| r.rail == rail || matches!(&r.against, Return::Rail(other) if other == rail);
        self.readings.iter().enumerate().filter(move |(_, r)| !r.good_board && takes_part(r))
    }

    /// Lowest ohms to ground at a stage.
    fn ohms(&self, rail: &str, stage: u32) -> Option<f64> {
        let to_ground = |r: &&Reading| r.rail == rail && r.against == Return::Ground && r.after == stage && r.sane();
        let ohms = self.of(rail).map(|(_, r)| r).filter(to_ground).filter_map(|r| r.net_ohms(&self.ranges.leads));
        ohms.map(|net| net.ohms).min_by(f64::total_cmp)
    }

    fn ranked(&self, rail: &RailFacts) -> RankedRail {
        let stages = self.of(&rail.name).map(|(_, r)| r.after);
        let Some(stage) = stages.max() else {
            return RankedRail {
                rail: rail.name.clone(),
                verdict: Verdict::Unknown,
                score: 0.0,
                why: vec!["not measured yet".into()],
                judged: Vec::new(),
                shorted_to: None,
                ohms: None,
                changed: None,
            };
        };
        let mut judged: Vec<(usize, &Reading, Judged)> = (self.of(&rail.name).filter(|(_, r)| r.after == stage))
            .map(|(i, reading)| (i, reading, self.judged(rail, reading, stage)))
            .collect();
        judged.sort_by(|a, b| {
            b.2.verdict.cmp(&a.2.verdict).then(b.2.score.total_cmp(&a.2.score)).then(a.2.why.cmp(&b.2.why))
        });
        let verdict = judged.first().map_or(Verdict::Unknown, |j| j.2.verdict);
        let shorted_to =
            judged.first().filter(|j| j.2.verdict == Verdict::Shorted).and_then(|j| other_of(j.1, &rail.name));
        let mut why: Vec<String> = Vec::new();
        for (_, reading, one) in &judged {
            // Healthy readings beside a faulty one only lengthen the list.
            if one.verdict != Verdict::Healthy || !verdict.faulty() {
                why.extend(one.why.iter().map(|w| placed(reading, w)).filter(|w| !w.is_empty()));
            }
        }
        why.dedup();
        let here: Vec<&Reading> = judged.iter().map(|j| j.1).collect();
        why.extend(charged(&here));
        why.extend(self.faces(&here));
        RankedRail {
            rail: rail.name.clone(),
            verdict,
            score: judged.iter().map(|j| j.2.score).fold(0.0, f64::max),
            why,
            judged: judged.iter().map(|j| j.0).collect(),
            shorted_to,
            ohms: self.ohms(&rail.name, stage),
            changed: self.changed(rail, stage),
        }
    }

    fn judged(&self, rail: &RailFacts, reading: &Reading, stage: u32) -> Judged {
        let Some(other) = other_of(reading, &rail.name) else {
            return judge(reading, rail, self.ranges, learnt_for(reading, self.learnt));
        };
        if !reading.sane() {
            return Judged::new(Verdict::Unknown, 0.0, "the value makes no sense: measure again".into());
        }
        let unlisted = RailFacts { name: other.clone(), ..RailFacts::default() };
        let other = self.rails.iter().find(|r| r.name == other).unwrap_or(&unlisted);
        // An open way to ground does not explain a low reading: it counts as very high ohms.
        let to_ground =
            |name: &str| self.ohms(name, stage).or_else(|| self.open_to_ground(name, stage).then_some(f64::MAX));
        judge_between(reading, rail, other, [to_ground(&rail.name), to_ground(&other.name)], self.ranges)
    }

    fn open_to_ground(&self, rail: &str, stage: u32) -> bool {
        let open = Measured::Ohms(super::Shown::Open);
        self.of(rail).any(|(_, r)| r.against == Return::Ground && r.after == stage && r.measured == open)
    }

    /// Halves or faces that read differently.
    fn faces(&self, readings: &[&Reading]) -> Option<String> {
        let mut ohms: Vec<(&str, f64)> = (readings.iter())
            .filter(|r| r.against == Return::Ground && !r.face.is_empty())
            .filter_map(|r| Some((r.face.as_str(), r.net_ohms(&self.ranges.leads)?.ohms)))
            .collect();
        ohms.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(b.0)));
        let ((low_face, low), (high_face, high)) = (*ohms.first()?, *ohms.last()?);
        let differ = low_face != high_face && high > FACES_DIFFER * low.max(super::judge::LEAST_OHMS);
        differ.then(|| {
            format!("{} on {low_face}, {} on {high_face}: look on {low_face}", ohms_words(low), ohms_words(high))
        })
    }

    fn changed(&self, rail: &RailFacts, stage: u32) -> Option<String> {
        let before = self.of(&rail.name).map(|(_, r)| r.after).filter(|after| *after < stage).max()?;
        let (was, is) = (self.ohms(&rail.name, before)?, self.ohms(&rail.name, stage)?);
        Some(format!("{} before, {} now", ohms_words(was), ohms_words(is)))
    }
}

/// The other rail of a rail-to-rail reading, seen from `rail`.
fn other_of(reading: &Reading, rail: &str) -> Option<String> {
    match &reading.against {
        Return::Ground => None,
        Return::Rail(other) if other == rail => Some(reading.rail.clone()),
        Return::Rail(other) => Some(other.clone()),
    }
}

fn placed(reading: &Reading, why: &str) -> String {
    if reading.face.is_empty() { why.to_owned() } else { format!("{}: {why}", reading.face) }
}

/// Ohms beside volts on the same rail are spoilt.
fn charged(readings: &[&Reading]) -> Option<String> {
    let ohms = readings.iter().any(|r| matches!(r.measured, Measured::Ohms(_)));
    let volts = readings.iter().find_map(|r| match r.measured {
        Measured::Volts(shown) if r.against == Return::Ground => shown.number().filter(|v| v.abs() > CHARGED_VOLTS),
        _ => None,
    })?;
    ohms.then(|| format!("{volts:.3} V stood on it: ohms count only when it is switched off and discharged"))
}

#[cfg(test)]
mod tests;
