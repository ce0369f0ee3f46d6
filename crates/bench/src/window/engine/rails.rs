//! Readings: from the case to the engine's, and what it says about them in the window's words.

use std::collections::HashMap;

use joulemark_locate::{
    board::Board,
    readings::{
        self, Measured, Polarity, RailFacts, RankedRail, Reading, Return, Span, TypicalRanges, Verdict,
        decision::{self, Next, Situation},
    },
};

use super::{
    super::{
        command::Command,
        document::Edit,
        readings::{RailSays, ReadingsCommand, Weight},
        session::Session,
        stage::Stage,
        survey::SurveyCommand,
    },
    Proposal, Ranked,
};
use crate::case::{
    books::Books,
    intervention::Doing,
    plan::PlanChoices,
    reading::{Quantity, shown},
};

/// What the drawing and the technician state about rails.
fn facts(board: &Board, stated: &PlanChoices) -> Vec<RailFacts> {
    let of = |rail: &joulemark_locate::board::Rail| {
        let joined = board.joined_rails(&rail.name);
        let mut series_parts: Vec<String> = joined.iter().flat_map(|j| j.via.first().cloned()).collect();
        series_parts.sort();
        series_parts.dedup();
        RailFacts {
            name: rail.name.clone(),
            nominal_volts: rail.nominal_volts,
            stated_use: stated.use_of(&rail.name),
            joined: joined.into_iter().skip(1).map(|j| j.rail).collect(),
            series_parts,
        }
    };
    board.rails.iter().map(of).collect()
}

/// What is said about rails.
pub(super) struct Said {
    pub rails: HashMap<(String, String), RailSays>,
    pub ranked: Vec<Ranked>,
    pub measure: Option<Proposal>,
    /// The engine's own ranking.
    pub raw: Vec<RankedRail>,
    /// What the table proposes for the case's rail.
    pub for_rail: Option<(decision::Proposal, Command)>,
}

/// Asks the engine about all rails.
pub(super) fn judge(session: &Session) -> Said {
    let books = Books::in_force();
    let case = &session.document.case;
    let facts = facts(&session.board, &case.plan);
    let mut readings: Vec<Reading> = case.readings.iter().map(Reading::from).collect();
    // What good boards of this model read elsewhere in the shop narrows the usual ranges, as a good board beside this one does.
    readings.extend(session.learnt.readings());
    let ranked = readings::rank(&facts, &readings, &books.ranges);
    let mut rails = HashMap::new();
    for rail in &facts {
        let found = ranked.iter().find(|r| r.rail == rail.name && !r.judged.is_empty());
        let (says, weight) = found.map_or_else(|| (String::new(), Weight::Calm), |r| (in_words(r), weight(r.verdict)));
        let (typical, source) = typical(rail, &books.ranges, &readings);
        rails.insert((rail.name.clone(), String::new()), RailSays { typical, source, says, weight });
    }
    let measured = ranked.iter().filter(|r| !r.judged.is_empty());
    Said {
        rails,
        ranked: measured
            .map(|r| Ranked {
                rail: r.rail.clone(),
                words: r.verdict.words().to_owned(),
                because: reasons(r),
                weight: weight(r.verdict),
            })
            .collect(),
        measure: measure(session, &facts, &ranked, &readings),
        for_rail: proposed(session, &facts, &ranked, &readings, &case.rail),
        raw: ranked,
    }
}

/// The command that puts the cursor where a reading goes.
pub(super) fn ask(rail: &str, quantity: Quantity, good_board: bool, face: &str) -> Command {
    Command::Readings(ReadingsCommand::Ask {
        rail: rail.to_owned(),
        quantity,
        face: face.to_owned(),
        good_board,
        against: String::new(),
    })
}

fn weight(verdict: Verdict) -> Weight {
    match verdict {
        Verdict::Shorted => Weight::Shorted,
        Verdict::MayBeHealthy => Weight::Odd,
        v if v.faulty() => Weight::Odd,
        _ => Weight::Calm,
    }
}

fn reasons(rail: &RankedRail) -> String {
    let mut why = rail.why.clone();
    why.extend(rail.shorted_to.as_ref().map(|other| format!("shorted to {other}")));
    why.extend(rail.changed.clone());
    why.join("; ")
}

fn in_words(rail: &RankedRail) -> String {
    match rail.why.first() {
        Some(why) => format!("{}: {why}", rail.verdict.words()),
        None => rail.verdict.words().to_owned(),
    }
}

fn span(span: Span, quantity: Quantity) -> String {
    match span.to {
        Some(to) => format!("{} to {}", shown(Some(span.from), quantity), shown(Some(to), quantity)),
        None => format!("above {}", shown(Some(span.from), quantity)),
    }
}

