//! The injection as it was done, against the step of the plan that was in force; limits that were loosened, with their
//! reasons; and the cautions.

use joulemark_frames::{CountsLaw, Unit};
use joulemark_locate::{
    limits::{self, Camera, Ceiling, Confirmations, Inputs, Plan, Step},
    next_action::cautions::LIFT,
    watch::{Event, EventKind, Held, Sight, Used, Watched, visible_watts, watch},
};

use super::{Block, Known, Section, Table, columns, takes::Shown, words};
use crate::{
    case::{books::Books, connection::LIMITS, plan::Override, told::Told},
    numbers::{ceiling, significant},
    window::frames_seen::FramesSeen,
};

/// 0 degrees Celsius, by definition (SI Brochure, 9th edition).
const ZERO_CELSIUS_K: f64 = 273.15;

/// `None` where nothing was filmed and nothing was loosened.
pub fn section(known: &Known<'_>) -> Option<Section> {
    let mut blocks = Vec::new();
    for shown in known.takes.all() {
        if known.takes.after.is_some() {
            blocks.push(Block::Sub(format!("{}, {}", shown.entry.name, words::stage(known.case, shown.entry.after))));
        }
        match &shown.told {
            Ok(told) => blocks.extend(take(known, shown, told)),
            Err(why) => blocks.push(Block::Text(format!("This take could not be located: {why}"))),
        }
    }
    blocks.extend(overrides(known));
    blocks.extend(acknowledged(known));
    (!blocks.is_empty()).then(|| Section::new("Injection, as done against its limits", blocks))
}

/// The plan for the case's rail, by what was known at the take's stage: a reading after the repair has no say in the
/// limits before it.
fn plan(known: &Known<'_>, shown: &Shown, told: &Told) -> Plan {
    let (case, until) = (known.case, shown.entry.after);
    let net = case.net_ohms(&case.rail, until);
    let connection = case.connections.iter().rev().find(|c| c.rail == case.rail);
    let seen = |caution: &str| {
        connection.and_then(|c| c.seen(caution, &case.rail, "").filter(|_| caution != LIMITS)).map(|_| true)
    };
    let inputs = Inputs {
        ohms: net.as_ref().map(|n| n.ohms),
        ohms_doubt: net.as_ref().map_or(0.0, |n| (n.high_ohms - n.ohms).max(n.ohms - n.low_ohms)),
        diode_volts: case.diode_volts(&case.rail, until),
        camera: Camera::of(&told.located, &told.loaded.take.timeline),
        measured_kelvin_per_watt: told.located.kelvin_per_watt(),
        relative: told.located.unit == Unit::Relative,
        confirmed: Confirmations {
            // One caution of the book covers both.
            isolated_from_mains: seen("discharged"),
            cells_out: seen("battery"),
            polarity_right: seen("polarity"),
            discharged: seen("discharged"),
        },
        ..case.plan_inputs(&told.loaded.board, &case.rail)
    };
    limits::plan(&inputs, &Books::in_force().limits)
}

fn take(known: &Known<'_>, shown: &Shown, told: &Told) -> Vec<Block> {
    let plan = plan(known, shown, told);
    let used = Used::of(&told.loaded.take.timeline);
    let Some(step) = plan.steps.get(known.case.plan.step.min(plan.steps.len().saturating_sub(1))) else {
        let refusals = plan.refusals.iter().map(|s| words::sentence(&s.words));
        let as_done = format!("As done: {}.", in_words(&used));
        let lines = refusals.chain([as_done]).collect();
        return vec![Block::Box { title: "The plan allows no injection into this rail".into(), lines }];
    };
    let (events, hottest_c) = events(known, told, step);
    let mut blocks = vec![
        Block::Text(format!(
            "Step {} of {} of the plan for {} was in force{}.",
            step.number,
            plan.steps.len(),
            plan.rail,
            if plan.swap_leads { "; negative rail: red to ground, black to the rail" } else { "" }
        )),
        Block::Table(against(step, &used, hottest_c, &events)),
    ];
    if !events.is_empty() {
        let said = |e: &Event| format!("{:.1} s: {}{}", e.time_s, if e.stop { "STOP: " } else { "" }, e.words);
        blocks.push(Block::List(events.iter().map(said).collect()));
    }
    if let Some(lead_ohms) = known.case.lead_ohms {
        let watts = told.located.electrical_watts;
        let watts = watts.map(|w| format!("; {} W at the board while current flowed", significant(w, 2)));
        let watts = watts.unwrap_or_default();
        blocks.push(Block::Note(format!("Supply leads, both together: {lead_ohms} ohms{watts}.")));
    }
    blocks
}

