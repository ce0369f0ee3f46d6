//! The lesson as one web page: nothing is fetched, everything is in the file. Without scripts it is a plain list of steps;
//! with them one step at a time, marks one by one, and the recording plays within a step.

mod sheet;
mod step;

use base64::{Engine, engine::general_purpose::STANDARD};
use joulemark_frames::Progress;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest, Sha256};

use super::{Handout, pages::go_on};
use crate::{
    lesson::markdown,
    report::content::{self, words},
    report::html::prose,
};
use sheet::Sheet;

const STYLE: &str = include_str!("../../../../../assets/handout/lesson.css");
const SCRIPT: &str = include_str!("../../../../../assets/handout/lesson.js");
/// The file stays below this, so that it can be mailed: recordings get fewer frames until it does.
pub const MOST_BYTES: usize = 15_000_000;
/// Frames of a recording, to begin with.
const FRAMES: usize = 90;
/// Fewer show no rise any more: then the recordings are left out.
const LEAST_FRAMES: usize = 8;

pub fn write(handout: &mut Handout, progress: &dyn Progress) -> anyhow::Result<Vec<u8>> {
    let mut most = FRAMES;
    loop {
        let sheets = sheets(handout, most, progress)?;
        let (page, told) = page(handout, &sheets)?;
        if page.len() <= MOST_BYTES || most == 0 {
            let thinned = sheets.iter().enumerate().filter_map(|(i, sheet)| {
                let words = sheet.as_ref()?.film.thinned()?;
                Some(format!("step {}: {words}", i + 1))
            });
            let told: Vec<String> = told.into_iter().chain(thinned).filter(|w| !handout.warnings.contains(w)).collect();
            handout.warnings.extend(told);
            if most == 0 {
                handout.warnings.push("the recordings are too large for the page and do not play in it".into());
            }
            return Ok(page.into_bytes());
        }
        most = if most * 2 / 3 >= LEAST_FRAMES { most * 2 / 3 } else { 0 };
    }
}

/// The frames of each step that plays.
fn sheets(handout: &Handout, most: usize, progress: &dyn Progress) -> anyhow::Result<Vec<Option<Sheet>>> {
    let steps = handout.lesson.steps.len();
    let mut sheets = Vec::with_capacity(steps);
    for step in 0..steps {
        go_on(progress)?;
        progress.report("drawing the steps", step, steps);
        sheets.push(if most > 0 { Sheet::of(handout, step, most, progress)? } else { None });
    }
    Ok(sheets)
}

/// The page, and what it could not show.
fn page(handout: &Handout, sheets: &[Option<Sheet>]) -> anyhow::Result<(String, Vec<String>)> {
    let mut told = Vec::new();
    let mut steps: Vec<Markup> = Vec::new();
    for (i, sheet) in sheets.iter().enumerate() {
        steps.push(step::markup(handout, i, sheet.as_ref(), &mut told)?);
    }
    let lesson = &handout.lesson;
    let subject = words::subject(&handout.material.case);
    let title = if lesson.name.trim().is_empty() { "Lesson" } else { lesson.name.trim() };
    let digest = STANDARD.encode(Sha256::digest(SCRIPT.as_bytes()));
    // Nothing may be fetched, whatever a text in the lesson looks like; no script but this page's own runs.
    let policy = format!(
        "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    );
    let about = markdown::parse(&lesson.about);
    let shop = handout.shop.name.trim();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(policy);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content=(content::software());
                title { (title) ": " (subject) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    @if handout.material.case.practice.is_some() { p.simulated { (words::SIMULATED) } }
                    h1 { (title) }
                    p { (subject) @if !shop.is_empty() { ", " (shop) } }
                    @if !about.is_empty() { details { summary { "About this lesson" } (prose(&about)) } }
                }
                main { @for step in &steps { (step) } }
                (controls())
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    Ok((page.into_string() + "\n", told))
}

/// Shown only where scripts run.
fn controls() -> Markup {
    html! {
        nav aria-label="Steps" {
            span.count #count role="status" aria-live="polite" {}
            button #back type="button" title="Arrow left" { "Back" }
            button #more type="button" title="Space" { "Reveal" }
            button.first #next type="button" title="Arrow right" { "Next" }
            button #full type="button" title="Escape leaves it" { "Full screen" }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_pages_own_script_and_style_cannot_end_their_element() {
        for text in [SCRIPT, STYLE] {
            assert!(
                !text.contains("</") && !text.contains("<!--") && !text.contains("//cdn") && !text.contains("http")
            );
        }
    }
}
