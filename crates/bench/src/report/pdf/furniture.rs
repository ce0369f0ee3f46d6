//! The letterhead of the first page, and what stands at the head and foot of every page.

use super::{
    flow::{Flow, MM, Style},
    tags::{FURNITURE, Role},
};
use crate::report::{
    Report,
    content::SIMULATED,
    drawing::{Anchor, BLACK, Shape, WEAK},
};

const TITLE: Style = Style { size: 20.0, bold: true, ink: BLACK };
const SHOP: Style = Style { size: 11.0, bold: true, ink: BLACK };
/// A logo is at most this large.
const LOGO_WIDTH: f32 = 45.0 * MM;
const LOGO_HEIGHT: f32 = 20.0 * MM;

/// Logo, shop, title and subject.
pub fn letterhead(flow: &mut Flow<'_>, report: &Report) {
    let head = &report.head;
    let top = 14.0 * MM;
    let mut bottom = top;
    if let Some(logo) = &head.logo {
        let (w, h) = (logo.width_px.max(1) as f32, logo.height_px.max(1) as f32);
        let scale = (LOGO_WIDTH / w).min(LOGO_HEIGHT / h);
        let rect = [flow.sheet.left, top, w * scale, h * scale];
        let tag = flow.tags.add(Role::Figure(format!("Logo of {}", head.name)), None);
        flow.put(Shape::Picture { rect, raster: logo.clone() }, tag);
        bottom = top + h * scale;
    }
    let room = flow.sheet.text_width() - if head.logo.is_some() { LOGO_WIDTH + 20.0 } else { 0.0 };
    let mut y = top;
    let tag = flow.tags.add(Role::Paragraph, None);
    let address: Vec<(&str, Style)> = std::iter::once((head.name.as_str(), SHOP))
        .chain(head.address.iter().map(|line| (line.as_str(), Style::SMALL)))
        .filter(|(text, _)| !text.trim().is_empty())
        .collect();
    for (text, style) in address {
        for line in flow.lines(text, style, room) {
            flow.words(&line, [flow.sheet.right, y + style.ascent()], style, Anchor::End, tag);
            y += style.leading();
        }
    }
    bottom = bottom.max(y);
    flow.y = if bottom > top { bottom + 14.0 } else { flow.sheet.top };
    let tag = flow.tags.add(Role::Heading(1), None);
    flow.text(&report.title, 0.0, TITLE, tag);
    let subject = Style { size: 12.0, bold: false, ink: BLACK };
    let tag = flow.tags.add(Role::Paragraph, None);
    flow.text(&report.subject, 0.0, subject, tag);
    if let Some(line) = report.dated() {
        let tag = flow.tags.add(Role::Paragraph, None);
        flow.text(&line, 0.0, Style { ink: WEAK, ..Style::BODY }, tag);
    }
    flow.y += 2.0;
}

/// Head and foot, when all pages are there.
pub fn on_every_page(flow: &mut Flow<'_>, report: &Report) {
    let pages = flow.pages.len();
    let sheet = flow.sheet;
    let (head_y, foot_y) = (13.0 * MM, sheet.height - 11.0 * MM);
    for (i, page) in std::mem::take(&mut flow.pages).into_iter().enumerate() {
        flow.pages.push(page);
        if i > 0 {
            let room = sheet.text_width() - if report.simulated { 120.0 } else { 0.0 };
            let subject = flow.lines(&format!("{}: {}", report.title, report.subject), Style::SMALL, room);
            let first = subject.first().cloned().unwrap_or_default();
            flow.words(&first, [sheet.left, head_y], Style::SMALL, Anchor::Start, FURNITURE);
            rule(flow, head_y + 5.0);
        }
        if report.simulated {
            let style = Style { bold: true, ink: BLACK, ..Style::SMALL };
            let wide = flow.fonts.face(true).width(SIMULATED, style.size);
            // On the first page the letterhead has the right side.
            let right = if i == 0 { sheet.left + wide + 8.0 } else { sheet.right };
            let y = if i == 0 { 9.5 * MM } else { head_y };
            flow.words(SIMULATED, [right - 4.0, y], style, Anchor::End, FURNITURE);
            let (l, t) = (right - wide - 8.0, y - 8.6);
            let points = vec![[l, t], [right, t], [right, t + 12.0], [l, t + 12.0]];
            flow.put(Shape::Line { points, closed: true, width: 0.9, ink: BLACK, opacity: 1.0, dash: None }, FURNITURE);
        }
        rule(flow, foot_y - 11.0);
        let of = format!("page {} of {pages}", i + 1);
        flow.words(&of, [sheet.right, foot_y], Style::SMALL, Anchor::End, FURNITURE);
        let left = [Some(report.software.clone()), report.dated()].into_iter().flatten().collect::<Vec<_>>().join(", ");
        flow.words(&left, [sheet.left, foot_y], Style::SMALL, Anchor::Start, FURNITURE);
    }
}

fn rule(flow: &mut Flow<'_>, y: f32) {
    let points = vec![[flow.sheet.left, y], [flow.sheet.right, y]];
    flow.put(Shape::Line { points, closed: false, width: 0.4, ink: WEAK, opacity: 1.0, dash: None }, FURNITURE);
}
