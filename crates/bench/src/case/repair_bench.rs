//! What was measured and done between two takes, as the repair check takes it.

use joulemark_locate::repair_check::Bench;

use super::{
    Case, TakeEntry,
    intervention::{Doing, Intervention},
    told,
};

impl Case {
    /// Readings and interventions between two of its takes.
    pub fn repair_bench(&self, before: &TakeEntry, after: &TakeEntry) -> Bench {
        told::bench(self, before.after, None, after.after)
    }

    /// What was done after one stage and up to another.
    pub fn between(&self, from: u32, until: u32) -> impl Iterator<Item = &Intervention> {
        self.interventions.iter().filter(move |i| i.number > from && i.number <= until)
    }

    /// Parts that were lifted or replaced between two takes, each once.
    pub fn parts_touched(&self, before: &TakeEntry, after: &TakeEntry) -> Vec<String> {
        let mut parts: Vec<String> = self
            .between(before.after, after.after)
            .filter(|i| matches!(i.what, Doing::Lifted | Doing::Replaced) && !i.part.is_empty())
            .map(|i| i.part.clone())
            .collect();
        parts.sort();
        parts.dedup();
        parts
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::reading::{Quantity, ReadingEntry};

    #[test]
    fn what_was_done_between_the_takes_counts_and_nothing_else() {
        let done =
            |number, what, part: &str| Intervention { number, what, part: part.into(), ..Intervention::default() };
        let ohms = |value, after| ReadingEntry {
            rail: "V5".into(),
            quantity: Quantity::Ohms,
            value: Some(value),
            after,
            ..ReadingEntry::default()
        };
        let case = Case {
            rail: "V5".into(),
            interventions: vec![
                done(1, Doing::Cleaned, ""),
                done(2, Doing::Lifted, "C5"),
                done(3, Doing::Replaced, "C5"),
                done(4, Doing::Lifted, "U1"),
            ],
            readings: vec![ohms(0.2, 0), ohms(900.0, 3)],
            ..Case::default()
        };
        let take = |after| TakeEntry { after, ..TakeEntry::default() };
        let bench = case.repair_bench(&take(1), &take(3));
        assert_eq!(bench.repaired, ["C5 lifted", "C5 replaced"]);
        assert_eq!((bench.ohms_before, bench.ohms_after), (Some(0.2), Some(900.0)));
        assert_eq!(case.parts_touched(&take(1), &take(3)), ["C5"]);
        // Two takes of one stage: the same reading is not an after-reading.
        assert_eq!(case.repair_bench(&take(0), &take(0)).ohms_after, None);
    }
}
