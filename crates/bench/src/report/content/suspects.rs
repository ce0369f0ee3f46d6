//! Who is suspected and why; where the heat is made.

use joulemark_locate::{HeatLedger, Located, SpotAnswer, board::Board};

use super::{Block, Known, Section, Table, columns, words};
use crate::{
    answer_words::{self, LEAST_SHOWN},
    case::told::Told,
    numbers::{percent, significant, with_error},
    report::drawing::{Anchor, BLACK, Drawing, HAIRLINE, WEAK},
};

/// More bars say nothing.
const MOST_BARS: usize = 12;
const WIDTH: f32 = 480.0;

/// `None` where nothing was filmed.
pub fn section(known: &Known<'_>) -> Option<Section> {
    let told = known.takes.first.as_ref()?.found()?;
    let located = &told.located;
    let heading = if known.takes.after.is_some() { "Suspects before the repair" } else { "Suspects" };
    let Some((leading, answer)) = located.leading() else {
        let text = "Nothing warmed above the noise, so nobody is suspected.";
        return Some(Section::new(heading, vec![Block::Text(text.into())]));
    };
    let rail = &known.case.rail;
    let intro = format!(
        "Probabilities for hot spot {}{}, from its place, its heat and its course in time; together 100 %. They are no \
         proof: the proof is a measurement of {rail} after the part was lifted.",
        leading + 1,
        answer_words::role(answer.role)
    );
    let mut blocks = vec![Block::Text(intro), bars(answer), Block::Table(reasons(answer, &told.loaded.board))];
    if let Some(order) = answer_words::lift_order(answer) {
        blocks.push(Block::Text(format!(
            "This picture cannot tell these apart: lift in this order, measuring the rail after each: {}.",
            order.join(", ")
        )));
    }
    let further = answer_words::further_spots(located, leading);
    if !further.is_empty() {
        blocks.push(Block::List(further));
    }
    blocks.push(Block::Table(spots(located)));
    blocks.extend(advice(told));
    Some(Section::new(heading, blocks))
}

/// Names and shares of who is worth a line.
fn shares(answer: &SpotAnswer) -> Vec<(String, f64)> {
    let worth = |(i, s): &(usize, &joulemark_locate::Suspect)| *i == 0 || s.probability >= LEAST_SHOWN;
    let suspects = answer.suspects.iter().enumerate().filter(worth).take(MOST_BARS);
    let mut all: Vec<(String, f64)> = suspects.map(|(_, s)| (s.part.clone(), s.probability)).collect();
    all.push(("something not on the drawing".into(), answer.off_drawing_probability));
    all.push(("not the short at all".into(), answer.nothing_probability));
    all
}

fn bars(answer: &SpotAnswer) -> Block {
    const ROW: f32 = 15.0;
    const LEFT: f32 = 150.0;
    const LONG: f32 = 280.0;
    let shares = shares(answer);
    let said = shares.iter().map(|(who, p)| format!("{who} {}", percent(*p))).collect::<Vec<_>>().join(", ");
    let mut drawing = Drawing::new(WIDTH, ROW * shares.len() as f32 + 4.0, format!("Bars of probability: {said}"));
    for (i, (who, share)) in shares.iter().enumerate() {
        let y = i as f32 * ROW;
        drawing.words(who.clone(), [LEFT - 8.0, y + 10.5], 8.8, Anchor::End);
        drawing.fill([LEFT, y + 2.5, LONG * *share as f32, 9.5], WEAK);
        drawing.frame([LEFT, y + 2.5, LONG, 9.5], 0.5, HAIRLINE);
        drawing.words(percent(*share), [LEFT + LONG + 8.0, y + 10.5], 8.8, Anchor::Start);
    }
    drawing.line(&[[LEFT, 0.0], [LEFT, ROW * shares.len() as f32]], 0.8, BLACK);
    Block::Drawing { drawing, caption: "Probability of each, out of 100 %.".into() }
}

