//! Points for answers: rail 20, plan 20, place 40, part 10, looks 10. Pure; docs/exercise.md has the rules and an example
//! worked by hand.

use serde::Serialize;

use super::answer::{Answer, Most, RailLimits, StepLimits};
use crate::case::exercise::{Answers, RailAnswer};

/// Points for the rail.
pub const RAIL: u32 = 20;
/// Points for a plan within the limits of the first step.
pub const PLAN: u32 = 20;
/// Points for a plan that only a later step allows.
pub const PLAN_LATER: u32 = 10;
/// Points for a place on the true part.
pub const PLACE: u32 = 40;
/// At this distance from the part's edge none of them are left.
pub const PLACE_NOTHING_MM: f64 = 10.0;
/// Points for the part's name.
pub const PART: u32 = 10;
/// Points for few looks.
pub const LOOKS: u32 = 10;
/// So many looks cost nothing.
pub const FREE_LOOKS: u32 = 3;
/// What is typed in decimals meets a limit that was computed.
const ROUNDING: f64 = 1.0 + 1e-9;

/// One line of a score.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Item {
    /// What is scored.
    pub what: &'static str,
    /// Points.
    pub points: u32,
    /// Of how many.
    pub of: u32,
    /// Why, sentences for the student.
    pub because: String,
}

/// A score, and what it stands on.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Score {
    /// Line by line.
    pub items: Vec<Item>,
    /// Points in all, out of 100.
    pub points: u32,
    /// Whether the rail is right.
    pub right_rail: bool,
    /// Whether the plan keeps within the limits of any step.
    pub within_limits: bool,
    /// From the place to the edge of the true part, in millimetres; `None` without a place on its face.
    pub distance_mm: Option<f64>,
    /// Whether the part is right; `None` where none was named.
    pub right_part: Option<bool>,
}

/// Scores answers that were given after so many looks.
pub fn score(answers: &Answers, looks: u32, answer: &Answer) -> Score {
    let (rail, right_rail) = rail(answers, answer);
    let (plan, within_limits) = plan(answers, answer);
    let (place, distance_mm) = place(answers, answer);
    let (part, right_part) = part(answers, answer);
    let looks = self::looks(looks, place.points);
    let items = vec![rail, plan, place, part, looks];
    let points = items.iter().map(|item| item.points).sum();
    Score { items, points, right_rail, within_limits, distance_mm, right_part }
}

fn item(what: &'static str, points: u32, of: u32, because: impl Into<String>) -> Item {
    Item { what, points, of, because: because.into() }
}

fn rail(answers: &Answers, answer: &Answer) -> (Item, bool) {
    let names = answer.rails.join(" and ");
    let joined = if answer.rails.len() > 1 { ", which are joined at DC" } else { "" };
    let (right, because) = match (&answers.rail, answer.healthy()) {
        (RailAnswer::NothingWrong, true) => (true, "Right: nothing is wrong with this board.".to_owned()),
        (_, true) => (false, "Nothing is wrong with this board: no rail is faulty.".to_owned()),
        (RailAnswer::Rail(rail), false) if answer.rails.contains(rail) => match answer.rails.len() {
            1 => (true, format!("{rail} is the faulty rail.")),
            _ => (true, format!("The fault is on {names}{joined}: either counts.")),
        },
        (RailAnswer::Rail(rail), false) => (false, format!("You chose {rail}; the fault is on {names}{joined}.")),
        (RailAnswer::NothingWrong, false) => (false, format!("There is a fault: it is on {names}{joined}.")),
        (RailAnswer::Open, false) => (false, format!("No rail was chosen; the fault is on {names}{joined}.")),
    };
    (item("Rail", if right { RAIL } else { 0 }, RAIL, because), right)
}

fn plan(answers: &Answers, answer: &Answer) -> (Item, bool) {
    let result = |points, because: String| (item("Plan", points, PLAN, because), points > 0);
    let rail = match &answers.rail {
        RailAnswer::Rail(rail) => rail,
        RailAnswer::NothingWrong if answer.healthy() => {
            return result(PLAN, "Nothing needs to be injected into a healthy board.".to_owned());
        }
        _ => return result(0, "A faulty rail needs a plan, and none was made.".to_owned()),
    };
    let Some(limits) = answer.limits_of(rail) else {
        return result(0, format!("{rail} is not on the drawing: there are no limits for it."));
    };
    if limits.steps.is_empty() {
        return result(0, format!("Nothing may be injected into {rail}: {}.", limits.refused));
    }
    let given = [("volts", answers.volts, "V"), ("amps", answers.amps, "A"), ("seconds", answers.seconds, "s")];
    let usable = |v: Option<f64>| v.filter(|v| v.is_finite() && *v != 0.0).map(f64::abs);
    if let Some((what, ..)) = given.iter().find(|(_, value, _)| usable(*value).is_none()) {
        return result(0, format!("No usable {what} were given."));
    }
    let asked = given.map(|(_, value, unit)| (usable(value).unwrap_or_default(), unit));
    match limits.steps.iter().position(|step| above(step, asked).is_empty()) {
        Some(0) => {
            result(PLAN, format!("Within step 1 of {rail}: {}. Less would have been right too.", most(limits, 0)))
        }
        Some(step) => result(
            PLAN_LATER,
            format!(
                "Only step {} of {rail} allows this; begin with step 1, {}. {}",
                step + 1,
                most(limits, 0),
                above(&limits.steps[0], asked).join(" ")
            ),
        ),
        None => {
            let last = limits.steps.len() - 1;
            let why = above(&limits.steps[last], asked).join(" ");
            result(0, format!("Above the limits of {rail}. {why} The most at step 1 is {}.", most(limits, 0)))
        }
    }
}