fn in_words(used: &Used) -> String {
    let or = |value: Option<f64>, unit: &str| {
        value.map_or_else(|| format!("{unit} not logged"), |v| format!("{} {unit}", significant(v, 3)))
    };
    format!(
        "at most {} and {}, {} of energy, {} s with current on",
        or(used.volts, "V"),
        or(used.amps, "A"),
        or(used.joules, "J"),
        significant(used.dwell_s, 3)
    )
}

/// Largest values of the log beside the ceilings, each with the rule that binds it.
fn against(step: &Step, used: &Used, hottest_c: Option<f64>, events: &[Event]) -> Table {
    let row = |name: &str, largest: Option<f64>, limit: &Ceiling, unit: &str, over: EventKind| {
        let state = match (events.iter().any(|e| e.kind == over), largest) {
            (true, _) => "ABOVE",
            (false, Some(_)) => "within",
            (false, None) => "unknown",
        };
        vec![
            name.to_owned(),
            largest.map_or_else(|| "not logged".to_owned(), |v| format!("{} {unit}", significant(v, 3))),
            format!("{} {unit}", ceiling(limit.value)),
            state.to_owned(),
            format!("{} (rule {})", words::capital(&limit.because), limit.rule),
        ]
    };
    let mut rows = vec![
        row("Volts at the supply", used.volts, &step.volts, "V", EventKind::OverVolts),
        row("Amps", used.amps, &step.amps, "A", EventKind::OverAmps),
        row("Energy from the supply", used.joules, &step.joules, "J", EventKind::OverEnergy),
        row("Time with current on", Some(used.dwell_s), &step.dwell_s, "s", EventKind::OverTime),
    ];
    if let Some(stop) = &step.stop_c {
        let mut hottest = row("Hottest place, at most", hottest_c, stop, "\u{b0}C", EventKind::TooHot);
        if hottest_c.is_none() {
            hottest[1] = "no zero point".to_owned();
        }
        rows.push(hottest);
    }
    Table {
        columns: columns([
            ("", 1.35),
            ("Largest in the log", -0.95),
            ("Allowed", -0.7),
            ("State", 0.65),
            ("What binds it", 2.6),
        ]),
        rows,
    }
}

/// What the log did against the step, and the hottest place as an upper bound where the take has temperatures with a known
/// zero point.
fn events(known: &Known<'_>, told: &Told, step: &Step) -> (Vec<Event>, Option<f64>) {
    let (case, located) = (known.case, &told.located);
    let take = &told.loaded.take;
    let rules = &Books::in_force().limits;
    let face = told.loaded.board.face(&located.face);
    let parts = face.into_iter().flat_map(|f| &f.parts).filter(|p| p.rails.contains(&case.rail));
    let sight = Sight {
        mm_per_px: Some(located.reach.mm_per_px),
        smallest_mm: parts.map(|p| p.width_mm.min(p.height_mm)).reduce(f64::min),
        netd_k: located.noise.netd,
    };
    let absolute = take.unit == Unit::Kelvin && take.stack.law() == CountsLaw::CENTIKELVIN;
    let before = take.timeline.first_injected().unwrap_or(1);
    let hottest_c = absolute.then(|| {
        let pixels = FramesSeen::of(take).hottest_k.into_iter().map(|k| f64::from(k) - ZERO_CELSIUS_K);
        sight.upper_bounds_c(&pixels.collect::<Vec<_>>(), before)
    });
    let watched = Watched {
        timeline: &take.timeline,
        held: &Held::new(step, rules),
        hottest_c: hottest_c.as_deref(),
        warms: Some(!located.hot_spots.is_empty()),
        visible_watts: visible_watts(step, rules),
        lead_ohms: case.lead_ohms,
    };
    let most = hottest_c.as_ref().and_then(|all| all.iter().copied().filter(|v| v.is_finite()).reduce(f64::max));
    (watch(&watched), most)
}

