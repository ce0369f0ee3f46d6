//! Earlier cases in `joulemark locate`: what was found before moves the suspects and is said, unless it is switched off.

use std::process::Command;

use joulemark::case::settings;
use joulemark_locate::{repair_check::VerdictKind, report::Report};

use super::{
    shop::{Shop, radio},
    support::{stderr, stdout},
};

/// The board of the small recording, whose C1 warms; it is in the library, proven, and found twice before.
struct Bench {
    shop: Shop,
}

impl Bench {
    fn new() -> Self {
        let bench = Self { shop: Shop::new() };
        for (folder, part) in [("a", "C2"), ("b", "C2"), ("c", "C1")] {
            let mut earlier = radio(folder, "V12", &[part], Some(VerdictKind::Cleared), "2026-03-01");
            earlier.device.model = "Buoy lamp driver".into();
            bench.shop.add(folder, &earlier);
        }
        let mut case = radio("9", "V12", &["C1"], Some(VerdictKind::Cleared), "2026-03-02");
        case.device.model = String::new();
        bench.shop.add_recorded("now", case);
        bench
    }

    fn command(&self, library: bool) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_joulemark"));
        command.env("JOULEMARK_SETTINGS", self.shop.beside("settings.ron"));
        command.env("JOULEMARK_CACHE", self.shop.beside("cache")).env_remove("JOULEMARK_LIBRARY_INDEX");
        if library {
            command.env("JOULEMARK_LIBRARY", self.shop.library());
        } else {
            command.env_remove("JOULEMARK_LIBRARY");
        }
        command.args(["locate", "--json", "--quiet"]).arg(self.shop.library().join("now"));
        command
    }

    fn report(&self, command: &mut Command) -> Report {
        let output = command.output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        serde_json::from_str(&stdout(&output)).unwrap()
    }
}

fn history(report: &Report) -> Vec<String> {
    let reasons = report.suspects.iter().flat_map(|s| s.because.iter());
    reasons.filter(|r| r.contains("earlier case")).cloned().collect()
}

#[test]
fn earlier_cases_are_counted_and_said_and_can_be_switched_off() {
    let bench = Bench::new();
    let plain = bench.report(&mut bench.command(false));
    assert_eq!(history(&plain), [""; 0]);
    let knowing = bench.report(&mut bench.command(true));
    // Three, not four: the case does not count itself.
    assert_eq!(history(&knowing)[0], "1 of 3 earlier cases on this rail: C1");
    let first = |report: &Report| report.suspects[0].clone();
    assert_eq!((first(&plain).part.as_str(), first(&knowing).part.as_str()), ("C1", "C1"));
    let sum: f64 = knowing.suspects.iter().filter(|s| s.hot_spot == 0).map(|s| s.probability).sum();
    assert!((sum + knowing.off_drawing_probability + knowing.nothing_probability - 1.0).abs() < 1e-9);
    assert_ne!(first(&plain).probability, first(&knowing).probability);
    let without = bench.report(bench.command(true).arg("--no-history"));
    assert_eq!(without, plain, "the flag leaves nothing of it");
    let mut off = settings::Settings::default();
    off.library.earlier_cases_count = false;
    off.library.folder = Some(bench.shop.library());
    settings::save(&bench.shop.beside("settings.ron"), &off).unwrap();
    assert_eq!(bench.report(&mut bench.command(true)), plain, "so do the settings");
    off.library.earlier_cases_count = true;
    settings::save(&bench.shop.beside("settings.ron"), &off).unwrap();
    assert_eq!(bench.report(&mut bench.command(false)), knowing, "the library of the settings");
}

#[test]
fn a_library_that_is_not_there_keeps_nobody_from_locating() {
    let bench = Bench::new();
    let mut command = bench.command(false);
    command.env("JOULEMARK_LIBRARY", "/no/such/share");
    let output = command.output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let told = stderr(&output);
    assert!(told.contains("earlier cases do not count: /no/such/share: there is no such folder"), "{told}");
}
