//! What is known when the next action is asked for.

use serde::{Deserialize, Serialize};

use crate::readings::{RankedRail, decision::Proposal};

/// A thing that hands do to a board.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Doing {
    /// Taken off, or one end of it.
    #[default]
    Lifted,
    /// Another one put in.
    Replaced,
    /// Cleaned.
    Cleaned,
    /// Dried.
    Dried,
    /// Coated matt.
    Coated,
    /// The halves of a stack taken apart.
    Separated,
}

impl Doing {
    /// All, in the order of the chooser.
    pub const ALL: [Self; 6] =
        [Self::Lifted, Self::Replaced, Self::Cleaned, Self::Dried, Self::Coated, Self::Separated];

    /// As something done: "lifted".
    pub fn done(self) -> &'static str {
        match self {
            Self::Lifted => "lifted",
            Self::Replaced => "replaced",
            Self::Cleaned => "cleaned",
            Self::Dried => "dried",
            Self::Coated => "coated",
            Self::Separated => "separated",
        }
    }

    /// As something to do: "Lift".
    pub fn to_do(self) -> &'static str {
        match self {
            Self::Lifted => "Lift",
            Self::Replaced => "Replace",
            Self::Cleaned => "Clean",
            Self::Dried => "Dry",
            Self::Coated => "Coat",
            Self::Separated => "Separate the halves",
        }
    }

    /// Whether the board's readings may differ afterwards.
    pub fn changes_readings(self) -> bool {
        self != Self::Coated
    }
}

/// One thing that was done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Deed {
    /// Counted from 1 within the case.
    pub number: u32,
    /// What.
    pub what: Doing,
    /// To which part; empty for the whole board.
    #[serde(default)]
    pub part: String,
}

/// How far the plan is.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Plan {
    /// Not worked out.
    #[default]
    None,
    /// Injection is refused.
    Refused {
        /// Why.
        reason: String,
    },
    /// A ladder of steps.
    Ready {
        /// How many.
        steps: usize,
        /// The step from which on more adds risk, not information, counted from 0; `None` when unknown.
        enough_at: Option<usize>,
    },
}

/// The latest take of the rail.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Filmed {
    /// After which deed it was taken; 0 as the device came in.
    pub after: u32,
    /// Face in the picture.
    pub face: String,
    /// Whether enough was filmed before the injection.
    pub before_enough: bool,
    /// The step that was injected, counted from 0.
    pub step: Option<usize>,
    /// What locating found, once it ran.
    pub found: Option<Found>,
}

/// What locating found, in short. See [`Found::of`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// The hot spot to act on; `None` when nothing warms.
    pub lead: Option<Lead>,
    /// Probability that nothing on the picture is the short.
    pub nothing_probability: f64,
    /// Share of the watts at the board that the picture explains, and its standard error.
    pub explained: Option<(f64, f64)>,
    /// Whether the take carries no temperatures.
    pub relative: bool,
    /// What to do about a picture that is too coarse.
    pub too_coarse: Option<String>,
    /// Warnings of locating.
    pub warnings: Vec<String>,
}

/// The hot spot to act on.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lead {
    /// The most probable part; empty when it is something off the drawing.
    pub part: String,
    /// Its probability.
    pub probability: f64,
    /// Parts that the picture does not tell it from, in the order in which to lift them.
    pub group: Vec<String>,
    /// Whether the spot is only the probe's contact.
    pub at_probe: bool,
    /// Probability that it is not the short at all.
    pub nothing_probability: f64,
}

/// What was tried beside injecting and filming.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tried {
    /// Looked over, cleaned and dried.
    pub looked: bool,
    /// A millivolt survey.
    pub survey: bool,
    /// Alcohol or frost.
    pub alcohol_or_frost: bool,
    /// Closer with the camera.
    pub closer: bool,
    /// The repair check was recorded.
    pub repair_check: bool,
    /// The user said that nominal volts cannot be known.
    pub nominal_unknowable: bool,
}

/// All that is known of the rail in hand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct State {
    /// The rail.
    pub rail: String,
    /// All rails as ranked, this one among them.
    pub ranked: Vec<RankedRail>,
    /// After which deed the rail's latest readings were taken; `None` without any.
    pub read_after: Option<u32>,
    /// What the table of measurements proposes for it.
    pub proposal: Option<Proposal>,
    /// Whether nominal or lowest working volts are known.
    pub volts_known: bool,
    /// The plan.
    pub plan: Plan,
    /// Whether the cautions were acknowledged for this connection.
    pub cautions_read: bool,
    /// The latest take of the rail; `None` without any.
    pub filmed: Option<Filmed>,
    /// Faces that a take of this stage shows.
    pub faces_filmed: Vec<String>,
    /// All faces.
    pub faces: Vec<String>,
    /// Shiny parts near or on the rail, which the camera under-reads.
    pub shiny_parts: Vec<String>,
    /// What was done, in order.
    pub deeds: Vec<Deed>,
    /// What was tried.
    pub tried: Tried,
}

impl State {
    /// The rail's place in the ranking.
    pub(super) fn this_rail(&self) -> Option<&RankedRail> {
        self.ranked.iter().find(|r| r.rail == self.rail)
    }

    /// The latest deed that may have changed readings.
    pub(super) fn last_change(&self) -> Option<&Deed> {
        self.deeds.iter().filter(|d| d.what.changes_readings()).max_by_key(|d| d.number)
    }

    /// The part that was lifted last and has no new one since.
    pub(super) fn lifted_and_open(&self) -> Option<&Deed> {
        let replaced = |lifted: &Deed| {
            self.deeds.iter().any(|d| d.what == Doing::Replaced && d.part == lifted.part && d.number > lifted.number)
        };
        self.deeds.iter().filter(|d| d.what == Doing::Lifted && !replaced(d)).max_by_key(|d| d.number)
    }

    /// The latest deed; coating changes no reading, but it does change the picture.
    pub(super) fn last_deed(&self) -> Option<&Deed> {
        self.deeds.iter().max_by_key(|d| d.number)
    }

    /// The take, unless something was done since that makes it tell of another board.
    pub(super) fn take(&self) -> Option<&Filmed> {
        let changed = self.last_deed().map_or(0, |d| d.number);
        self.filmed.as_ref().filter(|f| f.after >= changed)
    }

    /// A face that no take shows.
    pub(super) fn face_to_film(&self) -> Option<&str> {
        self.faces.iter().find(|f| !self.faces_filmed.contains(f)).map(String::as_str)
    }

    /// A shiny part that was not coated.
    pub(super) fn part_to_coat(&self) -> Option<&str> {
        let coated = |part: &String| self.deeds.iter().any(|d| d.what == Doing::Coated && d.part == *part);
        self.shiny_parts.iter().find(|p| !coated(p)).map(String::as_str)
    }

    /// The next step that the plan allows and that may tell more.
    pub(super) fn next_step(&self) -> Option<usize> {
        let Plan::Ready { steps, enough_at } = self.plan else {
            return None;
        };
        let injected = self.take().and_then(|f| f.step);
        let next = injected.map_or(0, |step| step + 1);
        let enough = injected.zip(enough_at).is_some_and(|(step, enough)| step >= enough);
        (next < steps && !enough).then_some(next)
    }
}
