//! Two takes side by side in board millimetres: before, after, and their difference, with parts, scale bar and verdict.

use std::path::Path;

use image::{Rgb, RgbImage};
use joulemark_frames::Unit;
use joulemark_locate::{
    board::{Board, Face, Footprint},
    repair_check::{AgainstGood, Difference, RepairCheck},
};
use nalgebra::Point2;
use ndarray::Array2;

use super::{
    BODY, GROUND, MARGIN, TEXT, TITLE, WEAK, bars,
    marks::{self, LABEL_HEIGHT, LABEL_MARGIN, OUTLINE, PART, PART_ON_RAIL, PLATE, RING},
    quantile, save,
    stroke::{self, At, Pen},
    text::Typeface,
};
use crate::theme::scales::{self, Scale};

/// A panel is at most so wide and high.
const PANEL: [f64; 2] = [560.0, 620.0];
const HEAD: u32 = 164;
const CAPTION: f32 = 40.0;
const FOOT: u32 = 140;
const GAP: u32 = 28;
const BAR_HEIGHT: f32 = 18.0;
/// The scale spans so many standard errors at least, so that bare noise does not fill it.
const LEAST_SPAN: f32 = 12.0;
const TOP: f64 = 0.9995;

/// What is drawn.
pub struct Compared<'a> {
    title: String,
    verdict: String,
    reason: String,
    captions: [String; 3],
    board: &'a Board,
    face: &'a Face,
    rail: &'a str,
    unit: Unit,
    maps: Option<&'a Difference>,
    /// Places that are ringed in every panel, with what they are called.
    places: Vec<(Point2<f64>, String)>,
}

/// The board that both takes show.
#[derive(Clone, Copy)]
pub struct Shown<'a> {
    /// Drawing.
    pub board: &'a Board,
    /// Face in the picture.
    pub face: &'a Face,
    /// Injected rail.
    pub rail: &'a str,
    /// Whether the takes are simulated.
    pub simulated: bool,
}

impl<'a> Compared<'a> {
    /// A repair check between two takes of these names.
    pub fn repair(shown: Shown<'a>, check: &'a RepairCheck, names: [&str; 2]) -> Self {
        let site = check.site.map(|s| s.at_mm);
        let called = |s: &joulemark_locate::repair_check::SpotRise| s.part.clone().unwrap_or_default();
        let at = |p: Point2<f64>| check.spots.iter().find(|s| (s.at_mm - p).norm() < 1e-9);
        let mut places: Vec<(Point2<f64>, String)> = Vec::new();
        places.extend(site.map(|p| (p, at(p).map(called).unwrap_or_default())));
        let moved = check.moved.as_ref().and_then(|(i, _)| check.spots.iter().find(|s| s.index_after == Some(*i)));
        places.extend(moved.map(|s| (s.at_mm, called(s))));
        Self {
            verdict: format!("Verdict: {}", check.verdict.kind.words()),
            reason: check.verdict.because.last().cloned().unwrap_or_default(),
            captions: [format!("Before: {}", names[0]), format!("After: {}", names[1]), "Before less after".to_owned()],
            maps: check.difference.as_ref(),
            places,
            ..Self::blank(shown, "Repair check", check.unit)
        }
    }

    /// A board against a good one, takes of these names.
    pub fn against_good(shown: Shown<'a>, found: &'a AgainstGood, names: [&str; 2]) -> Self {
        let place = |part: &str| shown.board.part(part).map(|(_, p)| Point2::new(p.x_mm, p.y_mm));
        let more = found.parts.iter().filter(|p| p.more).take(3);
        Self {
            verdict: "Against a good board".to_owned(),
            reason: found.told.join("; "),
            captions: [
                format!("This board: {}", names[0]),
                format!("Good board: {}", names[1]),
                "This board less the good one".to_owned(),
            ],
            maps: found.difference.as_ref(),
            places: more.filter_map(|p| Some((place(&p.part)?, p.part.clone()))).collect(),
            ..Self::blank(shown, "Two boards", found.unit)
        }
    }

    fn blank(shown: Shown<'a>, what: &str, unit: Unit) -> Self {
        let simulated = if shown.simulated { " (simulated)" } else { "" };
        Self {
            title: format!("{what}: {}, {}, face {}{simulated}", shown.board.name, shown.rail, shown.face.name),
            verdict: String::new(),
            reason: String::new(),
            captions: Default::default(),
            board: shown.board,
            face: shown.face,
            rail: shown.rail,
            unit,
            maps: None,
            places: Vec::new(),
        }
    }