/// Every limit that was loosened, with the reason as it was typed.
fn overrides(known: &Known<'_>) -> Vec<Block> {
    let case = known.case;
    if case.plan.overrides.is_empty() {
        return Vec::new();
    }
    let rules = &Books::in_force().limits;
    let row = |o: &Override| {
        let changes = case.plan_inputs(known.board, &o.rail).changes;
        let (_, told) = rules.changed(&changes);
        let told = told.into_iter().find(|c| c.id == o.rule && c.reason == o.reason);
        let refused = told.as_ref().and_then(|c| c.refused.clone());
        let rule = rules.rule(&o.rule);
        let unit = rule.map_or("", |r| r.unit.as_str());
        let rule_words = rule.map_or("a rule that this book does not have", |r| r.words.as_str());
        vec![
            o.rail.clone(),
            format!("{} (rule {})", words::capital(rule_words), o.rule),
            rule.map_or_else(String::new, |r| format!("{} {unit}", r.value)),
            match refused {
                Some(why) => format!("{} {unit}; not taken: {why}", o.value),
                None => format!("{} {unit}", o.value),
            },
            o.reason.clone(),
            words::when_and_who(&o.time, &o.by),
        ]
    };
    let table = Table {
        columns: columns([
            ("Rail", 0.6),
            ("Rule", 1.9),
            ("Standard", -0.8),
            ("Instead", -0.9),
            ("Reason, as typed", 2.0),
            ("When and who", 1.3),
        ]),
        rows: case.plan.overrides.iter().map(row).collect(),
    };
    vec![Block::Sub("Limits that were loosened".into()), Block::Table(table)]
}

/// What was seen to at each connection of the supply.
fn acknowledged(known: &Known<'_>) -> Vec<Block> {
    let rules = &Books::in_force().limits;
    let mut rows = Vec::new();
    for (i, connection) in known.case.connections.iter().enumerate() {
        for a in &connection.acknowledged {
            let caution = rules.cautions.iter().find(|c| c.id == a.caution);
            let said = caution.map_or(a.caution.as_str(), |c| c.words.as_str());
            let limits = if a.limits.is_empty() { String::new() } else { format!(" ({})", a.limits) };
            let row = vec![
                format!("{}: {}", i + 1, connection.rail),
                format!("{said}{limits}"),
                words::when_and_who(&a.time, &a.by),
            ];
            rows.push(row);
        }
    }
    if rows.is_empty() {
        return Vec::new();
    }
    let columns = columns([("Connection", 0.8), ("Seen to", 3.6), ("When and who", 1.5)]);
    vec![Block::Sub("Acknowledged at the supply".into()), Block::Table(Table { columns, rows })]
}

/// The usual cautions, local rules and licensed practice first.
pub fn cautions() -> Section {
    // The book's own line about local rules speaks of a card; the first paragraph says it for this report.
    let book = &Books::in_force().limits.cautions;
    let mut lines: Vec<String> = book.iter().filter(|c| c.id != "local_rules").map(|c| c.words.clone()).collect();
    lines.extend(LIFT.iter().map(|&l| l.to_owned()));
    let intro =
        "Local rules and licensed practice come before anything on these pages. For whoever works on this device next:";
    Section::new("Cautions", vec![Block::Text(intro.into()), Block::List(lines)])
}
