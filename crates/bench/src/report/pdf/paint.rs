//! From placed shapes to the page's own operators.

use krilla::{
    color::rgb,
    geom::{PathBuilder, Point, Rect, Size, Transform},
    image::Image,
    num::NormalizedF32,
    paint::{Fill, FillRule, LineCap, LineJoin, Stroke, StrokeDash},
    surface::Surface,
    text::{Font, GlyphId, KrillaGlyph},
};

use crate::report::{
    drawing::{Anchor, Ink, Shape},
    typeface::{self, Fonts},
};

/// The fonts, for measuring and for embedding.
pub struct Brush {
    /// Widths.
    pub fonts: Fonts,
    regular: Font,
    bold: Font,
}

impl Brush {
    /// With the bundled fonts.
    pub fn new() -> anyhow::Result<Self> {
        let font = |bytes: &'static [u8]| {
            Font::new(bytes.into(), 0).ok_or_else(|| anyhow::anyhow!("the bundled font cannot be read"))
        };
        Ok(Self { fonts: Fonts::bundled()?, regular: font(typeface::REGULAR)?, bold: font(typeface::BOLD)? })
    }

    /// Paints one shape.
    pub fn paint(&self, surface: &mut Surface<'_>, shape: &Shape) -> anyhow::Result<()> {
        match shape {
            Shape::Picture { rect: [x, y, w, h], raster } => {
                let image = Image::from_png(raster.png.clone().into(), false)
                    .map_err(|e| anyhow::anyhow!("a picture of the report cannot be embedded: {e}"))?;
                if let Some(size) = Size::from_wh(*w, *h) {
                    surface.push_transform(&Transform::from_translate(*x, *y));
                    surface.draw_image(image, size);
                    surface.pop();
                }
            }
            Shape::Line { points, closed, width, ink, opacity, dash } => {
                let mut path = PathBuilder::new();
                for (i, [x, y]) in points.iter().enumerate() {
                    if i == 0 { path.move_to(*x, *y) } else { path.line_to(*x, *y) }
                }
                if *closed {
                    path.close();
                }
                if let Some(path) = path.finish() {
                    surface.set_fill(None);
                    surface.set_stroke(Some(Stroke {
                        paint: colour(*ink).into(),
                        width: *width,
                        opacity: share(*opacity),
                        line_cap: if dash.is_some() { LineCap::Butt } else { LineCap::Round },
                        line_join: LineJoin::Round,
                        dash: dash.map(|d| StrokeDash { array: vec![d, d], offset: 0.0 }),
                        ..Stroke::default()
                    }));
                    surface.draw_path(&path);
                }
            }
            Shape::Fill { rect: [x, y, w, h], ink, opacity } => {
                let mut path = PathBuilder::new();
                if let Some(rect) = Rect::from_xywh(*x, *y, *w, *h) {
                    path.push_rect(rect);
                }
                if let Some(path) = path.finish() {
                    self.fill(surface, *ink, *opacity);
                    surface.draw_path(&path);
                }
            }
            Shape::Shade { rect: [x, y, w, h], hole, ink, opacity } => {
                let mut path = PathBuilder::new();
                if let Some(rect) = Rect::from_xywh(*x, *y, *w, *h) {
                    path.push_rect(rect);
                }
                for (i, [x, y]) in hole.iter().enumerate() {
                    if i == 0 { path.move_to(*x, *y) } else { path.line_to(*x, *y) }
                }
                if !hole.is_empty() {
                    path.close();
                }
                if let Some(path) = path.finish() {
                    surface.set_stroke(None);
                    surface.set_fill(Some(Fill {
                        paint: colour(*ink).into(),
                        opacity: share(*opacity),
                        rule: FillRule::EvenOdd,
                    }));
                    surface.draw_path(&path);
                }
            }
            Shape::Words { text, at, size, bold, anchor, ink } => {
                self.words(surface, text, *at, *size, *bold, *anchor, *ink);
            }
        }
        Ok(())
    }

    fn fill(&self, surface: &mut Surface<'_>, ink: Ink, opacity: f32) {
        surface.set_stroke(None);
        surface.set_fill(Some(Fill { paint: colour(ink).into(), opacity: share(opacity), ..Fill::default() }));
    }

    #[expect(clippy::too_many_arguments, reason = "the fields of one shape")]
    fn words(
        &self,
        surface: &mut Surface<'_>,
        text: &str,
        [x, y]: [f32; 2],
        size: f32,
        bold: bool,
        anchor: Anchor,
        ink: Ink,
    ) {
        let placed = self.fonts.face(bold).place(text);
        let wide: f32 = placed.iter().map(|p| p.advance).sum::<f32>() * size;
        let left = match anchor {
            Anchor::Start => x,
            Anchor::Middle => x - wide / 2.0,
            Anchor::End => x - wide,
        };
        let glyphs: Vec<KrillaGlyph> = placed
            .into_iter()
            .map(|p| KrillaGlyph::new(GlyphId::new(p.glyph.into()), p.advance, 0.0, 0.0, 0.0, p.bytes, None))
            .collect();
        if glyphs.is_empty() {
            return;
        }
        self.fill(surface, ink, 1.0);
        let font = if bold { &self.bold } else { &self.regular };
        surface.draw_glyphs(Point::from_xy(left, y), &glyphs, font.clone(), text, size, false);
    }
}

fn colour([r, g, b]: Ink) -> rgb::Color {
    rgb::Color::new(r, g, b)
}

fn share(opacity: f32) -> NormalizedF32 {
    NormalizedF32::new(opacity.clamp(0.0, 1.0)).unwrap_or(NormalizedF32::ONE)
}
