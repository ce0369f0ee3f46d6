//! An answer in words, for people. Relative takes never show kelvin.

use std::fmt::Write;

use joulemark_frames::{Timeline, Unit};
use joulemark_locate::{HotSpot, Located, SpotAnswer, TimeConstant, board::Board};

use crate::case::load::Loaded;

/// A suspect below this share is not worth a line.
const LEAST_SHOWN: f64 = 0.005;
/// From here on the first suspect is named without reserve.
const SURE: f64 = 0.8;

/// The whole answer: take, hot spots, suspects, what to do next, and a caution.
pub(super) fn describe(loaded: &Loaded, located: &Located) -> String {
    let mut text = take_lines(loaded, located);
    if located.hot_spots.is_empty() {
        text += "\nNothing above the noise.\n";
    } else {
        text += &spot_table(located);
        for (index, answer) in located.answers.iter().enumerate() {
            text += &suspect_lines(index, answer, &loaded.board);
        }
    }
    if let Some(advice) = &located.reach.advice {
        text += &format!("\nReach: {advice}\n");
    }
    text += &format!("\nNext: {}\n", next_step(loaded, located));
    text += CAUTION;
    text
}

const CAUTION: &str = "Caution: supply off, leads, battery and every other source away, capacitors discharged, board cool \
                       before a part is lifted; local rules and licensed practice come first.\n";

fn take_lines(loaded: &Loaded, located: &Located) -> String {
    let noise = located.noise;
    let mut text = format!(
        "{} {}: {} frames before injection and {} during it{}; noise {} a pixel and frame\n",
        if loaded.simulated { "Simulated take" } else { "Take" },
        located.take,
        noise.frames_before,
        noise.frames_during,
        rate(&loaded.take.timeline),
        amount(noise.netd, located.unit)
    );
    let _ = write!(text, "Rail {} on {}, face {}", loaded.rail, loaded.board.name, located.face);
    if let Some(watts) = located.electrical_watts {
        let _ = write!(text, "; {watts:.2} W at the board");
    }
    let _ = writeln!(text, "; {:.2} mm a pixel", located.reach.mm_per_px);
    text
}

fn rate(timeline: &Timeline) -> String {
    let (Some(first), Some(last)) = (timeline.time_s.first(), timeline.time_s.last()) else { return String::new() };
    if last > first { format!(", {:.3} a second", (timeline.len() - 1) as f64 / (last - first)) } else { String::new() }
}

fn amount(value: f64, unit: Unit) -> String {
    match unit {
        Unit::Kelvin => format!("{value:.3} K"),
        Unit::Relative => format!("{value:.3} (relative, no temperature)"),
    }
}

fn spot_table(located: &Located) -> String {
    let rise_head = match located.unit {
        Unit::Kelvin => "rise, K",
        Unit::Relative => "rise, relative",
    };
    let head = ["", "x, mm", "y, mm", "column, px", "row, px", rise_head, "warms from, s", "time constant, s", "q"];
    let rows: Vec<[String; 9]> = located.hot_spots.iter().enumerate().map(|(i, spot)| spot_row(i, spot)).collect();
    let mut width = head.map(|h| h.chars().count());
    for row in &rows {
        for (w, cell) in width.iter_mut().zip(row) {
            *w = (*w).max(cell.chars().count());
        }
    }
    let line = |cells: &[String; 9]| {
        let padded: Vec<String> = cells.iter().zip(width).map(|(cell, w)| format!("{cell:<w$}")).collect();
        format!("{}\n", padded.join("  ").trim_end())
    };
    let mut text = "\nHot spots, most certain first (± is one standard error)\n".to_owned();
    text += &line(&head.map(str::to_owned));
    for row in &rows {
        text += &line(row);
    }
    text
}

