//! `joulemark plan`: words, JSON, the card, and what is refused.

use std::fs;

use crate::support::{Loose, assert_refused, joulemark, stderr, stdout};
use serde_json::Value;

fn plan(loose: &Loose, rail: &str, more: &[&str]) -> std::process::Output {
    let board = loose.path("board.ron").display().to_string();
    let mut args = vec!["plan", "--board", &board, "--rail", rail];
    args.extend(more);
    joulemark(&args)
}

#[expect(clippy::expect_used, reason = "a test says what broke")]
fn json(loose: &Loose, rail: &str, more: &[&str]) -> Value {
    let output = plan(loose, rail, &[more, &["--json"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    serde_json::from_str(&stdout(&output)).expect("--json prints JSON")
}

fn ceilings(plan: &Value, what: &str) -> Vec<f64> {
    let steps = plan["steps"].as_array().map(Vec::as_slice).unwrap_or_default();
    steps.iter().map(|s| s[what]["value"].as_f64().unwrap_or(f64::NAN)).collect()
}

#[test]
fn words_and_document_hold_the_same_ladder() {
    let loose = Loose::new(1.0);
    let flags = ["--ohms", "0.2", "--lead-ohms", "0.05"];
    let document = json(&loose, "V12", &flags);
    assert_eq!(document["schema"], "joulemark.plan/1");
    assert_eq!(document["kind"], "main_input");
    let volts = ceilings(&document, "volts");
    assert!(!volts.is_empty() && volts[0] <= 0.3, "{volts:?}");
    let words = stdout(&plan(&loose, "V12", &flags));
    for (i, v) in volts.iter().enumerate() {
        assert!(words.contains(&format!("\n{:<4}  {v:<5.2}", i + 1)), "{words}");
    }
}

#[test]
fn flags_that_know_more_tighten() {
    let loose = Loose::new(1.0);
    let wide = json(&loose, "V12", &["--ohms", "0.2"]);
    let tight = json(&loose, "V12", &["--ohms", "0.2", "--supply-amps", "0.4", "--lowest-volts", "0.2"]);
    assert!(ceilings(&wide, "amps").iter().any(|&a| a > 0.4), "the flag has something to lower");
    assert!(ceilings(&tight, "amps").iter().all(|&a| a <= 0.4));
    assert!(ceilings(&tight, "volts").iter().all(|&v| v <= 0.2));
}

#[test]
fn a_refusal_is_an_answer_without_steps() {
    let loose = Loose::new(1.0);
    let document = json(&loose, "V12", &["--nominal-volts", "75"]);
    assert_eq!(document["steps"].as_array().unwrap().len(), 0);
    assert!(!document["refusals"].as_array().unwrap().is_empty());
    assert!(stdout(&plan(&loose, "V12", &["--nominal-volts", "75"])).contains("Do not inject"));
}

#[test]
fn bad_input_is_refused_in_one_line() {
    let loose = Loose::new(1.0);
    assert_refused(&plan(&loose, "V7", &[]), "board.ron", "V12");
    assert_refused(&plan(&loose, "V12", &["--ohms=-1"]), "--ohms", "");
    assert_refused(&plan(&loose, "V12", &["--ohms", "nan"]), "--ohms", "not a number");
    assert_refused(&joulemark(&["plan"]), "", "--help");
    loose.write("shop.ron", r#"[(id: "step_1_v", value: 5)]"#);
    let shop = loose.path("shop.ron").display().to_string();
    assert_refused(&plan(&loose, "V12", &["--rules", &shop]), "shop.ron", "step_1_v");
    let nowhere = loose.path("absent/card.html").display().to_string();
    assert_refused(&plan(&loose, "V12", &["--card", &nowhere]), "card.html", "choose a place");
}

#[test]
fn a_shops_file_tightens_and_the_card_is_written() {
    let loose = Loose::new(1.0);
    loose.write("shop.ron", r#"[(id: "step_1_v", value: 0.11)]"#);
    let (shop, card) = (loose.path("shop.ron").display().to_string(), loose.path("card.html").display().to_string());
    let document = json(&loose, "V12", &["--rules", &shop, "--card", &card]);
    assert_eq!(ceilings(&document, "volts")[0], 0.11);
    let page = fs::read_to_string(card).unwrap();
    assert!(page.contains("0.11 V") && page.contains("Signature"), "{page}");
}
