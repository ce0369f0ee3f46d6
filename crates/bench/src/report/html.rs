//! The report as one web page that needs no other file: pictures are data, drawings are SVG, nothing is fetched.

use base64::{Engine, engine::general_purpose::STANDARD};
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{
    content::{Block, Report, SIMULATED, Section, Table},
    drawing::{Anchor, Drawing, Ink, Raster, Shape},
};
use crate::{
    case::settings::Paper,
    lesson::markdown::{self, Run},
};

const STYLE: &str = "
*{box-sizing:border-box}
body{font:10pt/1.4 'Open Sans','Noto Sans','DejaVu Sans',sans-serif;color:#000;background:#fff;max-width:178mm;margin:8mm auto;padding:0 4mm}
header{display:flex;justify-content:space-between;gap:8mm}
header img{max-width:45mm;max-height:20mm}
header address{font-style:normal;text-align:right;font-size:8.5pt;margin-left:auto}
header address strong{font-size:12pt}
h1{font-size:20pt;margin:5mm 0 0}h2{font-size:13pt;border-bottom:.3mm solid #000;margin:7mm 0 2mm;break-after:avoid}
h3{font-size:10.5pt;margin:4mm 0 1mm;break-after:avoid}
p{margin:1mm 0}.subject{font-size:12pt}.note,figcaption,footer{font-size:8.5pt;color:#444}
.simulated{display:inline-block;border:.4mm solid #000;padding:0 2mm;font-weight:bold;font-size:9pt}
.box{border:.5mm solid #000;padding:2mm 3mm;margin:2mm 0;break-inside:avoid}.box strong{font-size:12pt}
table{border-collapse:collapse;width:100%;margin:1mm 0 3mm;font-size:9pt}
th,td{text-align:left;vertical-align:top;padding:.8mm 3mm .8mm 0;overflow-wrap:anywhere}
thead th{border-bottom:.35mm solid #000;vertical-align:bottom}tbody tr{border-bottom:.15mm solid #aaa;break-inside:avoid}
.right{text-align:right}table.facts tr{border:0}table.facts th{font-weight:normal;color:#444;width:38mm}
figure{margin:2mm 0 4mm;break-inside:avoid}svg{max-width:100%;height:auto;display:block}
ul{margin:1mm 0;padding-left:5mm}
.sign{display:flex;gap:8mm;margin-top:16mm}.sign div{flex:1;border-top:.3mm solid #000;font-size:8.5pt}
";

/// The page.
pub fn write(report: &Report, paper: Paper) -> String {
    let size = match paper {
        Paper::A4 => "A4",
        Paper::Letter => "letter",
    };
    let page = format!("@page{{size:{size};margin:18mm 15mm}}@media print{{body{{margin:0 auto;padding:0}}}}");
    let head = &report.head;
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                // Nothing may be fetched, whatever a name in the case looks like.
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="generator" content=(report.software);
                title { (report.title) ": " (report.subject) }
                style { (PreEscaped(STYLE)) (PreEscaped(page)) }
            }
            body {
                header {
                    @if let Some(logo) = &head.logo { img src=(data(logo)) alt={ "Logo of " (head.name) }; }
                    address {
                        @if !head.name.is_empty() { strong { (head.name) } }
                        @for line in &head.address { br; (line) }
                    }
                }
                main {
                    @if report.simulated { p.simulated { (SIMULATED) } }
                    h1 { (report.title) }
                    p.subject { (report.subject) }
                    @if let Some(dated) = report.dated() { p.note { (dated) } }
                    @for section in &report.sections { (self::section(section)) }
                }
                footer { p { (report.software) } }
            }
        }
    };
    page.into_string() + "\n"
}

fn section(section: &Section) -> Markup {
    html! {
        section {
            h2 { (section.heading) }
            @for block in &section.blocks { (self::block(block)) }
        }
    }
}

fn block(block: &Block) -> Markup {
    match block {
        Block::Sub(text) => html! { h3 { (text) } },
        Block::Text(text) => html! { @for line in text.lines() { p { (line) } } },
        Block::Note(text) => html! { p.note { (text) } },
        Block::List(items) => html! { ul { @for item in items { li { (item) } } } },
        Block::Facts(facts) => html! {
            table.facts { tbody { @for (name, value) in facts {
                tr { th scope="row" { (name) } td { @for (i, line) in value.lines().enumerate() { @if i > 0 { br; } (line) } } }
            } } }
        },
        Block::Table(table) => self::table(table),
        Block::Box { title, lines } => html! {
            div.box { strong { (title) } @for line in lines { p { (line) } } }
        },
        Block::Drawing { drawing, caption } => html! { figure { (svg(drawing)) figcaption { (caption) } } },
        Block::Signature { signed } => html! {
            @if let Some(signed) = signed { p { strong { (signed) } } }
            div.sign { div { "Name" } div { "Date" } div { "Signature" } }
        },
        Block::Prose(blocks) => prose(blocks),
        Block::Legend(entries) => {
            html! { ol.legend { @for (number, text) in entries { li value=(number) { (text) } } } }
        }
        Block::Blanks(names) => html! { @for (name, _) in names { p.blank { (name) } } },
    }
}

/// The text of a lesson. Headings come below those of a step.
pub(crate) fn prose(blocks: &[markdown::Block]) -> Markup {
    html! {
        @for block in blocks {
            @match block {
                markdown::Block::Heading(1 | 2, runs) => h3 { (words(runs)) },
                markdown::Block::Heading(_, runs) => h4 { (words(runs)) },
                markdown::Block::Paragraph(runs) => p { (words(runs)) },
                markdown::Block::Code(code) => pre { code { (code) } },
                markdown::Block::List(Some(first), items) => ol start=(first) { @for item in items { li { (prose(item)) } } },
                markdown::Block::List(None, items) => ul { @for item in items { li { (prose(item)) } } },
            }
        }
    }
}

fn words(runs: &[Run]) -> Markup {
    html! { @for run in runs { (one_run(run)) } }
}

fn one_run(run: &Run) -> Markup {
    let lines = html! { @for (i, line) in run.text.split('\n').enumerate() { @if i > 0 { br; } (line) } };
    let lines = if run.code {
        html! { code { (lines) } }
    } else {
        lines
    };
    let lines = if run.emphasis {
        html! { em { (lines) } }
    } else {
        lines
    };
    if run.strong {
        html! { strong { (lines) } }
    } else {
        lines
    }
}

fn table(table: &Table) -> Markup {
    let class = |right: bool| right.then_some("right");
    html! {
        table {
            thead { tr { @for c in &table.columns { th scope="col" class=[class(c.right)] { (c.head) } } } }
            tbody { @for row in &table.rows {
                tr { @for (cell, c) in row.iter().zip(&table.columns) { td class=[class(c.right)] { (cell) } } }
            } }
        }
    }
}

pub(crate) fn data(raster: &Raster) -> String {
    format!("data:image/png;base64,{}", STANDARD.encode(&raster.png))
}

fn colour([r, g, b]: Ink) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// Two decimals of a point are finer than any printer.
pub(crate) fn at(value: f32) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn svg(drawing: &Drawing) -> Markup {
    let (w, h) = (at(drawing.width), at(drawing.height));
    html! {
        svg viewBox={ "0 0 " (w) " " (h) } width={ (w) "pt" } height={ (h) "pt" } role="img" aria-label=(drawing.alt) {
            @for shape in &drawing.shapes { (self::shape(shape)) }
        }
    }
}

/// A closed ring in the words of SVG's `path`.
fn round(ring: &[[f32; 2]]) -> String {
    let corners =
        ring.iter().enumerate().map(|(i, [x, y])| format!("{}{} {}", if i == 0 { 'M' } else { 'L' }, at(*x), at(*y)));
    let corners: String = corners.collect();
    if corners.is_empty() { corners } else { corners + "Z" }
}

pub(crate) fn shape(shape: &Shape) -> Markup {
    match shape {
        Shape::Picture { rect: [x, y, w, h], raster } => html! {
            image x=(at(*x)) y=(at(*y)) width=(at(*w)) height=(at(*h)) preserveAspectRatio="none"
                style="image-rendering:pixelated" href=(data(raster)) {}
        },
        Shape::Line { points, closed, width, ink, opacity, dash } => {
            let list = points.iter().map(|[x, y]| format!("{},{}", at(*x), at(*y))).collect::<Vec<_>>().join(" ");
            let dash = dash.map(at);
            let (ink, width, opacity) = (colour(*ink), at(*width), at(*opacity));
            if *closed {
                html! { polygon points=(list) fill="none" stroke=(ink) stroke-width=(width) stroke-opacity=(opacity) stroke-linejoin="round" {} }
            } else {
                html! { polyline points=(list) fill="none" stroke=(ink) stroke-width=(width) stroke-opacity=(opacity) stroke-linejoin="round" stroke-dasharray=[dash] {} }
            }
        }
        Shape::Fill { rect: [x, y, w, h], ink, opacity } => html! {
            rect x=(at(*x)) y=(at(*y)) width=(at(*w)) height=(at(*h)) fill=(colour(*ink)) fill-opacity=(at(*opacity)) {}
        },
        Shape::Shade { rect: [x, y, w, h], hole, ink, opacity } => {
            let outer = [[*x, *y], [x + w, *y], [x + w, y + h], [*x, y + h]];
            let path: String = [&outer[..], hole].iter().map(|ring| round(ring)).collect();
            html! { path d=(path) fill=(colour(*ink)) fill-opacity=(at(*opacity)) fill-rule="evenodd" {} }
        }
        Shape::Words { text, at: [x, y], size, bold, anchor, ink } => {
            let anchor = match anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            html! {
                text x=(at(*x)) y=(at(*y)) font-size=(at(*size)) font-weight=[bold.then_some("bold")] text-anchor=(anchor)
                    fill=(colour(*ink)) { (text) }
            }
        }
    }
}
