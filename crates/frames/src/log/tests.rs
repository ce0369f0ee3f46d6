//! Capture logs as people and spreadsheets write them.

use proptest::prelude::*;

use super::*;

fn parse(text: &str) -> Result<CaptureLog, FramesError> {
    CaptureLog::parse(Path::new("log.csv"), text.as_bytes())
}

#[test]
fn reads_blank_readings_modes_and_reordered_columns() {
    let log = parse("time_s,frame,injecting,amps,volts,mode\n0.0,0,no,,,\n0.5,b.tif,1,1.25,0.8,CC\n").expect("valid");
    assert_eq!(log.rows[0].volts, None);
    assert_eq!(log.rows[1].frame, FrameRef::Name("b.tif".into()));
    assert_eq!(log.rows[1].mode, Some(SupplyMode::ConstantCurrent));
    assert_eq!((log.rows[1].volts, log.rows[1].amps), (Some(0.8), Some(1.25)));
}

#[test]
fn errors_name_line_and_column() {
    let head = "frame,time_s,injecting,volts,amps\n";
    for (text, wanted) in [
        ("frame,time_s,injecting,volts\n0,0,0,0\n".to_owned(), "column amps is missing"),
        (format!("{head}0,zero,0,,\n"), "line 2, column time_s: 'zero'"),
        (format!("{head}0,0,maybe,,\n"), "line 2, column injecting"),
        (format!("{head}0,,0,,\n"), "line 2, column time_s: blank"),
        (head.to_owned(), "no rows"),
        (String::new(), "column frame is missing"),
    ] {
        let message = parse(&text).expect_err("bad log").to_string();
        assert!(message.contains(wanted), "{message}");
        assert_eq!(message.lines().count(), 1);
    }
}

#[test]
fn frames_without_a_row_are_interpolated_and_said() {
    let log =
        parse("frame,time_s,injecting,volts,amps\n0,10,0,,\n1,10.5,1,1,1\n3,11.5,1,1,1\n9,20,1,,\n").expect("valid");
    let (timeline, notes) = log.align(Path::new("log.csv"), 5, &[]).expect("aligns");
    assert_eq!(timeline.time_s, [10.0, 10.5, 11.0, 11.5, 12.0]);
    assert_eq!(timeline.injecting, [false, true, true, true, true]);
    assert_eq!(notes.len(), 2);
}

#[test]
fn times_that_run_backwards_are_refused() {
    let log = parse("frame,time_s,injecting,volts,amps\n0,1,0,,\n1,1,0,,\n").expect("valid");
    let message = log.align(Path::new("log.csv"), 2, &[]).expect_err("backwards").to_string();
    assert!(message.contains("line 3"), "{message}");
}

#[test]
fn spreadsheets_with_decimal_commas_are_read() {
    for separator in [";", "\t"] {
        let text = "\u{feff}# bench 2\nframe;time_s;injecting;volts;amps;set_volts\r\n0;0,5;0;;;1,0\r\n1;1,25;1;0,8;1.5;1,0\r\n";
        let log = parse(&text.replace(';', separator)).expect("valid");
        assert_eq!((log.rows[0].time_s, log.rows[0].volts, log.rows[0].set_volts), (0.5, None, Some(1.0)));
        assert_eq!((log.rows[1].time_s, log.rows[1].volts, log.rows[1].amps), (1.25, Some(0.8), Some(1.5)));
    }
    // With commas between columns a decimal comma cannot be told from a separator, and 1,234.5 is no number either.
    assert!(parse("frame,time_s,injecting,volts,amps\n0,\"0,5\",0,,\n").is_err());
}

#[test]
fn times_beyond_reason_are_refused() {
    for times in [["0", "1e300", "1.7e308"], ["-1.7e308", "0", "1.7e308"], ["1e17", "1.0000000000000002e17", "2e17"]] {
        let text =
            format!("frame,time_s,injecting,volts,amps\n0,{},0,,\n4,{},0,,\n9,{},0,,\n", times[0], times[1], times[2]);
        let result = parse(&text).expect("valid").align(Path::new("log.csv"), 12, &[]);
        let message = result.expect_err(times[0]).to_string();
        assert!(message.contains("column time_s"), "{message}");
    }
}

#[test]
fn messages_stay_on_one_line() {
    let text = "frame,time_s,injecting,volts,amps\n0,0,\"may\nbe\",,\n";
    assert_eq!(parse(text).expect_err("bad").to_string().lines().count(), 1);
}

proptest! {
    #[test]
    fn arbitrary_bytes_never_panic(content in prop::collection::vec(any::<u8>(), 0..300)) {
        never_panics(&content);
    }

    #[test]
    fn almost_logs_never_panic(
        separator in "[,;\t]",
        rows in prop::collection::vec("[0-9]{0,20}[,;\t][-+0-9.,einfa]{0,12}[,;\t](0|1|yes)?[,;\t][0-9.,-]{0,8}[,;\t][ -~]{0,8}\n", 0..8),
        frames in 0_usize..6,
    ) {
        let head = "frame,time_s,injecting,volts,amps\n".replace(',', &separator);
        let content = format!("{head}{}", rows.concat());
        never_panics(content.as_bytes());
        if let Ok(log) = parse(&content)
            && let Ok((timeline, _)) = log.align(Path::new("log.csv"), frames, &[])
        {
            assert_eq!(timeline.len(), frames);
            assert!(timeline.time_s.windows(2).all(|pair| pair[1] > pair[0]), "{:?}", timeline.time_s);
        }
    }
}

fn never_panics(content: &[u8]) {
    match CaptureLog::parse(Path::new("log.csv"), content) {
        Ok(log) => {
            for frames in [0, 1, 7] {
                if let Err(error) = log.align(Path::new("log.csv"), frames, &[]) {
                    assert_eq!(error.to_string().lines().count(), 1, "{error}");
                }
            }
        }
        Err(error) => assert_eq!(error.to_string().lines().count(), 1, "{error}"),
    }
}