    /// Renders the picture and writes it beside and renames, as PNG.
    pub fn write(&self, file: &Path) -> anyhow::Result<()> {
        save(file, &self.render()?)
    }

    /// Renders the picture.
    pub fn render(&self) -> anyhow::Result<RgbImage> {
        let typeface = Typeface::bundled()?;
        let view = View::of(self.face);
        let [wide, high] = view.size_px;
        let width = 2 * MARGIN + 3 * wide + 2 * GAP;
        let mut canvas = RgbImage::from_pixel(width, HEAD + high + FOOT, Rgb(GROUND));
        self.draw_head(&mut canvas, &typeface);
        let scales = self.scales();
        for (i, (caption, scale)) in self.captions.iter().zip(&scales).enumerate() {
            let corner = [(MARGIN + i as u32 * (wide + GAP)) as f32, HEAD as f32];
            let caption = typeface.fit(caption, BODY, wide as f32);
            typeface.draw(&mut canvas, &caption, [corner[0], corner[1] - CAPTION + 4.0], BODY, TEXT);
            let panel = Panel { view: &view, corner };
            match self.maps {
                Some(maps) => {
                    let map = [&maps.before, &maps.after, &maps.rise][i];
                    panel.paint(&mut canvas, map, maps, scale);
                    panel.draw_bar(&mut canvas, &typeface, scale, self.unit);
                }
                None => {
                    let text = typeface.fit("not compared", BODY, wide as f32);
                    typeface.draw(&mut canvas, &text, [corner[0] + 16.0, corner[1] + 16.0], BODY, WEAK);
                }
            }
            // The difference is light about zero: dark lines there.
            let light = i == 2 && self.maps.is_some();
            self.draw_board(&mut canvas, &typeface, &panel, light);
        }
        self.draw_foot(&mut canvas, &typeface, &view);
        Ok(canvas)
    }

    /// One scale for both takes; one about zero for the difference.
    fn scales(&self) -> [Coloured; 3] {
        let (mut high, mut apart) = (0.0_f32, 0.0_f32);
        if let Some(maps) = self.maps {
            let noise = quantile(&maps.se, 0.5);
            high = quantile(&maps.before, TOP).max(quantile(&maps.after, TOP)).max(LEAST_SPAN * noise);
            let size = maps.rise.mapv(f32::abs);
            apart = quantile(&size, TOP).max(LEAST_SPAN / 2.0 * noise);
        }
        let sound = |v: f32| if v > 0.0 && v.is_finite() { v } else { 1.0 };
        let rise = Coloured { scale: scales::INFERNO, low: 0.0, high: sound(high) };
        [rise, rise, Coloured { scale: scales::PURPLE_ORANGE, low: -sound(apart), high: sound(apart) }]
    }

    fn draw_head(&self, canvas: &mut RgbImage, typeface: &Typeface) {
        let room = (canvas.width() - 2 * MARGIN) as f32;
        let left = MARGIN as f32;
        typeface.draw(canvas, &typeface.fit(&self.title, BODY, room), [left, 12.0], BODY, WEAK);
        typeface.draw(canvas, &typeface.fit(&self.verdict, TITLE, room), [left, 42.0], TITLE, TEXT);
        typeface.draw(canvas, &typeface.fit(&self.reason, BODY, room), [left, 84.0], BODY, WEAK);
    }

    fn draw_board(&self, canvas: &mut RgbImage, typeface: &Typeface, panel: &Panel<'_>, light: bool) {
        let outline: Vec<At> = self.face.outline.iter().map(|c| panel.at(Point2::new(c[0], c[1]))).collect();
        stroke::polyline(canvas, &outline, true, OUTLINE);
        let joined = self.board.joined_rails(self.rail);
        let mut parts = Vec::new();
        for part in &self.face.parts {
            let on_rail = joined.iter().any(|j| part.rails.contains(&j.rail));
            let corners = Footprint::from(part).corners_mm().map(|c| panel.at(c));
            let pen = if on_rail { PART_ON_RAIL } else { PART };
            let pen = if light { Pen { colour: GROUND, opacity: 1.5 * pen.opacity, ..pen } } else { pen };
            stroke::polyline(canvas, &corners, true, pen);
            parts.push(marks::extent(&corners));
        }
        let [wide, high] = panel.view.size_px.map(|v| v as f32);
        let mut taken: Vec<[f32; 4]> = Vec::new();
        let rings: Vec<Vec<At>> = self.places.iter().map(|(at, _)| panel.ring(*at)).collect();
        taken.extend(rings.iter().map(|r| marks::extent(r)));
        for (ring, (_, name)) in rings.iter().zip(&self.places) {
            for pen in [marks::HALO, RING] {
                stroke::polyline(canvas, ring, true, pen);
            }
            if name.is_empty() {
                continue;
            }
            // Labels are placed within the panel, whose corner is not the canvas's.
            let inside = |[x0, y0, x1, y1]: [f32; 4]| {
                let [x, y] = panel.corner;
                [x0 - x, y0 - y, x1 - x, y1 - y]
            };
            let text = typeface.size(name, LABEL_HEIGHT);
            let plate = [text.0 + 2.0 * LABEL_MARGIN, text.1 + LABEL_MARGIN];
            let hidden: Vec<[f32; 4]> = taken.iter().map(|t| inside(*t)).collect();
            let parts: Vec<[f32; 4]> = parts.iter().map(|p| inside(*p)).collect();
            let [x0, y0, x1, y1] =
                marks::place_label(inside(marks::extent(ring)), plate, [wide, high], &hidden, &parts);
            let [x, y] = panel.corner;
            let place = [x0 + x, y0 + y, x1 + x, y1 + y];
            stroke::fill(canvas, place, PLATE, 0.85);
            let at = [place[0] + LABEL_MARGIN, place[1] + LABEL_MARGIN / 2.0];
            typeface.draw(canvas, name, at, LABEL_HEIGHT, TEXT);
            taken.push(place);
        }
    }

