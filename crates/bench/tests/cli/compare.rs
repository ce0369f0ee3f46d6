//! `joulemark compare`: two takes of one case, and what is refused. The recordings are simulated.

use std::{fs, path::Path};

use crate::support::{assert_refused, joulemark, stderr, stdout};
use joulemark::case::{
    CaseFolder,
    intervention::{Doing, Intervention},
    reading::{Quantity, ReadingEntry},
};
use serde_json::Value;

/// A practice case with a second take. Of the same seed it shows the same short once more, of another a short in another part.
fn with_two_takes(folder: &Path, second_seed: &str) {
    let write = |name: &str, seed: &str| {
        let at = folder.join(name);
        let written = joulemark(&["practice", "ceramic-capacitor", &at.display().to_string(), "--seed", seed]);
        assert!(written.status.success(), "{}", stderr(&written));
        at
    };
    let (first, second) = (write("case", "1"), write("again", second_seed));
    for name in ["frames.tif", "log.csv"] {
        fs::copy(second.join(name), first.join(format!("after-{name}"))).unwrap();
    }
    let mut case = CaseFolder::open(&first).unwrap();
    let mut after = CaseFolder::open(&second).unwrap().case.takes[0].clone();
    after.name = "inject 2".into();
    after.frames = "after-frames.tif".into();
    after.log = Some("after-log.csv".into());
    after.after = 1;
    case.case.takes.push(after);
    case.case.interventions.push(Intervention {
        number: 1,
        what: Doing::Replaced,
        part: "C5".into(),
        ..Intervention::default()
    });
    case.save().unwrap();
}

/// The log of the take after, drawing half a milliamp while injecting.
fn nothing_flows(folder: &Path) {
    let file = folder.join("case/after-log.csv");
    let text = fs::read_to_string(&file).unwrap();
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().unwrap().split(',').collect();
    let column = |name: &str| header.iter().position(|h| *h == name).unwrap();
    let (injecting, amps) = (column("injecting"), column("amps"));
    let mut out = header.join(",") + "\n";
    for line in lines {
        let mut fields: Vec<String> = line.split(',').map(str::to_owned).collect();
        if fields[injecting] == "1" || fields[injecting] == "true" {
            fields[amps] = "0.0005".into();
        }
        out += &(fields.join(",") + "\n");
    }
    fs::write(file, out).unwrap();
}

fn json(folder: &Path, more: &[&str]) -> Value {
    let case = folder.join("case").display().to_string();
    let mut args = vec!["compare", &case, "--before", "inject 1", "--json", "--quiet"];
    args.extend(more);
    let output = joulemark(&args);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    serde_json::from_str(&stdout(&output)).unwrap()
}

#[test]
fn the_same_short_twice_is_still_there_and_said_in_words_too() {
    let folder = tempfile::tempdir().unwrap();
    with_two_takes(folder.path(), "1");
    let document = json(folder.path(), &[]);
    assert_eq!((&document["schema"], &document["verdict"]), (&"joulemark.compare/1".into(), &"still there".into()));
    assert_eq!((&document["before"], &document["after"]), (&"inject 1".into(), &"inject 2".into()));
    let site = &document["site"];
    let (bound, low) = (site["bound_k"].as_f64().unwrap(), site["after_low_k"].as_f64().unwrap());
    assert!(bound > 0.0 && low > bound, "{site}");
    let case = folder.path().join("case").display().to_string();
    let words = stdout(&joulemark(&["compare", &case, "--before", "inject 1"]));
    assert!(words.contains("Verdict: still there") && words.contains("C5"), "{words}");
    // One hot spot, seen in both takes, with what changed.
    let spot = &document["spots"][0];
    assert_eq!(
        (&spot["hot_spot_before"], &spot["hot_spot_after"], &spot["part"]),
        (&0.into(), &0.into(), &"C5".into())
    );
    let rise = &spot["rise"];
    let number = |name: &str| rise[name].as_f64().unwrap();
    assert!((number("after_k") - number("before_k") - number("change_k")).abs() < 1e-9 && number("change_se_k") > 0.0);
    assert!(words.contains("Hot spots of either take, K") && words.contains("both"), "{words}");
}

#[test]
fn the_picture_shows_both_takes_and_their_difference() {
    let folder = tempfile::tempdir().unwrap();
    with_two_takes(folder.path(), "2");
    let file = folder.path().join("compared.png");
    json(folder.path(), &["--picture", &file.display().to_string()]);
    let picture = image::open(&file).unwrap().to_rgb8();
    assert!((1700..=1900).contains(&picture.width()) && picture.height() > 500, "{:?}", picture.dimensions());
    // The first panel is warm where the last one is orange, and dark purple or white elsewhere: three unlike panels.
    let third = picture.width() / 3;
    let mean = |panel: u32, channel: usize| {
        let pixels = (200..picture.height() - 160).flat_map(|y| (40..third - 40).map(move |x| (panel * third + x, y)));
        let (sum, n) =
            pixels.fold((0.0, 0.0), |(s, n), (x, y)| (s + f64::from(picture.get_pixel(x, y).0[channel]), n + 1.0));
        sum / n
    };
    assert!(mean(2, 1) > mean(0, 1) + 40.0 && mean(2, 1) > mean(1, 1) + 40.0, "the difference is light about zero");
    let case = folder.path().join("case").display().to_string();
    let refused = joulemark(&["compare", &case, "--before", "inject 1", "--picture", "frames.tif"]);
    assert_refused(&refused, "frames.tif", "written as PNG");
}