/// What is usual for a rail, and where that comes from. Good boards go before what is usual in general.
fn typical(rail: &RailFacts, ranges: &TypicalRanges, readings: &[Reading]) -> (String, String) {
    let learnt = readings::learn(readings, ranges);
    let good: Vec<String> = learnt
        .iter()
        .filter(|l| l.rail == rail.name && l.against == Return::Ground)
        .filter_map(|l| match l.measured {
            Measured::Ohms(_) => Some(span(l.span?, Quantity::Ohms)),
            Measured::Diode(Polarity::RedOnGround, _) => Some(span(l.span?, Quantity::DiodeRedOnGround)),
            _ => None,
        })
        .collect();
    if !good.is_empty() {
        return (good.join("; "), "from good boards of this model, measured in this case or an earlier one".to_owned());
    }
    let Some(band) = ranges.band_of(rail) else {
        return ("say what it is for".to_owned(), "no range is known for it".to_owned());
    };
    let ohms = band.ohms.map(|s| span(s, Quantity::Ohms));
    let diode = band.diode_volts.map(|s| format!("diode {}", span(s, Quantity::DiodeRedOnGround)));
    let both: Vec<String> = ohms.into_iter().chain(diode).collect();
    (both.join("; "), format!("{}: {}", band.name, band.source))
}

/// What to measure next: on the most abnormal rail that was measured, or the one that the case names.
fn measure(session: &Session, facts: &[RailFacts], ranked: &[RankedRail], readings: &[Reading]) -> Option<Proposal> {
    let first = ranked.iter().find(|r| !r.judged.is_empty()).map(|r| r.rail.as_str());
    let named = session.rail().map(|r| r.name.as_str());
    let rail = first.or(named).or(facts.first().map(|f| f.name.as_str()))?;
    let (proposal, command) = proposed(session, facts, ranked, readings, rail)?;
    let words = match &command {
        Command::Edit(Edit::Rail(rail)) => format!("Choose {rail} as the shorted rail"),
        _ => proposal.say,
    };
    Some(Proposal { words, because: proposal.because, command, cautions: Vec::new() })
}

/// What the table proposes for a rail, and the command for it.
fn proposed(
    session: &Session,
    facts: &[RailFacts],
    ranked: &[RankedRail],
    readings: &[Reading],
    rail: &str,
) -> Option<(decision::Proposal, Command)> {
    let case = &session.document.case;
    let doings = || case.interventions.iter();
    let lifted: Vec<String> = doings().filter(|i| i.what == Doing::Lifted).map(|i| i.part.clone()).collect();
    let halves_parted = doings().any(|i| i.what == Doing::Separated);
    let faces = &session.board.faces;
    // Top and bottom of one board are no stack.
    let named_half = |f: &joulemark_locate::board::Face| !["top", "bottom"].contains(&f.name.as_str());
    let stacked = faces.len() > 2 || (faces.len() > 1 && faces.iter().any(named_half));
    let ranked = ranked.iter().find(|r| r.rail == rail)?;
    let rail = facts.iter().find(|f| f.name == rail)?;
    let situation = Situation::new(rail, ranked, readings, &lifted, (stacked, halves_parted));
    let proposal = Books::in_force().next.next(&situation)?;
    let series = rail.series_parts.first().cloned().unwrap_or_default();
    let other_half = || {
        let touched = |face: &str| readings.iter().any(|r| r.rail == rail.name && r.face == face);
        faces.iter().find(|f| !touched(&f.name)).map_or("", |f| f.name.as_str())
    };
    let command = match proposal.next {
        Next::Ohms | Next::CheckProbe => ask(&rail.name, Quantity::Ohms, false, ""),
        Next::Diode => ask(&rail.name, Quantity::DiodeRedOnGround, false, ""),
        Next::MeterLeads => Command::Readings(ReadingsCommand::AskLeads),
        Next::StateUse => Command::SetStage(Stage::Injection),
        Next::GoodBoard => ask(&rail.name, Quantity::Ohms, true, ""),
        Next::SeparateHalves => Command::AskDone(Doing::Separated, String::new()),
        Next::EachHalf => ask(&rail.name, Quantity::Ohms, false, other_half()),
        Next::LiftSeriesPart => Command::AskDone(Doing::Lifted, series),
        Next::Survey => Command::Survey(SurveyCommand::Open),
        Next::Film if case.rail != rail.name => Command::Edit(Edit::Rail(rail.name.clone())),
        Next::Film => Command::SetStage(Stage::Injection),
    };
    Some((proposal, command))
}
