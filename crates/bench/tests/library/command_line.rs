//! `joulemark library` as a user runs it.

use std::process::{Command, Output};

use super::{
    shop::{Shop, radio},
    support::{assert_refused, stderr, stdout},
};

fn library(shop: &Shop, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_joulemark"))
        .env("JOULEMARK_SETTINGS", shop.beside("settings.ron"))
        .env("JOULEMARK_CACHE", shop.beside("cache"))
        .env("JOULEMARK_LIBRARY", shop.library())
        .env_remove("JOULEMARK_LIBRARY_INDEX")
        .arg("library")
        .args(arguments)
        .output()
        .unwrap()
}

#[test]
fn lists_searches_sums_up_and_exports() {
    let shop = Shop::stocked();
    let listed = library(&shop, &["list"]);
    assert_eq!(listed.status.code(), Some(0), "{}", stderr(&listed));
    let text = stdout(&listed);
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(lines.len(), 7, "{text}");
    assert!(lines[1].starts_with("2026-04-02  0419"), "{text}");
    assert!(lines[2].contains("0417 (again)") && lines[3].contains("cleared, not signed  C12 C13"), "{text}");
    assert_eq!(lines[6], "5 cases");
    let searched = library(&shop, &["search", "radio", "verdict:still there", "--json"]);
    let found: serde_json::Value = serde_json::from_str(&stdout(&searched)).unwrap();
    assert_eq!(found.as_array().map(Vec::len), Some(1));
    assert_eq!((&found[0]["folder"], &found[0]["comeback_of"]), (&"0417 again".into(), &"0417".into()));
    assert_eq!(library(&shop, &["search", "submarine"]).status.code(), Some(3), "nothing found is its own answer");
    let learnt = stdout(&library(&shop, &["learnt", "buoy radio 2"]));
    assert!(learnt.contains("V12  C12  2 of 2 cases") && learnt.contains("from 2 readings"), "{learnt}");
    let summary = stdout(&library(&shop, &["summary"]));
    for wanted in [
        "Waiting for sign-off: 2",
        "cleared      3",
        "Minutes a case: 12 (median of 1 case)",
        "0417 again (before: 0417)",
    ] {
        assert!(summary.contains(wanted), "{wanted} is not in {summary}");
    }
    let file = shop.beside("cases.csv");
    let exported = library(&shop, &["export", &file.to_string_lossy(), "--only", "rail:V3"]);
    assert!(stdout(&exported).starts_with("1 row written to"), "{}", stdout(&exported));
    assert!(std::fs::read_to_string(&file).unwrap().contains("Buoy radio, serial 0419"));
    assert!(stdout(&library(&shop, &["rebuild"])).starts_with("5 cases read"));
    let checked = library(&shop, &["check"]);
    assert_eq!((checked.status.code(), stdout(&checked).as_str()), (Some(0), "5 cases in the library\n"));
    // Nothing of the index lies in the library: it may be a share.
    let names: Vec<String> = std::fs::read_dir(shop.library())
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    assert!(names.iter().all(|n| !n.contains("sqlite")), "{names:?}");
}

#[test]
fn what_is_wrong_is_said_in_one_line() {
    let shop = Shop::stocked();
    assert_refused(&library(&shop, &["search", "from:soon"]), "from:", "'soon' is no date");
    assert_refused(
        &library(&shop, &["list", "--library", "/no/such/place"]),
        "/no/such/place",
        "there is no such folder",
    );
    assert_refused(
        &library(&shop, &["list", "--index", "postgresql://127.0.0.1:1/x"]),
        "the index's server",
        "start the server",
    );
    assert_refused(&library(&shop, &["list", "--index", "nonsense"]), "the index's URL", "write postgresql://");
    assert_refused(&library(&shop, &["export", "/no/such/place/out.csv"]), "/no/such/place/out.csv", "");
    assert_refused(&library(&shop, &["export", "frames.tif"]), "frames.tif", "give a name that ends in .csv");
    let mut command = Command::new(env!("CARGO_BIN_EXE_joulemark"));
    command.env("JOULEMARK_SETTINGS", shop.beside("settings.ron")).env_remove("JOULEMARK_LIBRARY");
    assert_refused(&command.args(["library", "list"]).output().unwrap(), "library", "give --library FOLDER");
    // A case that cannot be read is listed, and check ends in a fault.
    shop.add("damaged", &radio("1", "V12", &[], None, "2026-01-01"));
    std::fs::write(shop.library().join("damaged/case.ron"), "(version: 99)").unwrap();
    let listed = library(&shop, &["list"]);
    assert!(stdout(&listed).contains("cannot be read") && stdout(&listed).contains("6 cases"));
    assert!(stderr(&listed).contains("install the newer program"), "{}", stderr(&listed));
    let checked = library(&shop, &["check"]);
    assert_eq!((checked.status.code(), stderr(&checked).lines().count()), (Some(2), 1));
}