    fn draw_foot(&self, canvas: &mut RgbImage, typeface: &Typeface, view: &View) {
        let bar_mm = bars::round_at_most(0.4 * f64::from(view.size_px[0]) / view.px_per_mm);
        let y = canvas.height() as f32 - 30.0;
        let left = bars::draw_scale_bar(canvas, typeface, [MARGIN as f32, y], bar_mm, view.px_per_mm);
        let legend = "rings: where the heat started before, and where it starts after; bold parts: on the rail; difference: orange warmed more before, \
                      purple after";
        let legend = match self.maps {
            Some(_) if self.verdict.starts_with("Verdict") => legend,
            Some(_) => {
                "rings: parts that warm more here; bold parts: on the rail; difference: orange warms more here, purple there"
            }
            None => "the heat of the two takes is not compared",
        };
        let room = canvas.width() as f32 - MARGIN as f32 - left - 40.0;
        let legend = typeface.fit(legend, BODY, room);
        let (_, line) = typeface.size(&legend, BODY);
        typeface.draw(canvas, &legend, [left + 40.0, y - line / 2.0], BODY, WEAK);
    }
}

/// Colours of values.
#[derive(Clone, Copy)]
struct Coloured {
    scale: Scale,
    low: f32,
    high: f32,
}

impl Coloured {
    fn of(&self, value: f32) -> [u8; 3] {
        scales::at(self.scale, (value - self.low) / (self.high - self.low))
    }
}

/// The face's bounding box on a panel.
struct View {
    low_mm: Point2<f64>,
    px_per_mm: f64,
    size_px: [u32; 2],
}

impl View {
    fn of(face: &Face) -> Self {
        const RIM_MM: f64 = 1.0;
        let range = |axis: usize| {
            let of = face.outline.iter().map(|c| c[axis]);
            let (low, high) = of.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
            if low < high { (low - RIM_MM, high + RIM_MM) } else { (0.0, 1.0) }
        };
        let ((x0, x1), (y0, y1)) = (range(0), range(1));
        let px_per_mm = (PANEL[0] / (x1 - x0)).min(PANEL[1] / (y1 - y0));
        let size_px = [x1 - x0, y1 - y0].map(|mm| (mm * px_per_mm).ceil().max(1.0) as u32);
        Self { low_mm: Point2::new(x0, y0), px_per_mm, size_px }
    }
}

/// One of the three maps on the canvas.
struct Panel<'a> {
    view: &'a View,
    corner: [f32; 2],
}

