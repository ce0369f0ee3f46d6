//! Which frames of a recording are shown one after the other, and how long each.

use joulemark_frames::Timeline;

use super::Handout;
use crate::{
    layer::Layer,
    lesson::{Plays, Shows, Step, View, render::TakeSeen},
};

/// Frames with their times.
#[derive(Clone, Debug, PartialEq)]
pub struct Film {
    /// Frames of the take.
    pub frames: Vec<usize>,
    /// How long each is shown, in milliseconds.
    pub delays_ms: Vec<u32>,
    /// How many frames the piece has in all.
    pub all: usize,
}

/// The eye does not follow faster, nor do viewers of GIFs.
const LEAST_MS: u32 = 20;
/// The last frame stays before it begins anew.
const LAST_MS: u32 = 2000;

impl Film {
    /// A piece of a recording, thinned evenly to at most so many frames. Delays are the times between the frames shown,
    /// over the speed; `None` where the piece has no two frames.
    pub fn of(plays: Plays, timeline: &Timeline, most: usize) -> Option<Self> {
        let last = plays.to.min(timeline.time_s.len().checked_sub(1)?);
        if plays.from >= last || most < 2 {
            return None;
        }
        let all = last - plays.from + 1;
        let count = all.min(most);
        let frames: Vec<usize> = (0..count).map(|i| plays.from + i * (all - 1) / (count - 1)).collect();
        let speed = if plays.speed.is_finite() && plays.speed > 0.0 { f64::from(plays.speed) } else { 1.0 };
        let delay = |pair: &[usize]| {
            let between = timeline.time_s[pair[1]] - timeline.time_s[pair[0]];
            let ms = (1000.0 * between / speed).round();
            (if ms.is_finite() { ms.clamp(0.0, 60_000.0) as u32 } else { 0 }).max(LEAST_MS)
        };
        let delays_ms = frames.windows(2).map(delay).chain([LAST_MS]).collect();
        Some(Self { frames, delays_ms, all })
    }

    /// Which frames these are, in words, where some were left out.
    pub fn thinned(&self) -> Option<String> {
        (self.frames.len() < self.all).then(|| format!("{} of {} frames are shown", self.frames.len(), self.all))
    }
}

/// What a step plays: the piece that it names, else the whole recording of its map. `None` where it shows no map.
pub fn plays(step: &Step, seen: &TakeSeen<'_>) -> Option<Plays> {
    if !matches!(step.view.shows, Shows::Map { .. }) {
        return None;
    }
    let last = seen.take.stack.shape().frames.saturating_sub(1);
    Some(step.plays.unwrap_or(Plays { from: 0, to: last, speed: 1.0 }))
}

/// A step's view at a frame. A layer of the whole take gives way to the rise frame by frame, without the answer.
pub fn view_at(handout: &Handout, view: &View, at: usize) -> View {
    let Shows::Map { take, layer, outlines, answer, .. } = &view.shows else { return view.clone() };
    let located = handout.material.takes.get(take).is_some_and(|kept| kept.seen().located.is_some());
    let moving = match layer {
        layer if layer.follows_time() => *layer,
        _ if located => Layer::FrameRise,
        _ => Layer::Frame,
    };
    let range = view.range.filter(|_| moving == *layer);
    let shows = Shows::Map { take: take.clone(), layer: moving, frame: at, outlines: *outlines, answer: *answer };
    View { shows, zoom: view.zoom, range }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn delays_come_from_the_recordings_own_times() {
        let mut timeline = Timeline::steady(5, 10.0);
        timeline.time_s = vec![0.0, 0.1, 0.2, 0.7, 0.8];
        let film = Film::of(Plays { from: 1, to: 9, speed: 2.0 }, &timeline, 100).unwrap();
        assert_eq!(film.frames, [1, 2, 3, 4]);
        // Half of 0.1, 0.5 and 0.1 s; the last stays.
        assert_eq!(film.delays_ms, [50, 250, 50, LAST_MS]);
        assert_eq!(film.thinned(), None);
    }

    #[test]
    fn a_long_piece_is_thinned_evenly_and_keeps_both_ends_and_its_length() {
        let timeline = Timeline::steady(1001, 50.0);
        let film = Film::of(Plays { from: 0, to: 1000, speed: 1.0 }, &timeline, 11).unwrap();
        assert_eq!(film.frames, [0, 100, 200, 300, 400, 500, 600, 700, 800, 900, 1000]);
        assert_eq!(film.delays_ms[..10], [2000; 10]);
        assert_eq!(film.thinned().unwrap(), "11 of 1001 frames are shown");
        let fast = Film::of(Plays { from: 0, to: 10, speed: 1000.0 }, &timeline, 100).unwrap();
        assert_eq!(fast.delays_ms[0], LEAST_MS);
    }

    #[test]
    fn a_piece_of_nothing_is_no_film() {
        let timeline = Timeline::steady(5, 10.0);
        for plays in [Plays { from: 4, to: 4, speed: 1.0 }, Plays { from: 9, to: 12, speed: 1.0 }] {
            assert_eq!(Film::of(plays, &timeline, 100), None);
        }
        assert!(Film::of(Plays { from: 0, to: 2, speed: f32::NAN }, &timeline, 100).is_some());
        assert_eq!(Film::of(Plays { from: 0, to: 2, speed: 1.0 }, &Timeline::steady(0, 1.0), 9), None);
    }
}