#[test]
fn a_good_board_is_no_proof_of_a_repair() {
    let folder = tempfile::tempdir().unwrap();
    with_two_takes(folder.path(), "2");
    // The other device has its short elsewhere; filmed at other volts it is refused, at the same it is a board to compare with.
    let good = folder.path().join("again").display().to_string();
    let document = json(folder.path(), &["--good-board", &good]);
    assert_eq!(document["verdict"], "against a good board");
    let because = document["because"].to_string();
    assert!(because.contains("proves no repair"), "{because}");
    let volts = |folder: &str| {
        let log = fs::read_to_string(Path::new(folder).join("log.csv")).unwrap();
        let mut lines = log.lines().map(|l| l.split(',').map(str::to_owned).collect::<Vec<_>>());
        let header = lines.next().unwrap();
        let column = |name: &str| header.iter().position(|h| h == name).unwrap();
        let (on, volts) = (column("injecting"), column("volts"));
        let on: Vec<f64> =
            lines.filter(|l| l[on] == "1" || l[on] == "true").map(|l| l[volts].parse().unwrap()).collect();
        on.iter().sum::<f64>() / on.len() as f64
    };
    let (here, there) = (volts(&folder.path().join("case").display().to_string()), volts(&good));
    let parts = document["against_good"].as_array();
    if here.max(there) > 1.15 * here.min(there) {
        assert!(parts.is_none() && document["notes"].to_string().contains("same volts"), "{document}");
    } else {
        assert!(parts.unwrap().iter().any(|p| p["more"] == true && p["part"] == "C5"), "{document}");
    }
    let case = folder.path().join("case").display().to_string();
    let both = joulemark(&["compare", &case, "--before", "inject 1", "--good-board", &good, "--repaired", "C5"]);
    assert_eq!(both.status.code(), Some(2), "a good board is not a repair");
}

#[test]
fn a_short_in_another_part_has_moved() {
    let folder = tempfile::tempdir().unwrap();
    with_two_takes(folder.path(), "2");
    let truth = CaseFolder::open(&folder.path().join("again")).unwrap().case.practice.unwrap().part.unwrap();
    let document = json(folder.path(), &[]);
    assert_eq!((&document["verdict"], &document["moved_to"]), (&"moved".into(), &truth.into()));
}

#[test]
fn without_current_the_meter_decides_and_the_case_knows_its_readings() {
    let folder = tempfile::tempdir().unwrap();
    with_two_takes(folder.path(), "1");
    nothing_flows(folder.path());
    // The picture still warms in this made-up pair, which no missing current explains.
    assert_eq!(json(folder.path(), &[])["verdict"], "cannot tell");
    let mut case = CaseFolder::open(&folder.path().join("case")).unwrap();
    let reading = |value, after| ReadingEntry {
        rail: case.case.rail.clone(),
        quantity: Quantity::Ohms,
        value,
        after,
        meter_lead_ohms: Some(0.1),
        ..ReadingEntry::default()
    };
    let readings = vec![reading(Some(0.3), 0), reading(Some(0.3), 1)];
    case.case.readings = readings;
    case.save().unwrap();
    let document = json(folder.path(), &[]);
    let because = document["because"].to_string();
    assert!(because.contains("0.200 ohm after against 0.200 ohm before"), "{because}");
    assert!(because.contains("the meter still reads the short"), "{because}");
}

#[test]
fn what_cannot_be_compared_is_one_line() {
    let folder = tempfile::tempdir().unwrap();
    with_two_takes(folder.path(), "1");
    let case = folder.path().join("case").display().to_string();
    let itself = joulemark(&["compare", &case, "--before", "inject 2"]);
    assert_refused(&itself, "case.ron", "cannot be compared with itself");
    let unknown = joulemark(&["compare", &case, "--before", "inject 9"]);
    assert_refused(&unknown, "case.ron", "no take is named 'inject 9'");
    let ohms = joulemark(&["compare", &case, "--before", "inject 1", "--ohms-after", "many"]);
    assert_eq!(ohms.status.code(), Some(2));
    let nowhere = joulemark(&["compare", &folder.path().join("none").display().to_string(), "--before", "x"]);
    assert_eq!(nowhere.status.code(), Some(2));
}