impl Panel<'_> {
    fn at(&self, mm: Point2<f64>) -> At {
        let px = (mm - self.view.low_mm) * self.view.px_per_mm;
        [self.corner[0] + px.x as f32, self.corner[1] + px.y as f32]
    }

    fn ring(&self, mm: Point2<f64>) -> Vec<At> {
        const RADIUS: f32 = 13.0;
        const SIDES: usize = 48;
        let [x, y] = self.at(mm);
        (0..SIDES)
            .map(|i| {
                let (sin, cos) = (i as f32 / SIDES as f32 * std::f32::consts::TAU).sin_cos();
                [x + RADIUS * cos, y + RADIUS * sin]
            })
            .collect()
    }

    /// Nearest cells: nothing is made up between them.
    fn paint(&self, canvas: &mut RgbImage, map: &Array2<f32>, of: &Difference, scale: &Coloured) {
        let (rows, columns) = map.dim();
        let [wide, high] = self.view.size_px;
        for y in 0..high {
            for x in 0..wide {
                let mm = |v: u32, low: f64, origin: f64| {
                    ((f64::from(v) + 0.5) / self.view.px_per_mm + low - origin) / of.step_mm
                };
                let column = mm(x, self.view.low_mm.x, of.origin_mm[0]).round();
                let row = mm(y, self.view.low_mm.y, of.origin_mm[1]).round();
                if column < 0.0 || row < 0.0 || column >= columns as f64 || row >= rows as f64 {
                    continue;
                }
                let value = map[[row as usize, column as usize]];
                if value.is_finite() {
                    canvas.put_pixel(self.corner[0] as u32 + x, self.corner[1] as u32 + y, Rgb(scale.of(value)));
                }
            }
        }
    }

    fn draw_bar(&self, canvas: &mut RgbImage, typeface: &Typeface, scale: &Coloured, unit: Unit) {
        let [wide, high] = self.view.size_px.map(|v| v as f32);
        let top = self.corner[1] + high + 14.0;
        let unit = match unit {
            Unit::Kelvin => "K",
            Unit::Relative => "rel.",
        };
        // Room for the unit at the right end.
        let (unit_width, _) = typeface.size(unit, BODY);
        let length = (wide - unit_width - 14.0).max(1.0);
        let left = self.corner[0];
        for column in 0..=length as u32 {
            let x = left + column as f32;
            let value = scale.low + (scale.high - scale.low) * column as f32 / length;
            stroke::fill(canvas, [x, top, x, top + BAR_HEIGHT], scale.of(value), 1.0);
        }
        let (values, decimals) = bars::ticks(scale.low.into(), scale.high.into());
        let mut free_from = f32::NEG_INFINITY;
        for value in values {
            let x = left + (value as f32 - scale.low) / (scale.high - scale.low) * length;
            let text = format!("{value:.decimals$}");
            let (width, _) = typeface.size(&text, BODY);
            let from = (x - width / 2.0).max(left);
            if from < free_from || from + width > left + length {
                continue;
            }
            let pen = Pen { colour: TEXT, opacity: 1.0, width: 1.5 };
            stroke::polyline(canvas, &[[x, top + BAR_HEIGHT], [x, top + BAR_HEIGHT + 6.0]], false, pen);
            typeface.draw(canvas, &text, [from, top + BAR_HEIGHT + 8.0], BODY, TEXT);
            free_from = from + width + 10.0;
        }
        typeface.draw(canvas, unit, [left + length + 10.0, top - 3.0], BODY, TEXT);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn face() -> Face {
        Face {
            name: "top".into(),
            outline: vec![[0.0, 0.0], [40.0, 0.0], [40.0, 20.0], [0.0, 20.0]],
            ..Face::default()
        }
    }

    #[test]
    fn millimetres_are_alike_on_both_axes() {
        let face = face();
        let view = View::of(&face);
        let panel = Panel { view: &view, corner: [100.0, 50.0] };
        let [x0, y0] = panel.at(Point2::new(0.0, 0.0));
        let [x1, y1] = panel.at(Point2::new(10.0, 10.0));
        assert!((x1 - x0 - (y1 - y0)).abs() < 1e-3 && x0 > 100.0 && y0 > 50.0);
        assert!(view.size_px[0] <= 560 && view.size_px[1] <= 620);
    }

    #[test]
    fn cells_are_painted_where_they_lie_and_holes_stay_dark() {
        let face = face();
        let view = View::of(&face);
        let panel = Panel { view: &view, corner: [0.0, 0.0] };
        let mut map = Array2::from_elem((21, 41), f32::NAN);
        map[[5, 30]] = 1.0;
        let of = Difference {
            origin_mm: [0.0, 0.0],
            step_mm: 1.0,
            before: map.clone(),
            after: map.clone(),
            se: map.clone(),
            rise: map.clone(),
        };
        let mut canvas = RgbImage::from_pixel(view.size_px[0], view.size_px[1], Rgb(GROUND));
        let scale = Coloured { scale: scales::INFERNO, low: 0.0, high: 1.0 };
        panel.paint(&mut canvas, &map, &of, &scale);
        let [x, y] = panel.at(Point2::new(30.0, 5.0));
        assert_eq!(canvas.get_pixel(x as u32, y as u32).0, scale.of(1.0));
        let [x, y] = panel.at(Point2::new(32.0, 5.0));
        assert_eq!(canvas.get_pixel(x as u32, y as u32).0, GROUND);
    }
}
