//! An answer in words, for people. Relative takes never show kelvin.

use std::fmt::Write;

use joulemark_frames::{Timeline, Unit};
use joulemark_locate::{HotSpot, Located, SpotAnswer, board::Board};

use crate::{
    answer_words,
    case::load::Loaded,
    numbers::{percent, significant, with_error},
};

/// From here on the first suspect is named without reserve.
const SURE: f64 = 0.8;

/// The whole answer: take, hot spots, suspects, what to do next, and a caution.
pub(super) fn describe(loaded: &Loaded, located: &Located) -> String {
    let mut text = take_lines(loaded, located);
    if located.hot_spots.is_empty() {
        text += "\nNothing above the noise.\n";
    } else {
        text += &spot_table(located);
        text += &pulse_lines(located);
        if let Some((leading, answer)) = located.leading() {
            text += &suspect_lines(leading, answer, &loaded.board);
            text += &further_spots(located, leading);
        }
        text += &ledger_lines(located);
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
    if let Some(amps) = loaded.take.timeline.mean_amps() {
        let _ = write!(text, "; {} A from the supply", significant(amps, 3));
    }
    if let Some(watts) = located.electrical_watts {
        let _ = write!(text, ", {} W at the board", significant(watts, 2));
    }
    let _ = writeln!(text, "; {} mm a pixel", significant(located.reach.mm_per_px, 2));
    text
}

fn rate(timeline: &Timeline) -> String {
    let (Some(first), Some(last)) = (timeline.time_s.first(), timeline.time_s.last()) else { return String::new() };
    if last > first {
        format!(", {} a second", significant((timeline.len() - 1) as f64 / (last - first), 3))
    } else {
        String::new()
    }
}

fn amount(value: f64, unit: Unit) -> String {
    match unit {
        Unit::Kelvin => format!("{} K", significant(value, 2)),
        Unit::Relative => format!("{} (relative, no temperature)", significant(value, 2)),
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
        with_error(spot.centre_mm.x, sigma(spot.covariance_mm2[(0, 0)])),
        with_error(spot.centre_mm.y, sigma(spot.covariance_mm2[(1, 1)])),
        with_error(spot.centre_px.x, sigma(spot.covariance_px2[(0, 0)])),
        with_error(spot.centre_px.y, sigma(spot.covariance_px2[(1, 1)])),
        with_error(spot.rise.end, spot.rise.end_se),
        with_error(spot.rise.onset_s, spot.rise.onset_se_s),
        answer_words::time_constant(spot.rise.time_constant),
        answer_words::q_value(spot.q_value),
    ]
}

/// The first hot spot's suspects with their reasons.
fn suspect_lines(leading: usize, answer: &SpotAnswer, board: &Board) -> String {
    let mut text = format!("\nSuspects for hot spot {}{}\n", leading + 1, answer_words::role(answer.role));
    let shown =
        answer.suspects.iter().enumerate().filter(|(i, s)| *i == 0 || s.probability >= answer_words::LEAST_SHOWN);
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
    if let Some(order) = answer_words::lift_order(answer) {
        let _ = writeln!(text, "  Lift in this order, measuring the rail after each: {}", order.join(", "));
    }
    text
}

/// One line for each further hot spot.
fn further_spots(located: &Located, leading: usize) -> String {
    let lines: String = answer_words::further_spots(located, leading).into_iter().map(|l| l + "\n").collect();
    if lines.is_empty() { lines } else { format!("\n{lines}") }
}

/// How the spots follow the pulses, where the injection was pulsed.
fn pulse_lines(located: &Located) -> String {
    let mut text = String::new();
    for (index, spot) in located.hot_spots.iter().enumerate() {
        let Some(pulse) = spot.pulse else { continue };
        let _ = writeln!(
            text,
            "Hot spot {} follows the pulses of {} s with an amplitude of {} and a lag of {} degrees (harmonics fitted: {})",
            index + 1,
            significant(pulse.period_s, 4),
            with_error(pulse.amplitude, pulse.amplitude_se),
            with_error(pulse.lag_deg, pulse.lag_se_deg),
            pulse.harmonics
        );
    }
    text
}

/// Watts per part against those at the board.
fn ledger_lines(located: &Located) -> String {
    let Some(ledger) = &located.ledger else { return String::new() };
    let mut text = "\nHeat ledger (± is one standard error, the board's unknown constants included)\n".to_owned();
    for entry in &ledger.entries {
        let share = entry.share.map(|s| format!(", {} of the power at the board", percent(s))).unwrap_or_default();
        let _ = writeln!(text, "  {}  {} W{share}", entry.part, with_error(entry.watts, entry.watts_se));
    }
    if ledger.elsewhere_watts > 0.0 {
        let _ = writeln!(text, "  on no part of the drawing  {} W", significant(ledger.elsewhere_watts, 2));
    }
    if ledger.path_watts > 0.0 {
        let _ = writeln!(text, "  in the feeding track  {} W", significant(ledger.path_watts, 2));
    }
    text
}

fn next_step(loaded: &Loaded, located: &Located) -> String {
    let Some((_, answer)) = located.leading() else {
        return "see that current really flows and measure the rail again; then film from closer and for longer, shiny \
                parts coated, with more current only within the rail's limits."
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
    if let Some(order) = answer_words::lift_order(answer) {
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