fn reasons(answer: &SpotAnswer, board: &Board) -> Table {
    let worth = |(i, s): &(usize, &joulemark_locate::Suspect)| *i == 0 || s.probability >= LEAST_SHOWN;
    let row = |(_, s): (usize, &joulemark_locate::Suspect)| {
        let kind = board.part(&s.part).map_or("part", |(_, p)| p.kind.words());
        let because: Vec<String> = s.because.iter().map(|b| words::sentence(b)).collect();
        vec![percent(s.probability), s.part.clone(), format!("{kind}, face {}", s.face), because.join(" ")]
    };
    Table {
        columns: columns([("Probability", -0.75), ("Part", 0.5), ("What", 1.0), ("Why", 4.0)]),
        rows: answer.suspects.iter().enumerate().filter(worth).map(row).collect(),
    }
}

/// Every hot spot with its numbers.
fn spots(located: &Located) -> Table {
    let rise = format!("Rise, {}", words::unit(located.unit));
    let row = |(i, s): (usize, &joulemark_locate::HotSpot)| {
        let sigma = |variance: f64| variance.max(0.0).sqrt();
        vec![
            (i + 1).to_string(),
            with_error(s.centre_mm.x, sigma(s.covariance_mm2[(0, 0)])),
            with_error(s.centre_mm.y, sigma(s.covariance_mm2[(1, 1)])),
            with_error(s.rise.end, s.rise.end_se),
            answer_words::time_constant(s.rise.time_constant),
            answer_words::q_value(s.q_value),
        ]
    };
    Table {
        columns: columns([
            ("Hot spot", 0.6),
            ("x, mm", -1.0),
            ("y, mm", -1.0),
            (&rise, -1.0),
            ("Time constant, s", -1.2),
            ("False alarm", -0.8),
        ]),
        rows: located.hot_spots.iter().enumerate().map(row).collect(),
    }
}

/// What to bear in mind about the picture.
fn advice(told: &Told) -> Vec<Block> {
    let mut all: Vec<String> = told.located.reach.advice.iter().map(|a| words::sentence(a)).collect();
    let warnings = crate::case::told::warnings(&told.loaded, &told.located);
    all.extend(warnings.iter().map(|w| words::sentence(w)));
    all.extend(told.located.repairs.iter().map(|r| format!("Repaired in the recording: {}", words::sentence(&r.did))));
    if all.is_empty() { Vec::new() } else { vec![Block::Sub("To bear in mind".into()), Block::List(all)] }
}

/// Watts per part; `None` where there is no ledger.
pub fn ledger(known: &Known<'_>) -> Option<Section> {
    let told = known.takes.first.as_ref()?.found()?;
    let ledger: &HeatLedger = told.located.ledger.as_ref()?;
    let share = |s: Option<f64>| s.map(percent).unwrap_or_default();
    let mut rows: Vec<Vec<String>> = ledger
        .entries
        .iter()
        .map(|e| vec![e.part.clone(), e.face.clone(), with_error(e.watts, e.watts_se), share(e.share)])
        .collect();
    for (name, watts) in
        [("on no part of the drawing", ledger.elsewhere_watts), ("in the feeding track", ledger.path_watts)]
    {
        if watts > 0.0 {
            rows.push(vec![name.to_owned(), String::new(), significant(watts, 2), String::new()]);
        }
    }
    let mut blocks = vec![Block::Table(Table {
        columns: columns([("Where", 1.6), ("Face", 0.8), ("Heat, W", -1.0), ("Share of the power at the board", -1.6)]),
        rows,
    })];
    let electrical = told.located.electrical_watts.map(|w| format!("Power at the board: {} W. ", significant(w, 2)));
    let note = "\u{b1} is one standard error, the board's unknown constants included.";
    blocks.push(Block::Note(format!("{}{note}", electrical.unwrap_or_default())));
    if !ledger.hints.is_empty() {
        blocks.push(Block::List(ledger.hints.iter().map(|h| words::sentence(h)).collect()));
    }
    Some(Section::new("Heat ledger", blocks))
}