fn spot_row(index: usize, spot: &HotSpot) -> [String; 9] {
    let sigma = |variance: f64| variance.max(0.0).sqrt();
    [
        (index + 1).to_string(),
        format!("{:.2} ±{:.2}", spot.centre_mm.x, sigma(spot.covariance_mm2[(0, 0)])),
        format!("{:.2} ±{:.2}", spot.centre_mm.y, sigma(spot.covariance_mm2[(1, 1)])),
        format!("{:.1} ±{:.1}", spot.centre_px.x, sigma(spot.covariance_px2[(0, 0)])),
        format!("{:.1} ±{:.1}", spot.centre_px.y, sigma(spot.covariance_px2[(1, 1)])),
        format!("{:.3} ±{:.3}", spot.rise.end, spot.rise.end_se),
        format!("{:.1} ±{:.1}", spot.rise.onset_s, spot.rise.onset_se_s),
        match spot.rise.time_constant {
            TimeConstant::Known { tau_s, tau_se_s, .. } => format!("{tau_s:.1} ±{tau_se_s:.1}"),
            TimeConstant::AtLeast { tau_s } => format!("at least {tau_s:.0}"),
            TimeConstant::AtMost { tau_s } => format!("at most {tau_s:.1}"),
        },
        if spot.q_value < 1e-3 { "< 0.001".to_owned() } else { format!("{:.3}", spot.q_value) },
    ]
}

fn suspect_lines(index: usize, answer: &SpotAnswer, board: &Board) -> String {
    let mut text = format!("\nSuspects for hot spot {}\n", index + 1);
    let shown = answer.suspects.iter().enumerate().filter(|(i, s)| *i == 0 || s.probability >= LEAST_SHOWN);
    for (_, suspect) in shown {
        let kind = board.part(&suspect.part).map_or("part", |(_, p)| p.kind.words());
        let _ =
            writeln!(text, "  {:>5}  {}, {kind} on face {}", percent(suspect.probability), suspect.part, suspect.face);
        for reason in &suspect.because {
            let _ = writeln!(text, "         {reason}");
        }
    }
    let _ = writeln!(text, "  {:>5}  something not on the drawing", percent(answer.off_drawing_probability));
    let _ = writeln!(text, "  {:>5}  not the short at all", percent(answer.nothing_probability));
    if let Some(order) = lift_order(answer) {
        let _ = writeln!(text, "  Lift in this order, measuring the rail after each: {}", order.join(", "));
    }
    text
}

/// The group of the first suspect, itself first; `None` when it stands alone.
fn lift_order(answer: &SpotAnswer) -> Option<Vec<&str>> {
    let first = answer.suspects.first()?;
    (!first.group.is_empty())
        .then(|| std::iter::once(first.part.as_str()).chain(first.group.iter().map(String::as_str)).collect())
}

/// Never a bare 0 % or 100 %: neither is ever known.
fn percent(probability: f64) -> String {
    let p = 100.0 * probability;
    if p < 1.0 {
        "< 1 %".to_owned()
    } else if p > 99.0 {
        "> 99 %".to_owned()
    } else {
        format!("{p:.0} %")
    }
}

fn next_step(loaded: &Loaded, located: &Located) -> String {
    let Some(answer) = located.answers.first() else {
        return "film again from closer and for longer, with the shiny parts coated; more current only within the \
                rail's limits."
            .to_owned();
    };
    let rail = &loaded.rail;
    let Some(first) = answer.suspects.first() else {
        return off_drawing_step();
    };
    if answer.nothing_probability > first.probability.max(answer.off_drawing_probability) {
        return format!(
            "this spot is more likely not the short; film again without hands, warm tools or reflections over {}.",
            located.face
        );
    }
    if answer.off_drawing_probability > first.probability {
        return off_drawing_step();
    }
    if let Some(order) = lift_order(answer) {
        return format!(
            "film closer to part them, or lift {} in this order and measure {rail} against ground after each.",
            order.join(", ")
        );
    }
    if first.probability >= SURE {
        format!("lift {} and measure {rail} against ground again.", first.part)
    } else {
        format!(
            "look at {} closely and film once more from closer before anything is lifted; {} is only {} certain.",
            first.part,
            first.part,
            percent(first.probability)
        )
    }
}

fn off_drawing_step() -> String {
    "look under the first hot spot for what the drawing lacks: a bridge of solder, a damaged via, an inner layer, a part \
     that was never drawn."
        .to_owned()
}
