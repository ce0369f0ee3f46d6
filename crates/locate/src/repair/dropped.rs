//! Frames that are missing from the recording, by the times of those that are there.

use joulemark_frames::Timeline;

/// An interval this many times the usual one holds a missing frame.
const GAP: f64 = 1.5;

/// Missing frames.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Dropped {
    /// Places where frames are missing.
    pub gaps: usize,
    /// Frames that are missing there, by the usual interval.
    pub frames: usize,
    /// The first frame after the longest gap.
    pub after_longest: usize,
}

/// Counts missing frames; `None` when there are none.
pub fn dropped(timeline: &Timeline) -> Option<Dropped> {
    let intervals: Vec<f64> = timeline.time_s.windows(2).map(|w| w[1] - w[0]).collect();
    let mut sorted = intervals.clone();
    sorted.sort_by(f64::total_cmp);
    let middle = *sorted.get(sorted.len() / 2).filter(|i| **i > 0.0)?;
    let ordinary = || intervals.iter().filter(|i| **i <= GAP * middle);
    let usual = ordinary().sum::<f64>() / ordinary().count() as f64;
    let mut found = Dropped::default();
    let mut longest = 0.0;
    for (i, interval) in intervals.iter().enumerate().filter(|(_, interval)| **interval > GAP * usual) {
        found.gaps += 1;
        found.frames += (interval / usual).round() as usize - 1;
        if *interval > longest {
            (longest, found.after_longest) = (*interval, i + 1);
        }
    }
    (found.gaps > 0).then_some(found)
}

impl Dropped {
    /// For the user.
    pub fn warning(&self) -> String {
        let noun = |n: usize, one: &str| if n == 1 { format!("1 {one}") } else { format!("{n} {one}s") };
        format!(
            "{} missing in {} (the longest before frame {}); the log's own times were used",
            match self.frames {
                1 => "1 frame is".to_owned(),
                n => format!("{n} frames are"),
            },
            noun(self.gaps, "place"),
            self.after_longest
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_are_counted_and_jitter_is_not() {
        let mut timeline = Timeline::steady(60, 9.0);
        assert_eq!(dropped(&timeline), None);
        for (i, t) in timeline.time_s.iter_mut().enumerate() {
            *t += if i % 2 == 0 { 0.02 } else { 0.0 };
        }
        assert_eq!(dropped(&timeline), None);
        for t in &mut timeline.time_s[20..] {
            *t += 1.0 / 9.0;
        }
        for t in &mut timeline.time_s[40..] {
            *t += 3.0 / 9.0;
        }
        let found = dropped(&timeline).unwrap();
        assert_eq!(found, Dropped { gaps: 2, frames: 4, after_longest: 40 });
        assert_eq!(
            found.warning(),
            "4 frames are missing in 2 places (the longest before frame 40); the log's own times were used"
        );
    }
}
