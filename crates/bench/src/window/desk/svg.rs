//! The desk's plots as one SVG file, for a wall or a report.

use maud::html;

use super::{bars::Bar, lead};
use crate::library::summary::Summary;

const WIDTH: usize = 640;
const ROW: usize = 22;
const NAMES: usize = 220;
const ROOM: f64 = 320.0;

/// The document. The same summary gives the same bytes.
pub fn of(summary: &Summary) -> String {
    let plots = lead::plots(summary);
    let heights = plots.iter().map(|(_, bars)| 44 + ROW * bars.len().max(1));
    let tops: Vec<usize> = heights.clone().scan(12, |at, height| Some(std::mem::replace(at, *at + height))).collect();
    let height = 12 + heights.sum::<usize>();
    let viewed = format!("0 0 {WIDTH} {height}");
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" width=(WIDTH) height=(height) viewBox=(viewed) font-family="sans-serif" font-size="13" {
            rect width="100%" height="100%" fill="white" {}
            @for ((title, bars), top) in plots.iter().zip(&tops) {
                text x="12" y=(top + 16) font-weight="bold" { (title) }
                @if bars.is_empty() {
                    text x="12" y=(top + 38) { "nothing yet" }
                }
                @for (index, bar) in bars.iter().enumerate() {
                    (row(bar, bars, top + 24 + ROW * index))
                }
            }
        }
    };
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n", drawing.into_string())
}

fn row(bar: &Bar, all: &[Bar], top: usize) -> maud::Markup {
    let most = all.iter().map(|b| b.value).fold(f64::MIN_POSITIVE, f64::max);
    let length = format!("{:.1}", (ROOM * bar.value / most).max(1.0));
    let end = format!("{:.1}", NAMES as f64 + (ROOM * bar.value / most).max(1.0) + 6.0);
    html! {
        text x="12" y=(top + 15) { (bar.name) }
        // Dark enough to tell from paper when printed in grey.
        rect x=(NAMES) y=(top + 4) width=(length) height=(ROW - 8) fill="#00695c" {}
        text x=(end) y=(top + 15) { (bar.words) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_escaped_and_the_document_is_well_formed() {
        let summary = Summary {
            verdicts: [("cleared".to_owned(), 3), ("a < b & c".to_owned(), 1)].into(),
            median_minutes: None,
            ..Summary::default()
        };
        let document = of(&summary);
        let parsed = roxmltree::Document::parse(&document).unwrap();
        let texts: Vec<&str> = parsed.descendants().filter_map(|n| n.text()).collect();
        assert!(texts.contains(&"a < b & c") && texts.contains(&"3"), "{texts:?}");
        assert_eq!(of(&summary), document);
    }
}
