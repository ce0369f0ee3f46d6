//! A timeline as capture log text, with the optional columns only where something was read.

use joulemark_frames::{SupplyMode, Timeline};

/// `frame,time_s,injecting,volts,amps`, and `set_volts,set_amps,mode` where known. Frames are counted from 0.
pub fn to_csv(timeline: &Timeline) -> String {
    let set = timeline.set_volts.iter().chain(&timeline.set_amps).any(Option::is_some)
        || timeline.mode.iter().any(Option::is_some);
    let mut text = "frame,time_s,injecting,volts,amps".to_owned();
    text += if set { ",set_volts,set_amps,mode\n" } else { "\n" };
    let number = |v: Option<f64>| v.map(|v| v.to_string()).unwrap_or_default();
    for i in 0..timeline.len() {
        text += &format!(
            "{i},{},{},{},{}",
            timeline.time_s[i],
            u8::from(timeline.injecting[i]),
            number(timeline.volts[i]),
            number(timeline.amps[i])
        );
        if set {
            let mode = match timeline.mode[i] {
                Some(SupplyMode::ConstantVoltage) => "cv",
                Some(SupplyMode::ConstantCurrent) => "cc",
                None => "",
            };
            text += &format!(",{},{},{mode}", number(timeline.set_volts[i]), number(timeline.set_amps[i]));
        }
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use joulemark_frames::CaptureLog;

    use super::*;

    #[test]
    fn the_reader_understands_what_is_written() {
        let mut timeline = Timeline::steady(3, 7.5);
        timeline.inject_from(1);
        timeline.volts[2] = Some(0.825);
        timeline.amps[2] = Some(1.0);
        for mode in [None, Some(SupplyMode::ConstantCurrent)] {
            timeline.mode[1] = mode;
            let text = to_csv(&timeline);
            let log = CaptureLog::parse(Path::new("log.csv"), text.as_bytes()).unwrap();
            let (back, notes) = log.align(Path::new("log.csv"), 3, &[]).unwrap();
            assert_eq!((back, notes.len()), (timeline.clone(), 0));
        }
    }
}
