//! The report as PDF: tagged, with embedded fonts. Drawings stay vectors.

mod blocks;
mod flow;
mod furniture;
mod paint;
mod prose;
mod table;
mod tags;
mod text;

use krilla::{
    Document, SerializeSettings,
    metadata::{DateTime, Metadata},
    page::PageSettings,
    tagging::{Artifact, ArtifactType, ContentTag, SpanTag},
};

use super::content::Report;
use crate::case::settings::Paper;
pub(crate) use flow::moved;
use flow::{Flow, Placed, Sheet};
use paint::Brush;
use tags::{FURNITURE, Role, Tags};

/// The file's bytes.
///
/// # Errors
/// When the document cannot be put together, which no case should bring about.
pub fn write(report: &Report, paper: Paper) -> anyhow::Result<Vec<u8>> {
    let brush = Brush::new()?;
    let sheet = Sheet::of(paper);
    let mut flow = Flow::new(&brush.fonts, sheet);
    furniture::letterhead(&mut flow, report);
    for section in &report.sections {
        blocks::section(&mut flow, section);
    }
    furniture::on_every_page(&mut flow, report);
    let Flow { pages, mut tags, .. } = flow;

    let mut document = Document::new_with(SerializeSettings { enable_tagging: true, ..SerializeSettings::default() });
    document.set_metadata(metadata(report));
    for page in &pages {
        paint_page(&mut document, &brush, sheet, page, &mut tags)?;
    }
    document.set_tag_tree(tags.tree());
    document.finish().map_err(|e| anyhow::anyhow!("the PDF cannot be put together: {e:?}"))
}

fn paint_page(
    document: &mut Document,
    brush: &Brush,
    sheet: Sheet,
    placed: &[Placed],
    tags: &mut Tags,
) -> anyhow::Result<()> {
    let settings = PageSettings::from_wh(sheet.width, sheet.height)
        .ok_or_else(|| anyhow::anyhow!("a page of {} x {} points", sheet.width, sheet.height))?;
    let mut page = document.start_page_with(settings);
    let mut surface = page.surface();
    // What stands together under one tag is one piece.
    for run in placed.chunk_by(|a, b| a.tag == b.tag) {
        let Some(tag) = run.first().map(|p| p.tag) else { continue };
        let kind = match tags.role(tag) {
            Role::Artifact => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Other)),
            Role::Figure(_) => ContentTag::Other,
            _ => ContentTag::Span(SpanTag::empty()),
        };
        let content = surface.start_tagged(kind);
        for Placed { shape, .. } in run {
            brush.paint(&mut surface, shape)?;
        }
        surface.end_tagged();
        tags.painted(tag, content);
    }
    debug_assert_eq!(tags.role(FURNITURE), &Role::Artifact);
    surface.finish();
    page.finish();
    Ok(())
}

fn metadata(report: &Report) -> Metadata {
    let metadata = Metadata::new()
        .title(format!("{}: {}", report.title, report.subject))
        .language("en".into())
        .creator(report.software.clone())
        .producer(report.software.clone());
    let metadata =
        if report.head.name.is_empty() { metadata } else { metadata.authors(vec![report.head.name.clone()]) };
    match report.date.as_deref().and_then(date) {
        Some(date) => metadata.creation_date(date),
        None => metadata,
    }
}

/// `2026-03-01T09:30:05Z` as the document's date.
fn date(text: &str) -> Option<DateTime> {
    let number = |range: std::ops::Range<usize>| text.get(range)?.parse::<u8>().ok();
    Some(
        DateTime::new(text.get(0..4)?.parse().ok()?)
            .month(number(5..7)?)
            .day(number(8..10)?)
            .hour(number(11..13)?)
            .minute(number(14..16)?)
            .second(number(17..19)?)
            .utc_offset_hour(0),
    )
}
