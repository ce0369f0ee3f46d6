//! A drawing out: SVG in millimetres, and `board.json`.

use std::fmt::Write;

use joulemark_locate::board::{Board, Face, Footprint, Part};
use nalgebra::Vector2;

/// Around the outline, so that strokes are not cut.
const MARGIN_MM: f64 = 1.0;

/// `board.json`, one field a line; it reads back equal.
///
/// # Errors
/// A number that JSON cannot hold (not finite).
pub fn board_json(board: &Board) -> anyhow::Result<String> {
    let mut text = serde_json::to_string_pretty(board)?;
    text.push('\n');
    Ok(text)
}

/// One face as SVG: user units are millimetres, y down as on the face; designators are text, turned with their part.
pub fn svg(board: &Board, face: &Face) -> String {
    let footprints: Vec<Footprint> = face.parts.iter().map(Footprint::from).collect();
    let corners = footprints.iter().flat_map(|f| f.corners_mm()).map(|p| [p.x, p.y]);
    let [left, top, right, bottom] =
        super::design::bounds(face.outline.iter().copied().chain(corners)).unwrap_or([0.0, 0.0, 1.0, 1.0]);
    let (left, top) = (left - MARGIN_MM, top - MARGIN_MM);
    let (width, height) = (right + MARGIN_MM - left, bottom + MARGIN_MM - top);
    let mut text = String::new();
    // Writing to a String cannot fail.
    let _ = writeln!(
        text,
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" viewBox="{left} {top} {width} {height}">"#
    );
    let _ = writeln!(text, "<title>{}, {}</title>", escaped(&board.name), escaped(&face.name));
    let outline: Vec<String> = face.outline.iter().map(|[x, y]| format!("{x},{y}")).collect();
    let _ = writeln!(
        text,
        r##"<polygon id="outline" points="{}" fill="none" stroke="#000" stroke-width="0.2" stroke-linejoin="round"/>"##,
        outline.join(" ")
    );
    let _ = writeln!(
        text,
        r##"<g font-family="sans-serif" text-anchor="middle" fill="none" stroke="#000" stroke-width="0.1">"##
    );
    for (part, footprint) in face.parts.iter().zip(&footprints) {
        let points: Vec<String> = footprint.corners_mm().iter().map(|p| format!("{},{}", p.x, p.y)).collect();
        let about = about(part);
        let name = escaped(&part.designator);
        let (size, turn) = lettering(part);
        // Lowered by about a third of the letters' height, to stand in the middle.
        let at = footprint.centre_mm + Vector2::new(-turn.to_radians().sin(), turn.to_radians().cos()) * (0.35 * size);
        let _ = writeln!(text, r#"<g><title>{about}</title><polygon points="{}"/>"#, points.join(" "));
        let _ = writeln!(
            text,
            r##"<text x="{:.3}" y="{:.3}" font-size="{size:.3}" transform="rotate({turn} {:.3} {:.3})" fill="#000" stroke="none">{name}</text></g>"##,
            at.x, at.y, at.x, at.y
        );
    }
    text.push_str("</g>\n</svg>\n");
    text
}

fn about(part: &Part) -> String {
    let mut about = format!("{}, {}", part.designator, part.kind.words());
    if !part.rails.is_empty() {
        about += &format!(", on {}", part.rails.join(", "));
    }
    escaped(&about)
}

/// Height and turn of the letters that fit a part: along its longer side, never upside down.
fn lettering(part: &Part) -> (f64, f64) {
    let (long, short) = (part.width_mm.max(part.height_mm), part.width_mm.min(part.height_mm));
    let letters = part.designator.chars().count().max(1) as f64;
    // Sans-serif letters are about 0.6 of their height wide.
    let size = (0.9 * long / (0.6 * letters)).min(0.8 * short).min(2.0);
    let along = part.rotation_deg + if part.height_mm > part.width_mm { 90.0 } else { 0.0 };
    let turn = (along + 90.0).rem_euclid(180.0) - 90.0;
    (size, turn)
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // XML 1.0 allows no other control characters.
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