/// Which of volts, amps and seconds are above a step, a sentence each with the reason.
fn above(step: &StepLimits, asked: [(f64, &str); 3]) -> Vec<String> {
    let too_much = |((value, unit), most): (&(f64, &str), &Most)| {
        (*value > most.value * ROUNDING).then(|| {
            format!("{value} {unit} is above {} {unit}: {}.", short(most.value), most.because.trim_end_matches('.'))
        })
    };
    asked.iter().zip([&step.volts, &step.amps, &step.seconds]).filter_map(too_much).collect()
}

fn most(limits: &RailLimits, step: usize) -> String {
    let step = &limits.steps[step];
    format!("{} V, {} A, {} s", short(step.volts.value), short(step.amps.value), short(step.seconds.value))
}

/// A ceiling is cut off, never rounded up.
fn short(value: f64) -> String {
    let cut = (value * 1e3 + 1e-9).floor() / 1e3;
    cut.to_string()
}

fn place(answers: &Answers, answer: &Answer) -> (Item, Option<f64>) {
    let none = |because: String| (item("Place", 0, PLACE, because), None);
    if answer.healthy() {
        return match (&answers.rail, &answers.place) {
            (RailAnswer::NothingWrong, _) => {
                (item("Place", PLACE, PLACE, "There is no fault to be found, and you said so."), None)
            }
            _ => none("There is no fault to be found on this board.".to_owned()),
        };
    }
    let Some(place) = answers.place.as_ref().filter(|_| answers.rail != RailAnswer::NothingWrong) else {
        return none(format!("No place was given; it is {}.", answer.parts_in_words()));
    };
    if !(place.x_mm.is_finite() && place.y_mm.is_finite()) {
        return none(format!("No usable place was given; it is {}.", answer.parts_in_words()));
    }
    let here = answer.parts.iter().filter(|p| p.face == place.face);
    let nearest = here.map(|p| (p.distance_mm(place.x_mm, place.y_mm), p)).min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((distance_mm, part)) = nearest else {
        let faces: Vec<&str> = answer.parts.iter().map(|p| p.face.as_str()).collect();
        return none(format!("The fault is on face {}, not on {}.", faces.join(" and "), place.face));
    };
    let share = (1.0 - distance_mm / PLACE_NOTHING_MM).max(0.0);
    let points = (f64::from(PLACE) * share).round() as u32;
    let because = if distance_mm == 0.0 {
        format!("On {}.", part.designator)
    } else if points == 0 {
        format!(
            "{distance_mm:.1} mm from the edge of {}: nothing is left from {PLACE_NOTHING_MM} mm on.",
            part.designator
        )
    } else {
        format!(
            "{distance_mm:.1} mm from the edge of {}: {} points less for each millimetre.",
            part.designator,
            f64::from(PLACE) / PLACE_NOTHING_MM
        )
    };
    (item("Place", points, PLACE, because), Some(distance_mm))
}

fn part(answers: &Answers, answer: &Answer) -> (Item, Option<bool>) {
    let nothing_wrong = answers.rail == RailAnswer::NothingWrong;
    let named = answers.part.trim();
    let (points, because, right) = match () {
        () if answer.healthy() && nothing_wrong => (PART, "No part is at fault, and you named none.".to_owned(), None),
        () if answer.healthy() && named.is_empty() => (0, "No part is at fault.".to_owned(), None),
        () if answer.healthy() => (0, format!("You named {named}; no part is at fault."), Some(false)),
        () if named.is_empty() || nothing_wrong => {
            (0, format!("You named none; it is {}.", answer.parts_in_words()), None)
        }
        () if answer.parts.iter().any(|p| p.designator.eq_ignore_ascii_case(named)) => {
            (PART, format!("{named} is right."), Some(true))
        }
        () => (0, format!("You named {named}; it is {}.", answer.parts_in_words()), Some(false)),
    };
    (item("Part", points, PART, because), right)
}

fn looks(looks: u32, place_points: u32) -> Item {
    let used = if looks == 1 { "1 look used".to_owned() } else { format!("{looks} looks used") };
    if place_points == 0 {
        return item("Looks", 0, LOOKS, format!("{used}; few looks count only where the place earned points."));
    }
    let further = looks.saturating_sub(FREE_LOOKS);
    let because = if further == 0 {
        format!("{used}; up to {FREE_LOOKS} cost nothing.")
    } else {
        format!("{used}: one point less for each beyond {FREE_LOOKS}.")
    };
    item("Looks", LOOKS.saturating_sub(further), LOOKS, because)
}

#[cfg(test)]
mod tests;
