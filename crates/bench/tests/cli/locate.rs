//! `joulemark locate` on loose files: result, schema, pictures, relative takes.

use crate::support::{
    FRAMES, HEIGHT, HOT_PX, Loose, MM_PER_PX, WIDTH, counts, joulemark, stderr, stdout, write_frames,
};
use joulemark_frames::{Samples, read::Scale};
use joulemark_locate::report::Report;

#[test]
fn the_json_document_has_the_schema_s_fields_in_its_order() {
    let loose = Loose::new(1.0);
    let mut args = loose.args(&[("--lead-ohms", "0.05")]);
    args.push("--json".into());
    let output = joulemark(&args);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let text = stdout(&output);
    let mut at = 0;
    for field in [
        "schema",
        "take",
        "relative",
        "noise",
        "netd_k",
        "frames_before",
        "frames_during",
        "hot_spots",
        "x_px",
        "y_px",
        "sigma_x_px",
        "sigma_y_px",
        "face",
        "x_mm",
        "y_mm",
        "rise_k",
        "rise_se_k",
        "tau_s",
        "onset_s",
        "q_value",
        "heat_ledger",
        "electrical_watts",
        "explained_share",
        "suspects",
        "part",
        "face",
        "hot_spot",
        "probability",
        "group",
        "because",
        "off_drawing_probability",
        "nothing_probability",
        "warnings",
    ] {
        let found = text[at..].find(&format!("\"{field}\":"));
        at += found.unwrap_or_else(|| panic!("{field} is missing or out of order in {text}"));
    }
    let report: Report = serde_json::from_str(&text).unwrap();
    assert_eq!(
        (report.schema.as_str(), report.take.as_str(), report.relative),
        ("joulemark.locate/1", "frames", false)
    );
    assert_eq!((report.noise.frames_before, report.noise.frames_during), (20, 40));
    // Twelve uniform numbers make the noise's variance exact; rounding to 10 mK adds 0.3 %. 5 % is ten times the
    // scatter of a standard deviation from a million values, and what different estimators differ by.
    assert!((report.noise.netd_k - 0.05).abs() < 0.0025, "{}", report.noise.netd_k);
    let spot = &report.hot_spots[0];
    let (x_mm, y_mm) = ((HOT_PX.0 - 4.0) * MM_PER_PX, (HOT_PX.1 - 4.0) * MM_PER_PX);
    // A tenth of a pixel: five standard errors of a spot this strong, see `sigma_x_px` in the document.
    assert!((spot.x_px - HOT_PX.0).abs() < 0.1 && (spot.y_px - HOT_PX.1).abs() < 0.1, "{spot:?}");
    assert!((spot.x_mm - x_mm).abs() < 0.1 && (spot.y_mm - y_mm).abs() < 0.1, "{spot:?}");
    assert_eq!(report.suspects[0].part, "C1");
    // 0.8 V at 1.2 A, less 0.05 ohm of leads.
    assert!((report.electrical_watts.unwrap() - (0.96 - 0.072)).abs() < 1e-9);
    let of_first: f64 = report.suspects.iter().filter(|s| s.hot_spot == 0).map(|s| s.probability).sum();
    let total = of_first + report.off_drawing_probability + report.nothing_probability;
    assert!((total - 1.0).abs() < 1e-6, "{total}");
}

#[test]
fn words_name_the_part_the_next_step_and_the_caution() {
    let loose = Loose::new(1.0);
    let output = loose.locate(&[]);
    let text = stdout(&output);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    for wanted in
        ["20 frames before injection and 40 during", "rise, K", "±", "C1, capacitor", "Next: lift C1", "Caution:"]
    {
        assert!(text.contains(wanted), "'{wanted}' is missing in\n{text}");
    }
    assert!(text.lines().all(|l| l.chars().count() < 200), "{text}");
}

#[test]
fn nothing_above_the_noise_is_code_3_with_a_whole_document() {
    let loose = Loose::new(0.0);
    let mut args = loose.args(&[("--picture", "map.png")]);
    args.push("--json".into());
    let output = joulemark(&args);
    assert_eq!(output.status.code(), Some(3), "{}", stderr(&output));
    let report: Report = serde_json::from_str(&stdout(&output)).unwrap();
    assert!(report.hot_spots.is_empty() && report.suspects.is_empty());
    assert_eq!(report.nothing_probability, 1.0);
    assert!(loose.path("map.png").exists());
    assert!(stdout(&loose.locate(&[])).contains("Nothing above the noise."));
}

