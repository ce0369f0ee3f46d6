//! A piece of the recording, played by the window's clock.

use crate::lesson::Plays;

/// The recording, while it is played or held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Playing {
    /// Played since a moment of the clock, from so many seconds of the recording after the piece's first frame.
    Since { clock_s: f64, from_s: f64 },
    /// Held so many seconds after the piece's first frame.
    Held { at_s: f64 },
    /// It reached its last frame.
    Over,
}

impl Playing {
    /// Seconds of the recording after the piece's first frame.
    fn at_s(self, speed: f32, now: f64) -> f64 {
        match self {
            Self::Since { clock_s, from_s } => from_s + (now - clock_s).max(0.0) * f64::from(speed),
            Self::Held { at_s } => at_s,
            Self::Over => f64::INFINITY,
        }
    }

    /// The frame that is shown. `times_s` are those of the recording.
    pub fn frame(self, plays: Plays, times_s: &[f64], now: f64) -> usize {
        let to = plays.to.min(times_s.len().saturating_sub(1));
        let from = plays.from.min(to);
        let Some(start) = times_s.get(from) else {
            return 0;
        };
        let at = start + self.at_s(plays.speed, now);
        // Times go up; a small allowance for what sums of decimals leave over.
        (from..=to).rfind(|&i| times_s[i] <= at + 1e-9).unwrap_or(from)
    }

    /// The same, over once the last frame is reached.
    pub fn settled(self, plays: Plays, times_s: &[f64], now: f64) -> Self {
        let last = plays.to.min(times_s.len().saturating_sub(1));
        let over = self.moves() && self.frame(plays, times_s, now) >= last;
        if over { Self::Over } else { self }
    }

    /// Whether the picture goes on changing by itself.
    pub fn moves(self) -> bool {
        matches!(self, Self::Since { .. })
    }
}

/// Plays what was held, holds what was played.
pub fn toggled(playing: Option<Playing>, plays: Plays, now: f64) -> Playing {
    match playing {
        Some(playing @ Playing::Since { .. }) => Playing::Held { at_s: playing.at_s(plays.speed, now) },
        Some(Playing::Held { at_s }) => Playing::Since { clock_s: now, from_s: at_s },
        Some(Playing::Over) | None => Playing::Since { clock_s: now, from_s: 0.0 },
    }
}
