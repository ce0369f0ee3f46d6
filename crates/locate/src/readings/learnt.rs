//! What good boards of the same kind read, place by place. It goes before what is usual in general.

use super::{Measured, Reading, Return, Shown, Span, TypicalRanges};

/// What good boards read at one place.
#[derive(Clone, Debug, PartialEq)]
pub struct LearntRange {
    /// The rail.
    pub rail: String,
    /// Where the other lead was.
    pub against: Return,
    /// The face; empty when it was not said.
    pub face: String,
    /// A reading of the quantity; its value is the first one seen.
    pub measured: Measured,
    /// Range of the numbers, widened by what counts as like a good board; `None` when all were open.
    pub span: Option<Span>,
    /// Readings that were numbers.
    pub count: usize,
    /// Readings that were open.
    pub open: usize,
}

/// The ranges of all good-board readings among `readings`.
pub fn learn(readings: &[Reading], ranges: &TypicalRanges) -> Vec<LearntRange> {
    let mut learnt: Vec<LearntRange> = Vec::new();
    for reading in readings.iter().filter(|r| r.good_board && r.sane()) {
        let value = match reading.measured {
            Measured::Ohms(_) => reading.net_ohms(&ranges.leads).map(|net| net.ohms),
            other => other.shown().number(),
        };
        let at = learnt.iter().position(|l| {
            l.rail == reading.rail
                && l.against == reading.against
                && l.face == reading.face
                && l.measured.same_quantity(reading.measured)
        });
        let at = at.unwrap_or_else(|| {
            learnt.push(LearntRange {
                rail: reading.rail.clone(),
                against: reading.against.clone(),
                face: reading.face.clone(),
                measured: reading.measured,
                span: None,
                count: 0,
                open: 0,
            });
            learnt.len() - 1
        });
        let place = &mut learnt[at];
        match (value, reading.measured.shown()) {
            (Some(value), _) => {
                let like = widened(value, reading.measured, ranges);
                place.span = Some(place.span.map_or(like, |span| span.joined(like)));
                place.count += 1;
            }
            (None, Shown::Open) => place.open += 1,
            (None, Shown::Number(_)) => {}
        }
    }
    learnt
}

/// The learnt range for a reading: the same rail, return and quantity, on the same face where both say one.
pub fn learnt_for<'a>(reading: &Reading, learnt: &'a [LearntRange]) -> Option<&'a LearntRange> {
    let same = |l: &&LearntRange| {
        l.rail == reading.rail && l.against == reading.against && l.measured.same_quantity(reading.measured)
    };
    let exact = learnt.iter().filter(same).find(|l| l.face == reading.face);
    exact.or_else(|| learnt.iter().filter(same).find(|l| l.face.is_empty() || reading.face.is_empty()))
}

fn widened(value: f64, measured: Measured, ranges: &TypicalRanges) -> Span {
    let like = ranges.like_good_board;
    match measured {
        // Contacts leave near zero what a factor does not: two good cores of 0.2 ohms may read 0.15 and 0.25.
        Measured::Ohms(_) => Span {
            from: (value / like.ohms_factor).min(value - ranges.leads.contact_ohms).max(0.0),
            to: Some((value * like.ohms_factor).max(value + ranges.leads.contact_ohms)),
        },
        _ => Span { from: value - like.diode_volts, to: Some(value + like.diode_volts) },
    }
}

#[cfg(test)]
mod tests {
    use super::{super::typical::tests::ranges, *};

    fn good(value: Option<f64>) -> Reading {
        Reading {
            rail: "V1".into(),
            against: Return::Ground,
            measured: Measured::Ohms(value.into()),
            face: String::new(),
            after: 0,
            good_board: true,
            meter_lead_ohms: Some(0.0),
        }
    }

    #[test]
    fn good_boards_are_counted_and_their_range_widened() {
        let bad = Reading { good_board: false, ..good(Some(0.1)) };
        let learnt = learn(&[good(Some(4.0)), good(Some(6.0)), good(None), bad], &ranges());
        assert_eq!(learnt.len(), 1);
        assert_eq!((learnt[0].count, learnt[0].open), (2, 1));
        assert_eq!(learnt[0].span, Some(Span { from: 2.0, to: Some(12.0) }));
    }

    #[test]
    fn a_face_that_was_said_must_match() {
        let on = |face: &str, ohms| Reading { face: face.into(), ..good(Some(ohms)) };
        let learnt = learn(&[on("upper half", 4.0), on("lower half", 40.0)], &ranges());
        assert_eq!(learnt_for(&on("lower half", 1.0), &learnt).map(|l| l.face.as_str()), Some("lower half"));
        assert_eq!(learnt_for(&on("middle", 1.0), &learnt), None);
        assert!(learnt_for(&on("", 1.0), &learnt).is_some());
    }
}
