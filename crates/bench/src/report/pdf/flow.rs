//! Text and drawings from top to bottom, page after page. Nothing is painted yet: only when all pages are known is it
//! known how many there are.

use super::{
    tags::{Role, TagId, Tags},
    text,
};
use crate::{
    case::settings::Paper,
    report::{
        drawing::{Anchor, BLACK, Drawing, Ink, Shape},
        typeface::Fonts,
    },
};

/// Points in a millimetre.
pub const MM: f32 = 72.0 / 25.4;

/// A sheet with its margins, in points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    pub width: f32,
    pub height: f32,
    pub left: f32,
    pub right: f32,
    pub top: f32,
    pub bottom: f32,
}

impl Sheet {
    /// Of a paper; the margins leave room to punch it.
    pub fn of(paper: Paper) -> Self {
        let (width, height) = match paper {
            Paper::A4 => (210.0 * MM, 297.0 * MM),
            Paper::Letter => (612.0, 792.0),
        };
        Self { width, height, left: 20.0 * MM, right: width - 17.0 * MM, top: 22.0 * MM, bottom: height - 20.0 * MM }
    }

    /// Width of the text.
    pub fn text_width(&self) -> f32 {
        self.right - self.left
    }
}

/// How text looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    pub size: f32,
    pub bold: bool,
    pub ink: Ink,
}

impl Style {
    pub const BODY: Self = Self { size: 9.2, bold: false, ink: BLACK };
    pub const STRONG: Self = Self { bold: true, ..Self::BODY };
    pub const SMALL: Self = Self { size: 7.8, bold: false, ink: crate::report::drawing::WEAK };

    /// From one baseline to the next.
    pub fn leading(self) -> f32 {
        self.size * 1.36
    }

    /// From the top of a line to its baseline.
    pub fn ascent(self) -> f32 {
        self.size * 1.06
    }
}

/// A shape in its place on a page.
#[derive(Clone, Debug)]
pub struct Placed {
    pub shape: Shape,
    pub tag: TagId,
}

/// Pages that fill up.
pub struct Flow<'a> {
    pub fonts: &'a Fonts,
    pub sheet: Sheet,
    pub pages: Vec<Vec<Placed>>,
    pub tags: Tags,
    /// Where the next thing begins.
    pub y: f32,
}

impl<'a> Flow<'a> {
    pub fn new(fonts: &'a Fonts, sheet: Sheet) -> Self {
        Self { fonts, sheet, pages: vec![Vec::new()], tags: Tags::new(), y: sheet.top }
    }

    pub fn put(&mut self, shape: Shape, tag: TagId) {
        if let Some(page) = self.pages.last_mut() {
            page.push(Placed { shape, tag });
        }
    }

    pub fn new_page(&mut self) {
        self.pages.push(Vec::new());
        self.y = self.sheet.top;
    }

    /// Begins a new page where so much does not fit on this one. What fits on no page begins here.
    pub fn room(&mut self, height: f32) {
        let fits_at_all = height <= self.sheet.bottom - self.sheet.top;
        if self.y + height > self.sheet.bottom && self.y > self.sheet.top && fits_at_all {
            self.new_page();
        }
    }

    pub fn gap(&mut self, height: f32) {
        if self.y > self.sheet.top {
            self.y += height;
        }
    }

    pub fn lines(&self, text: &str, style: Style, width: f32) -> Vec<String> {
        text::lines(self.fonts, style.bold, text, style.size, width)
    }

    pub fn words(&mut self, text: &str, at: [f32; 2], style: Style, anchor: Anchor, tag: TagId) {
        let Style { size, bold, ink } = style;
        self.put(Shape::Words { text: text.to_owned(), at, size, bold, anchor, ink }, tag);
    }

    /// One line of text at the left margin and an indent; a new page where it does not fit.
    pub fn line(&mut self, text: &str, indent: f32, style: Style, tag: TagId) {
        self.room(style.leading());
        let at = [self.sheet.left + indent, self.y + style.ascent()];
        self.words(text, at, style, Anchor::Start, tag);
        self.y += style.leading();
    }

    /// Text as wide as the page less an indent.
    pub fn text(&mut self, text: &str, indent: f32, style: Style, tag: TagId) {
        for line in self.lines(text, style, self.sheet.text_width() - indent) {
            self.line(&line, indent, style, tag);
        }
    }

    /// A paragraph.
    pub fn paragraph(&mut self, text: &str, style: Style) {
        let tag = self.tags.add(Role::Paragraph, None);
        self.text(text, 0.0, style, tag);
        self.y += 2.5;
    }

    /// A drawing, made smaller where the page is.
    pub fn drawing(&mut self, drawing: &Drawing) {
        let most_high = self.sheet.bottom - self.sheet.top - 40.0;
        let scale = (self.sheet.text_width() / drawing.width).min(most_high / drawing.height).min(1.0);
        self.room(drawing.height * scale);
        let tag = self.tags.add(Role::Figure(drawing.alt.clone()), None);
        let (x, y) = (self.sheet.left, self.y);
        for shape in &drawing.shapes {
            self.put(moved(shape, [x, y], scale), tag);
        }
        self.y += drawing.height * scale;
    }
}

/// A shape on the page.
pub fn moved(shape: &Shape, [dx, dy]: [f32; 2], scale: f32) -> Shape {
    let at = |[x, y]: [f32; 2]| [dx + x * scale, dy + y * scale];
    let over = |[x, y, w, h]: [f32; 4]| [dx + x * scale, dy + y * scale, w * scale, h * scale];
    let mut shape = shape.clone();
    match &mut shape {
        Shape::Picture { rect, .. } | Shape::Fill { rect, .. } => *rect = over(*rect),
        Shape::Line { points, width, dash, .. } => {
            points.iter_mut().for_each(|p| *p = at(*p));
            *width *= scale;
            *dash = dash.map(|d| d * scale);
        }
        Shape::Shade { rect, hole, .. } => {
            *rect = over(*rect);
            hole.iter_mut().for_each(|p| *p = at(*p));
        }
        Shape::Words { at: place, size, .. } => {
            *place = at(*place);
            *size *= scale;
        }
    }
    shape
}
