//! What the case says about the bench: readings at a place, the connection in force, what was done to the board.

use joulemark_locate::board::Rail;

use super::{
    bench_edit::{BenchEdit, BenchPart},
    document::Document,
    drawing::reading::nearest,
    engine::CautionView,
    session::Session,
};
use crate::case::{
    clock,
    connection::{Acknowledged, Connection, LIMITS},
    intervention::Intervention,
    reading::{ReadingEntry, shown},
    survey::Survey,
};

impl Document {
    /// The number of the last intervention; 0 when nothing was done yet.
    pub fn latest_intervention(&self) -> u32 {
        self.case.interventions.iter().map(|i| i.number).max().unwrap_or(0)
    }
}

impl Session {
    /// The case's rail on the drawing.
    pub fn rail(&self) -> Option<&Rail> {
        self.board.rail(&self.document.case.rail)
    }

    /// Whether red goes to ground.
    pub fn rail_is_negative(&self) -> bool {
        self.rail().and_then(|r| r.nominal_volts).is_some_and(|v| v < 0.0)
    }

    /// The reading of the same thing as `place`.
    pub fn reading(&self, place: &ReadingEntry) -> Option<&ReadingEntry> {
        self.document.case.readings.iter().find(|r| r.same_place(place))
    }

    /// The latest reading of the same thing from before the intervention of `place`: "was 0.2 ohms".
    pub fn before_in_words(&self, place: &ReadingEntry) -> Option<String> {
        let earlier = self.document.case.readings.iter().filter(|r| {
            let moved = ReadingEntry { after: r.after, ..place.clone() };
            r.after < place.after && r.same_place(&moved)
        });
        let last = earlier.max_by_key(|r| r.after)?;
        Some(format!("was {}", shown(last.value, last.quantity)))
    }

    /// What was not acknowledged yet for the connection in force.
    pub fn open_cautions(&self) -> Vec<CautionView> {
        self.open_among(&self.judged().cautions, &self.limits_in_words().unwrap_or_default())
    }

    /// The same among given cautions and under given limits.
    pub(super) fn open_among(&self, cautions: &[CautionView], limits: &str) -> Vec<CautionView> {
        let rail = &self.document.case.rail;
        let seen = |c: &CautionView| self.document.connection().is_some_and(|x| x.seen(&c.id, rail, limits).is_some());
        cautions.iter().filter(|c| c.before_injection && !seen(c)).cloned().collect()
    }

    /// A caution as it reads at this rail and these limits.
    pub fn caution_in_words(&self, caution: &CautionView) -> String {
        let limits = self.limits_in_words().unwrap_or_default();
        match caution.id.as_str() {
            LIMITS => format!("{limits}. {}", caution.words),
            "polarity" if self.rail_is_negative() => {
                format!("{} is negative: red to ground. {}", self.document.case.rail, caution.words)
            }
            _ => caution.words.clone(),
        }
    }

    /// The change that ticks a caution, or takes the tick back. Another rail is another connection.
    pub fn acknowledging(&self, caution: &str, seen: bool) -> Option<BenchEdit> {
        let case = &self.document.case;
        let limits = self.limits_in_words()?;
        let mut connections = case.connections.clone();
        if self.document.connection().is_none_or(|c| c.rail != case.rail) {
            connections.push(Connection { rail: case.rail.clone(), acknowledged: Vec::new() });
        }
        let connection = connections.last_mut()?;
        connection.acknowledged.retain(|a| a.caution != caution);
        let of_limits = caution == LIMITS;
        let said = if of_limits { format!(" ({limits})") } else { String::new() };
        if seen {
            connection.acknowledged.push(Acknowledged {
                caution: caution.to_owned(),
                time: clock::now(),
                by: self.journal.by.clone(),
                limits: if of_limits { limits } else { String::new() },
            });
        }
        let words = format!("{} caution{said} at {}", caution.replace('_', " "), case.rail);
        let (verb, verbed) =
            if seen { ("acknowledge", "acknowledged") } else { ("take back", "acknowledgement taken back") };
        Some(BenchEdit {
            words: format!("{verb} {words}"),
            record: Some(format!("{verbed}: {words}")),
            part: BenchPart::Connections(connections),
        })
    }

    /// The change that begins a new connection.
    pub fn reconnecting(&self) -> BenchEdit {
        let case = &self.document.case;
        let mut connections = case.connections.clone();
        connections.push(Connection { rail: case.rail.clone(), acknowledged: Vec::new() });
        BenchEdit {
            words: "begin a new connection".to_owned(),
            record: Some(format!("new connection at {}", case.rail)),
            part: BenchPart::Connections(connections),
        }
    }

    /// The change that adds an intervention.
    pub fn interventions_with(&self, make: impl FnOnce(u32) -> Intervention) -> BenchEdit {
        let done = make(self.document.latest_intervention() + 1);
        let words = done.words();
        let mut interventions = self.document.case.interventions.clone();
        interventions.push(done);
        BenchEdit {
            words: format!("note that {words}"),
            record: Some(words),
            part: BenchPart::Interventions(interventions),
        }
    }

    /// The survey of the case's rail since the last intervention.
    pub fn survey(&self) -> Option<&Survey> {
        let (rail, after) = (&self.document.case.rail, self.document.latest_intervention());
        self.document.case.surveys.iter().find(|s| s.rail == *rail && s.after == after)
    }

    /// The part at a place of a face, or the nearest.
    pub fn near(&self, face: &str, at_mm: [f64; 2]) -> String {
        match nearest(&self.board, face, nalgebra::Point2::from(at_mm)).first() {
            Some((part, mm)) if *mm < 0.05 => format!("at {part}"),
            Some((part, mm)) => format!("{mm:.1} mm from {part}"),
            None => "far from any part".to_owned(),
        }
    }
}
