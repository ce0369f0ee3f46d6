//! Before filming: what has to be so for a take to be worth the current. Measured where a take allows it, otherwise a
//! question to the one at the bench. All numbers are common practice, no published source.

mod measured;
#[cfg(test)]
mod tests;

pub use measured::{drift_k_per_min, gain_jumps};

use joulemark_frames::Timeline;

/// Frames before the current that the noise and the drift are learnt from.
const FRAMES_BEFORE: usize = 30;
/// And seconds.
const SECONDS_BEFORE: f64 = 5.0;
/// Seconds with current on.
const SECONDS_DURING: f64 = 15.0;
/// The smallest part should be this many pixels wide, or it shares its pixels with its neighbours.
const PIXELS_PER_PART: f64 = 3.0;
/// Drift that the camera should have settled to.
const DRIFT_K_PER_MIN: f64 = 0.5;

/// How a point stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// Measured, and fine.
    Good,
    /// Measured, and not fine.
    Poor,
    /// It could be measured, but not yet.
    Unknown,
    /// Only a person can say.
    Question,
}

/// A point of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Its name in files.
    pub id: &'static str,
    /// What is to be so.
    pub words: String,
    /// What was measured, and why it matters.
    pub because: String,
    /// How it stands.
    pub standing: Standing,
}

/// What is known of a take, or of a trial take, before the current counts.
#[derive(Clone, Copy, Debug, Default)]
pub struct Filmed<'a> {
    /// Times and marks.
    pub timeline: Option<&'a Timeline>,
    /// Drift of the picture's level before the current, kelvin per minute; `None` for relative takes.
    pub drift_k_per_min: Option<f64>,
    /// How often the picture's brightness jumps as a whole; more than never means automatic gain.
    pub gain_jumps: Option<usize>,
    /// Whether the picture was found to move.
    pub moves: Option<bool>,
    /// Millimetres per pixel at the board's middle.
    pub mm_per_px: Option<f64>,
    /// Shortest side of the smallest part on the rail, with its designator.
    pub smallest: Option<(&'a str, f64)>,
}

/// The list, in the order in which it is seen to.
pub fn readiness(filmed: &Filmed<'_>) -> Vec<Point> {
    let mut points = vec![
        question("focus", "In focus on the board", "A blurred spot hides which part it is on."),
        question(
            "tilt",
            "Camera tilted by 10 to 15 degrees",
            "Square above shiny metal it sees itself, and every move of yours is a reflection.",
        ),
        gain(filmed.gain_jumps),
        still(filmed.moves),
        drift(filmed.drift_k_per_min),
    ];
    points.extend(lengths(filmed.timeline));
    points.push(pixels(filmed.mm_per_px, filmed.smallest));
    points
}

fn question(id: &'static str, words: &str, because: &str) -> Point {
    Point { id, words: words.to_owned(), because: because.to_owned(), standing: Standing::Question }
}

fn judged(good: bool) -> Standing {
    if good { Standing::Good } else { Standing::Poor }
}

fn gain(jumps: Option<usize>) -> Point {
    let why = "Automatic gain changes every pixel at once, which looks like warming and cooling.";
    match jumps {
        None => question("gain", "Automatic gain and range switched off", why),
        Some(n) => Point {
            id: "gain",
            words: "Automatic gain and range switched off".to_owned(),
            because: match n {
                0 => format!("The picture's level never jumps. {why}"),
                1 => format!("The picture's level jumps once. {why}"),
                n => format!("The picture's level jumps {n} times. {why}"),
            },
            standing: judged(n == 0),
        },
    }
}

fn still(moves: Option<bool>) -> Point {
    let why = "Edges that move look like heat; movement is repaired only while the board has texture.";
    match moves {
        None => question("still", "Board and camera on a stand, hands off", why),
        Some(moves) => Point {
            id: "still",
            words: "Board and camera on a stand, hands off".to_owned(),
            because: format!("{} {why}", if moves { "The picture moves." } else { "The picture stays." }),
            standing: judged(!moves),
        },
    }
}

fn drift(k_per_min: Option<f64>) -> Point {
    let words = format!("Camera settled: less than {DRIFT_K_PER_MIN} K of drift in a minute");
    let why = "A camera just switched on drifts for some ten minutes.";
    match k_per_min {
        None => Point { id: "drift", words, because: format!("Not measured. {why}"), standing: Standing::Unknown },
        Some(k) => Point {
            id: "drift",
            words,
            because: format!("{:.2} K a minute before the current. {why}", k.abs()),
            standing: judged(k.abs() <= DRIFT_K_PER_MIN),
        },
    }
}

fn lengths(timeline: Option<&Timeline>) -> [Point; 2] {
    let before_words = format!("At least {FRAMES_BEFORE} frames and {SECONDS_BEFORE:.0} s before the current");
    let during_words = format!("At least {SECONDS_DURING:.0} s with current, unless a limit ends it sooner");
    let why_before = "They show the noise and the drift that a rise is tested against.";
    let why_during = "Small parts take some seconds to warm, and the board around them longer.";
    let measured = timeline.and_then(|t| Some((t, t.first_injected()?)));
    let Some((t, first)) = measured else {
        let open = |id, words, why: &str| Point {
            id,
            words,
            because: format!("Not filmed yet. {why}"),
            standing: Standing::Unknown,
        };
        return [open("before", before_words, why_before), open("during", during_words, why_during)];
    };
    let before_s = if first > 0 { t.time_s[first - 1] - t.time_s[0] } else { 0.0 };
    let last = t.injecting.iter().rposition(|on| *on).unwrap_or(first);
    let during_s = t.time_s[last] - t.time_s[first];
    [
        Point {
            id: "before",
            words: before_words,
            because: format!("{first} frames, {before_s:.1} s. {why_before}"),
            // A frame's own length: 45 frames at 9 Hz span 4.9 s from the first to the last.
            standing: judged(first >= FRAMES_BEFORE && t.time_s[first] - t.time_s[0] >= SECONDS_BEFORE - 0.2),
        },
        Point {
            id: "during",
            words: during_words,
            because: format!("{during_s:.1} s. {why_during}"),
            standing: judged(during_s >= SECONDS_DURING - 0.2),
        },
    ]
}

fn pixels(mm_per_px: Option<f64>, smallest: Option<(&str, f64)>) -> Point {
    let words = format!("The smallest part on the rail is {PIXELS_PER_PART:.0} pixels wide or more");
    let why = "Move closer, respect the lens's shortest focus, or fit a close-up lens.";
    match (mm_per_px, smallest) {
        (Some(mm_per_px), Some((part, side_mm))) if mm_per_px > 0.0 => {
            let pixels = side_mm / mm_per_px;
            Point {
                id: "pixels",
                words,
                because: format!(
                    "{part} is {side_mm:.2} mm wide, that is {pixels:.1} pixels of {mm_per_px:.2} mm. {why}"
                ),
                standing: judged(pixels >= PIXELS_PER_PART),
            }
        }
        (None, _) => Point {
            id: "pixels",
            words,
            because: format!("Not known before the picture is lined up with the drawing. {why}"),
            standing: Standing::Unknown,
        },
        _ => Point {
            id: "pixels",
            words,
            because: format!("The drawing has no part on this rail. {why}"),
            standing: Standing::Unknown,
        },
    }
}