#[test]
fn the_picture_is_a_png_of_readable_size() {
    let loose = Loose::new(1.0);
    let output = loose.locate(&[("--picture", "map.png")]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let picture = image::open(loose.path("map.png")).unwrap();
    assert!((1000..=1800).contains(&picture.width()), "{}", picture.width());
}

#[test]
fn a_missing_log_is_made_up_for_by_flags_and_said() {
    let loose = Loose::new(1.0);
    let assumed = loose.locate(&[("--log", ""), ("--inject-from", "20")]);
    assert_eq!(assumed.status.code(), Some(0));
    assert!(stderr(&assumed).contains("one frame per second is assumed"), "{}", stderr(&assumed));
    let stated = loose.locate(&[("--log", ""), ("--inject-from", "20"), ("--rate", "4")]);
    assert_eq!(stated.status.code(), Some(0));
    assert!(!stderr(&stated).contains("log") && !stderr(&stated).contains("second"), "{}", stderr(&stated));
    let proposed = loose.locate(&[("--log", ""), ("--inject-from", "auto"), ("--rate", "4")]);
    assert_eq!(proposed.status.code(), Some(0), "{}", stderr(&proposed));
    assert!(stderr(&proposed).contains("proposed, not known, to start at frame"), "{}", stderr(&proposed));
}

#[test]
fn relative_takes_never_show_kelvin() {
    let loose = Loose::new(1.0);
    // 8-bit grey values of 20 mK each, as a camera's plain pictures would have them.
    let grey = counts(1.0).mapv(|c| (f64::from(c) - 29_900.0).div_euclid(2.0).clamp(0.0, 255.0) as u8);
    write_frames(&loose.path("plain.npy"), Samples::U8(grey), Scale::Relative);
    let changes = [("--frames", "plain.npy"), ("--counts", ""), ("--picture", "map.png")];
    let output = loose.locate(&changes);
    let text = stdout(&output);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(text.contains("relative"), "{text}");
    let kelvin = text.split(|c: char| !c.is_alphanumeric()).any(|word| word == "K" || word == "mK");
    assert!(!kelvin, "{text}");
    let mut args = loose.args(&changes);
    args.push("--json".into());
    let report: Report = serde_json::from_str(&stdout(&joulemark(&args))).unwrap();
    assert!(report.relative);
}

/// A camera that rescales its pictures by up to 20 % as it goes: the jumps from frame to frame would pass for noise.
#[test]
fn automatic_gain_is_undone_on_pixels_off_the_board() {
    let loose = Loose::new(1.0);
    let grey = ndarray::Array3::from_shape_fn((FRAMES, HEIGHT, WIDTH), |(t, y, x)| {
        let scene = &counts_once()[[t, y, x]];
        let off_board = x < 4 || y < 4 || x >= 44 || y >= 36;
        let texture = if off_board { 10.0 * ((x + y) % 4) as f64 } else { 0.0 };
        let value = 60.0 + texture + (f64::from(*scene) - 30_000.0) / 2.0;
        let gain = 1.0 + 0.2 * (t as f64 * 1.7).sin();
        (gain * value).round().clamp(0.0, 255.0) as u8
    });
    write_frames(&loose.path("plain.npy"), Samples::U8(grey), Scale::Relative);
    let report = |law: &str| -> (Report, String) {
        let mut args = loose.args(&[("--frames", "plain.npy"), ("--counts", law)]);
        args.push("--json".into());
        let output = joulemark(&args);
        assert_eq!(output.status.code(), Some(0), "{}{}", stdout(&output), stderr(&output));
        (serde_json::from_str(&stdout(&output)).unwrap(), stderr(&output))
    };
    let (undone, told) = report("");
    assert!(told.contains("automatic gain"), "{told}");
    assert_eq!(undone.suspects[0].part, "C1");
    // Camera noise of 50 mK is 2.5 grey values; rounding adds 1 %, the fitted gains a few per cent more.
    assert!((2.4..2.8).contains(&undone.noise.netd_k), "{}", undone.noise.netd_k);
    // A stated law says that the values are no plain picture's, and nothing is undone.
    let (left, _) = report("linear:1,0");
    assert!(left.noise.netd_k > 2.0 * undone.noise.netd_k, "{}", left.noise.netd_k);
}

fn counts_once() -> &'static ndarray::Array3<u16> {
    static COUNTS: std::sync::OnceLock<ndarray::Array3<u16>> = std::sync::OnceLock::new();
    COUNTS.get_or_init(|| counts(1.0))
}

#[test]
fn a_board_in_json_and_a_face_that_is_not_stated() {
    let loose = Loose::new(1.0);
    let rails = r#""rails":[{"name":"V12","nominal_volts":12.0}]"#;
    let part = r#"{"designator":"C1","kind":"capacitor","x_mm":13,"y_mm":7,"width_mm":1.6,"height_mm":0.8,"rotation_deg":0,"rails":["V12"],"max_volts":16,"emissivity":0.9}"#;
    let face = |name: &str, parts: &str| {
        format!(r#"{{"name":"{name}","outline":[[0,0],[20,0],[20,16],[0,16]],"parts":[{parts}]}}"#)
    };
    loose.write(
        "board.json",
        format!(r#"{{"name":"b","faces":[{},{}],{rails}}}"#, face("upper", part), face("lower", "")),
    );
    let output = loose.locate(&[("--board", "board.json")]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(stderr(&output).contains("face 'upper' is assumed"), "{}", stderr(&output));
    let stated = loose.locate(&[("--board", "board.json"), ("--face", "upper"), ("--lead-ohms", "0.05")]);
    assert!(!stderr(&stated).contains("face 'upper'") && !stderr(&stated).contains("lead"), "{}", stderr(&stated));
    assert!(stdout(&stated).contains("C1, capacitor on face upper"));
}
