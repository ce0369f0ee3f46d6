//! What a proving board is made to show.

use std::fmt;

/// How warm a fault gets, or that there is none. Sizes are those of the hottest pixel, noise left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Tier {
    /// 10 to 50 K.
    Strong,
    /// 1 to 5 K.
    Medium,
    /// 0.1 to 0.5 K.
    Faint,
    /// On and off, 10 to 50 mK of amplitude at the pulse rate.
    Pulsed,
    /// A healthy rail.
    Blank,
}

/// What moves on a blank board besides everyday drift.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Nuisance {
    /// A change of what shiny surfaces reflect.
    Reflection,
    /// A reflection that wanders.
    MovingReflection,
    /// A patch that was warm before.
    CoolingPatch,
    /// Drift of the level.
    Drift,
    /// Smooth blotches that come and go.
    Blotches,
    /// All of them.
    All,
}

/// What goes wrong on a board with a real fault of 0.5 to 5 K.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Disturbance {
    /// Dead, stuck and flickering pixels.
    BadPixels,
    /// Columns and rows that wander.
    Stripes,
    /// Sway, jerks up to 10 px and turns up to 2 degrees.
    Shake,
    /// Drift of the level.
    AmbientDrift,
    /// Slow drift of every pixel on its own.
    PixelDrift,
    /// Repeated frames, then an offset jump.
    Pause,
    /// Frames that are missing.
    DroppedFrames,
    /// A log that is one or two frames late or early.
    LogLag,
    /// A reflection that wanders.
    MovingReflection,
    /// A patch that was warm before.
    CoolingPatch,
    /// A probe tip that is warmer or colder than the board.
    WarmProbe,
}

/// Everything that [`super::build`] can make.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// An everyday recording.
    Tier(Tier),
    /// A healthy board and one nuisance.
    Blank {
        /// Which.
        nuisance: Nuisance,
        /// Whether the injection is pulsed.
        pulsed: bool,
    },
    /// A fault and one disturbance.
    Disturbed(Disturbance),
    /// The faulty part is shiny (emissivity 0.1), and the drawing does not say so.
    Shiny,
    /// A short of 20 to 100 milliohm whose feeding track warms as well, from a marked injection point on.
    FeedPath,
}

impl Tier {
    /// All, warmest first.
    pub const ALL: [Self; 5] = [Self::Strong, Self::Medium, Self::Faint, Self::Pulsed, Self::Blank];

    fn name(self) -> &'static str {
        match self {
            Self::Strong => "10-50 K",
            Self::Medium => "1-5 K",
            Self::Faint => "0.1-0.5 K",
            Self::Pulsed => "pulsed 10-50 mK",
            Self::Blank => "blank",
        }
    }
}

impl Nuisance {
    /// All.
    pub const ALL: [Self; 6] =
        [Self::Reflection, Self::MovingReflection, Self::CoolingPatch, Self::Drift, Self::Blotches, Self::All];

    fn name(self) -> &'static str {
        match self {
            Self::Reflection => "reflection",
            Self::MovingReflection => "moving reflection",
            Self::CoolingPatch => "cooling patch",
            Self::Drift => "drift",
            Self::Blotches => "blotches",
            Self::All => "all together",
        }
    }
}

impl Disturbance {
    /// All.
    pub const ALL: [Self; 11] = [
        Self::BadPixels,
        Self::Stripes,
        Self::Shake,
        Self::AmbientDrift,
        Self::PixelDrift,
        Self::Pause,
        Self::DroppedFrames,
        Self::LogLag,
        Self::MovingReflection,
        Self::CoolingPatch,
        Self::WarmProbe,
    ];

    fn name(self) -> &'static str {
        match self {
            Self::BadPixels => "bad pixels",
            Self::Stripes => "column and row drift",
            Self::Shake => "shake",
            Self::AmbientDrift => "ambient drift",
            Self::PixelDrift => "non-uniformity drift",
            Self::Pause => "shutter pause",
            Self::DroppedFrames => "dropped frames",
            Self::LogLag => "log lag",
            Self::MovingReflection => "moving reflection",
            Self::CoolingPatch => "cooling patch",
            Self::WarmProbe => "warm probe",
        }
    }
}

impl Kind {
    /// All: tiers, blanks, disturbances, shiny, feed path.
    pub fn all() -> Vec<Self> {
        let blanks =
            [false, true].into_iter().flat_map(|pulsed| Nuisance::ALL.map(|nuisance| Self::Blank { nuisance, pulsed }));
        Tier::ALL
            .map(Self::Tier)
            .into_iter()
            .chain(blanks)
            .chain(Disturbance::ALL.map(Self::Disturbed))
            .chain([Self::Shiny, Self::FeedPath])
            .collect()
    }

    /// Its place in [`Self::all`].
    pub(super) fn index(self) -> usize {
        Self::all().iter().position(|k| *k == self).unwrap_or_default()
    }

    /// Whether the injection goes on and off.
    pub fn pulsed(self) -> bool {
        matches!(self, Self::Tier(Tier::Pulsed) | Self::Blank { pulsed: true, .. })
    }

    /// Whether nothing is wrong with the board.
    pub fn blank(self) -> bool {
        matches!(self, Self::Tier(Tier::Blank) | Self::Blank { .. })
    }
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tier(tier) => f.write_str(tier.name()),
            Self::Blank { nuisance, pulsed } => {
                write!(f, "blank, {}, {}", nuisance.name(), if *pulsed { "pulsed" } else { "step" })
            }
            Self::Disturbed(disturbance) => write!(f, "disturbed by {}", disturbance.name()),
            Self::Shiny => f.write_str("shiny"),
            Self::FeedPath => f.write_str("feed path"),
        }
    }
}
