//! Readings that show how a healthy board reads, picked from one case: those marked as taken on a good board, those of a device that
//! was proven to be repaired, and those of rails that nobody ever suspected on it.

use joulemark_locate::{board::Board, repair_check::VerdictKind};

use crate::case::{Case, intervention::Doing, reading::ReadingEntry};

/// The healthy readings of a case, all marked as of a good board.
pub fn of(case: &Case, board: Option<&Board>) -> Vec<ReadingEntry> {
    let repaired = case.verdict().is_some_and(|v| v.verdict == VerdictKind::Cleared);
    let stage = last_repair(case);
    // Without the drawing nobody knows which rails hang on the shorted one.
    let suspected = board.map(|b| suspected(case, b));
    let healthy = |r: &&ReadingEntry| {
        if r.good_board {
            return true;
        }
        let after_repair = stage.is_some_and(|stage| r.after >= stage);
        let never_suspected = suspected.as_ref().is_some_and(|s| !s.contains(&r.rail) && !s.contains(&r.against));
        repaired && (after_repair || never_suspected)
    };
    case.readings.iter().filter(healthy).map(|r| ReadingEntry { good_board: true, ..r.clone() }).collect()
}

/// The stage from which the device was as it left the bench: the last time that a part was lifted or replaced.
fn last_repair(case: &Case) -> Option<u32> {
    let repairs = case.interventions.iter().filter(|i| matches!(i.what, Doing::Lifted | Doing::Replaced));
    // A part that is still off makes its rail read high: that is no good board.
    let still_off = case.interventions.iter().any(|lifted| {
        let back = |i: &&crate::case::intervention::Intervention| {
            i.part == lifted.part && i.what == Doing::Replaced && i.number > lifted.number
        };
        lifted.what == Doing::Lifted && !case.interventions.iter().any(|i| back(&i))
    });
    repairs.map(|i| i.number).max().filter(|_| !still_off)
}

/// Rails that were fed or surveyed, the shorted one, and all that hang on these at DC.
fn suspected(case: &Case, board: &Board) -> Vec<String> {
    let fed = case.connections.iter().map(|c| &c.rail).chain(case.surveys.iter().map(|s| &s.rail));
    let named: Vec<&String> = fed.chain([&case.rail]).filter(|r| !r.is_empty()).collect();
    let joined = named.iter().flat_map(|r| board.joined_rails(r)).map(|j| j.rail);
    named.iter().map(|r| (*r).clone()).chain(joined).collect()
}

#[cfg(test)]
mod tests {
    use joulemark_locate::board::{Face, Part, PartKind, Rail};

    use super::*;
    use crate::case::{conclusion::VerdictEntry, intervention::Intervention};

    fn board() -> Board {
        let coil = Part {
            designator: "L1".into(),
            kind: PartKind::Inductor,
            series: true,
            rails: vec!["V12".into(), "V12_IN".into()],
            ..Part::default()
        };
        let rail = |name: &str| Rail { name: name.into(), ..Rail::default() };
        Board {
            faces: vec![Face { parts: vec![coil], ..Face::default() }],
            rails: vec![rail("V12"), rail("V12_IN"), rail("V3")],
            ..Board::default()
        }
    }

    fn reading(rail: &str, ohms: f64, after: u32) -> ReadingEntry {
        ReadingEntry { rail: rail.into(), value: Some(ohms), after, ..ReadingEntry::default() }
    }

    fn case(verdict: VerdictKind, done: &[Doing]) -> Case {
        let doings = done.iter().zip(1..).map(|(what, number)| Intervention {
            number,
            what: *what,
            part: "C12".into(),
            ..Intervention::default()
        });
        Case {
            rail: "V12".into(),
            readings: vec![
                reading("V12", 0.2, 0),
                reading("V12_IN", 0.3, 0),
                reading("V3", 40.0, 0),
                reading("V12", 900.0, done.len() as u32),
                ReadingEntry { good_board: true, ..reading("V12", 800.0, 0) },
            ],
            interventions: doings.collect(),
            verdicts: vec![VerdictEntry { verdict, ..VerdictEntry::default() }],
            ..Case::default()
        }
    }

    fn values(case: &Case, board: Option<&Board>) -> Vec<f64> {
        let found = of(case, board);
        assert!(found.iter().all(|r| r.good_board));
        found.iter().filter_map(|r| r.value).collect()
    }

    #[test]
    fn only_a_repaired_device_teaches_and_never_by_its_shorted_rail() {
        let repaired = case(VerdictKind::Cleared, &[Doing::Lifted, Doing::Replaced]);
        assert_eq!(values(&repaired, Some(&board())), [40.0, 900.0, 800.0]);
        assert_eq!(values(&repaired, None), [900.0, 800.0]);
        assert_eq!(values(&case(VerdictKind::CannotTell, &[Doing::Replaced]), Some(&board())), [800.0]);
    }

    #[test]
    fn a_part_that_is_still_off_is_no_good_board() {
        assert_eq!(values(&case(VerdictKind::Cleared, &[Doing::Lifted]), Some(&board())), [40.0, 800.0]);
    }
}
