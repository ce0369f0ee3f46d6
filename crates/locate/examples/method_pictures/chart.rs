//! A chart as SVG: curves, dots, bands and bars over two axes, dark on white, nothing that moves.

use std::fmt::Write as _;

const WIDTH: f64 = 720.0;
const HEIGHT: f64 = 320.0;
/// Room for the axes: left, right, top, bottom.
const MARGINS: [f64; 4] = [64.0, 16.0, 30.0, 46.0];

/// A chart in the making.
pub struct Chart {
    x: [f64; 2],
    y: [f64; 2],
    body: String,
}

impl Chart {
    /// Axes over the given ranges, with their names and units.
    pub fn new(title: &str, (x_name, x): (&str, [f64; 2]), (y_name, y): (&str, [f64; 2])) -> Self {
        let mut chart = Self { x, y, body: String::new() };
        let [left, right, top, bottom] = [MARGINS[0], WIDTH - MARGINS[1], MARGINS[2], HEIGHT - MARGINS[3]];
        chart.text((left + right) / 2.0, 18.0, "middle", title);
        chart.text((left + right) / 2.0, HEIGHT - 8.0, "middle", x_name);
        let middle = (top + bottom) / 2.0;
        let _ = writeln!(
            chart.body,
            r#"<text x="14" y="{middle}" text-anchor="middle" transform="rotate(-90 14 {middle})">{y_name}</text>"#
        );
        // An axis without a name has bars with words of their own.
        for value in ticks(x).into_iter().filter(|_| !x_name.is_empty()) {
            let at = chart.x_at(value);
            let _ = writeln!(chart.body, r##"<path d="M{at:.1} {top}V{bottom}" stroke="#ddd"/>"##);
            chart.text(at, bottom + 16.0, "middle", &number(value));
        }
        for value in ticks(y) {
            let at = chart.y_at(value);
            let _ = writeln!(chart.body, r##"<path d="M{left} {at:.1}H{right}" stroke="#ddd"/>"##);
            chart.text(left - 6.0, at + 4.0, "end", &number(value));
        }
        chart
    }

    fn x_at(&self, value: f64) -> f64 {
        MARGINS[0] + (value - self.x[0]) / (self.x[1] - self.x[0]) * (WIDTH - MARGINS[0] - MARGINS[1])
    }

    fn y_at(&self, value: f64) -> f64 {
        HEIGHT - MARGINS[3] - (value - self.y[0]) / (self.y[1] - self.y[0]) * (HEIGHT - MARGINS[2] - MARGINS[3])
    }

    fn text(&mut self, x: f64, y: f64, anchor: &str, words: &str) {
        let _ = writeln!(self.body, r#"<text x="{x:.1}" y="{y:.1}" text-anchor="{anchor}">{words}</text>"#);
    }

    /// A line through points.
    pub fn line(&mut self, points: impl Iterator<Item = (f64, f64)>, colour: &str) {
        let path: Vec<String> = points.map(|(x, y)| format!("{:.1} {:.1}", self.x_at(x), self.y_at(y))).collect();
        let _ =
            writeln!(self.body, r#"<path d="M{}" fill="none" stroke="{colour}" stroke-width="2"/>"#, path.join("L"));
    }

    /// One dot per point.
    pub fn dots(&mut self, points: impl Iterator<Item = (f64, f64)>, colour: &str) {
        for (x, y) in points {
            let (x, y) = (self.x_at(x), self.y_at(y));
            let _ = writeln!(self.body, r#"<circle cx="{x:.1}" cy="{y:.1}" r="1.6" fill="{colour}"/>"#);
        }
    }

    /// A band over a range of x.
    pub fn band(&mut self, from: f64, to: f64, colour: &str) {
        self.block([from, to], self.y, colour);
    }

    /// A bar up from zero with its standard error, and words under it.
    pub fn bar(&mut self, middle: f64, value: f64, error: f64, words: &str, colour: &str) {
        self.block([middle - 0.3, middle + 0.3], [0.0, value], colour);
        let (x, low, high) = (self.x_at(middle), self.y_at(value - error), self.y_at(value + error));
        let _ = writeln!(self.body, r##"<path d="M{x:.1} {low:.1}V{high:.1}" stroke="#222" stroke-width="2"/>"##);
        self.text(x, HEIGHT - MARGINS[3] + 16.0, "middle", words);
    }

    fn block(&mut self, x: [f64; 2], y: [f64; 2], colour: &str) {
        let (left, right) = (self.x_at(x[0]), self.x_at(x[1]));
        let (top, bottom) = (self.y_at(y[1]), self.y_at(y[0]));
        let _ = writeln!(
            self.body,
            r#"<rect x="{left:.1}" y="{top:.1}" width="{:.1}" height="{:.1}" fill="{colour}"/>"#,
            right - left,
            bottom - top
        );
    }

    /// The finished picture.
    pub fn svg(self) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" font-family=\"sans-serif\" \
             font-size=\"12\" fill=\"#222\">\n<rect width=\"{WIDTH}\" height=\"{HEIGHT}\" fill=\"#fff\"/>\n{}</svg>\n",
            self.body
        )
    }
}

/// Round numbers over a range, five or so.
fn ticks([from, to]: [f64; 2]) -> Vec<f64> {
    let rough = (to - from) / 5.0;
    let decade = 10.0_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * decade).into_iter().find(|s| *s >= rough).unwrap_or(rough);
    let first = (from / step).ceil() as i64;
    (first..).map(|i| i as f64 * step).take_while(|v| *v <= to + 1e-9 * step).collect()
}

fn number(value: f64) -> String {
    let rounded = (value * 1e6).round() / 1e6;
    format!("{}", if rounded == 0.0 { 0.0 } else { rounded })
}
